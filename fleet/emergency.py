"""The number to call in an emergency, by country.

Sources: in the European Union 112, Directive (EU) 2018/1972, article 109(1), "the single European emergency number
'112'"; its text has EEA relevance, so Iceland, Liechtenstein and Norway are with them. The others are from memory.
Where no country is known, 112 stands as well: mobile telephones treat it as an emergency call everywhere
(3GPP TS 22.101, section 10.1.1; from memory).
"""

EUROPEAN = "112"
_EUROPE = (
    "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK"  # the Union
    " IS LI NO"
    " CH"  # from memory
).split()
_OTHERS = {"AU": "000", "CA": "911", "GB": "999", "NZ": "111", "US": "911"}
_NUMBERS = dict.fromkeys(_EUROPE, EUROPEAN) | _OTHERS


def emergency_number(country: str) -> str:
    """The number of the country with this two-letter code (ISO 3166-1); empty where none is known for it."""
    return _NUMBERS.get(country.upper(), "") if country else EUROPEAN
