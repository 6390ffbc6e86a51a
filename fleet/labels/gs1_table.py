"""Every GS1 application identifier: format, checks, what it needs beside it and what it must not stand beside.

Facts from the GS1 Barcode Syntax Dictionary (https://ref.gs1.org/tools/gs1-barcode-syntax-resource/, release 2026-01)
and the GS1 General Specifications, sections 3 and 4.14; put into our own notation:

* format: components separated by spaces. ``n6`` is six digits, ``n..8`` one to eight, ``x`` the 82-character set,
  ``y`` the 39-character set, ``z`` the file-safe base64 set; a trailing ``?`` marks an optional last component,
  and a name after a colon is a check of :mod:`fleet.labels.gs1_values`;
* needs: alternatives separated by spaces, joined with ``+`` where all must be there;
* excludes: identifiers that must not be on the same item, ``*`` standing for any last digits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

TRADE_ITEM: Final = "01 02 03 8006 8026"
MEASURE: Final = "30 31* 32* 35* 36*"


@dataclass(frozen=True, slots=True)
class Component:
    """One part of a value: ``kind`` n, x, y or z; lengths in characters."""

    kind: str
    shortest: int
    longest: int
    checks: tuple[str, ...]
    optional: bool


@dataclass(frozen=True, slots=True)
class ApplicationIdentifier:
    """One row of the table; lengths in characters, without the identifier itself."""

    code: str
    title: str
    components: tuple[Component, ...]
    needs: tuple[tuple[str, ...], ...]
    excludes: tuple[str, ...]
    predefined_length: bool
    """No separator is needed behind it (General Specifications, figure 7.8.5-2)."""
    shortest: int
    longest: int


# code | title | format | needs | excludes
_ROWS = f"""
00|Shipping container|n18:csum:prefix2||
01|GTIN|n14:csum:prefix2||255 37
02|GTIN of the contents|n14:csum:prefix2|37|01 03
03|GTIN made to order|n14:csum:prefix2||01 02 37 235
10|Batch or lot|x..20|{TRADE_ITEM}|
11|Production date|n6:date0|{TRADE_ITEM}|
12|Due date|n6:date0|8020|
13|Packaging date|n6:date0|{TRADE_ITEM}|
15|Best before date|n6:date0|{TRADE_ITEM}|
16|Sell by date|n6:date0|{TRADE_ITEM}|
17|Expiry date|n6:date0|{TRADE_ITEM} 255|
20|Product variant|n2|{TRADE_ITEM}|
21|Serial number|x..20|01 03 8006|235
22|Consumer product variant|x..20|01|
235|Third-party serial extension|x..28|01|
240|Maker's additional product identification|x..30|{TRADE_ITEM}|
241|Customer's part number|x..30|{TRADE_ITEM}|
242|Made-to-order variation|n..6|01 02 8006 8026|
243|Packaging component number|x..20|01 03|
250|Secondary serial number|x..30|01+21 03+21 8006+21|
251|Reference to source entity|x..30|01 03 8006|
253|Document type|n13:csum:prefix1 x..17?||
254|Extension of a location|x..20|414|
255|Coupon|n13:csum:prefix1 n..12?||01 02 415 8006 8020 8026
30|Variable count|n..8|01 02|
37|Count of contents|n..8|00+02 00+8026|
400|Customer's order number|x..30||
401|Consignment|x..30:prefix1||
402|Shipment|n17:csum:prefix1||
403|Routing code|x..30|00|
410|Ship-to location|n13:csum:prefix1||
411|Bill-to location|n13:csum:prefix1||
412|Purchased-from location|n13:csum:prefix1||
413|Ship-for location|n13:csum:prefix1||
414|Physical location|n13:csum:prefix1||
415|Invoicing party|n13:csum:prefix1|8020|
416|Production location|n13:csum:prefix1||
417|Party|n13:csum:prefix1||
420|Ship-to postal code|x..20||421
421|Ship-to postal code with country|n3:country x..9||4307
422|Country of origin|n3:country|{TRADE_ITEM}|426
423|Countries of first processing|n..15:countries|01 02 03|426
424|Country of processing|n3:country|01 02 03|426
425|Countries of disassembly|n..15:countries|01 02 03|426
426|Country of the full process|n3:country|01 02 03|
427|Subdivision of origin|x..3|01+422 02+422 03+422|
4300|Ship-to company|x..35:percent|00|
4301|Ship-to name|x..35:percent|00|
4302|Ship-to address, line 1|x..70:percent|00|
4303|Ship-to address, line 2|x..70:percent|4302|
4304|Ship-to suburb|x..70:percent|00|
4305|Ship-to locality|x..70:percent|00|
4306|Ship-to region|x..70:percent|00|
4307|Ship-to country|x2:country2|00|
4308|Ship-to telephone|x..30|00|
4309|Ship-to coordinates|n10:latitude n10:longitude|00|
4310|Return-to company|x..35:percent|00|
4311|Return-to name|x..35:percent|00|
4312|Return-to address, line 1|x..70:percent|00|
4313|Return-to address, line 2|x..70:percent|4312|
4314|Return-to suburb|x..70:percent|00|
4315|Return-to locality|x..70:percent|00|
4316|Return-to region|x..70:percent|00|
4317|Return-to country|x2:country2|00|
4318|Return-to postal code|x..20|00|
4319|Return-to telephone|x..30|00|
4320|Service description|x..35:percent|00|
4321|Dangerous goods|n1:yesno|00|
4322|May be left unattended|n1:yesno|00|
4323|Signature required|n1:yesno|00|
4324|Not before|n6:date0 n4:time|00|
4325|Not after|n6:date0 n4:time|00|
4326|Release date|n6:date|00|
4330|Highest temperature, F|n6 x1:hyphen?|00|4331
4331|Highest temperature, C|n6 x1:hyphen?|00|4330
4332|Lowest temperature, F|n6 x1:hyphen?|00|4333
4333|Lowest temperature, C|n6 x1:hyphen?|00|4332
7001|NATO stock number|n13|01 02 8006 8026|
7002|Meat cut|x..30|01 02|
7003|Expiry date and time|n6:date n4:clock|01 02 03|
7004|Active potency|n..4|01+10 03+10|
7005|Catch area|x..12|01 02|
7006|First freeze date|n6:date|01 02|
7007|Harvest dates|n6:date n6:date?|01 02|
7008|Aquatic species|x..3|01 02|
7009|Fishing gear|x..10|01 02|
7010|Production method|x..2|01 02 03|
7011|Test-by date|n6:date n4:clock?|01 02 03|
7020|Refurbishment lot|x..20|01+416 03+416 8006+416|
7021|Functional status|x..20|01 03 8006|
7022|Revision status|x..20|01+7021 03+7021 8006+7021|
7023|Asset of which it is a part|x..30:prefix1||
7040|Unique identification with extensions|n1 x1 x1 x1:importer||
7041|Freight unit type|x..4|00|
710|National number, Germany|x..20|01|
711|National number, France|x..20|01|
712|National number, Spain|x..20|01|
713|National number, Brazil|x..20|01|
714|National number, Portugal|x..20|01|
715|National number, United States|x..20|01|
716|National number, Italy|x..20|01|
717|National number, Costa Rica|x..20|01|
7240|Protocol|x..20|01 8006|03
7241|Carrier media type|n2:media|8017 8018|
7242|Version control number|x..25|8017 8018|
7250|Date of birth|n8:date8|8018|7251
7251|Date and time of birth|n8:date8 n4:clock|8018|7250
7252|Biological sex|n1:sex|8018|
7253|Family name|x..40:percent|8017 8018|7256 7259
7254|Given name|x..40:percent|8017 8018|7256 7259
7255|Name suffix|x..10|8017 8018|7256 7259
7256|Full name|x..90:percent|8017 8018|
7257|Address of a person|x..70:percent|8018|
7258|Birth sequence|x3:sequence|8018+7259|
7259|Baby of|x..40:percent|8018|7256
8001|Roll dimensions|n4:nonzero n5:nonzero n3:nonzero n1:winding n1|01|
8002|Mobile telephone|x..20||
8003|Returnable asset|n1:zero n13:csum:prefix1 x..16?||
8004|Individual asset|x..30:prefix1||
8005|Price per unit|n6|01 02|
8006|Piece of a trade item|n14:csum:prefix2 n4:piece||01 03 37
8007|Bank account|x..34:iban|415|
8008|Production date and time|n6:date n2:hour n2:minute? n2:minute?|01 02 03|
8009|Sensor indicator|x..50|00 01 03|
8010|Component or part|y..30:prefix1||
8011|Serial number of the component|n..12:nozeroprefix|8010|
8012|Software version|x..20|01 03 8006|
8013|Product model|x..25:csumalpha:prefix1||
8014|Individualised device registration|x..25:csumalpha:prefix1:hasnondigit|01|
8017|Service provider|n18:csum:prefix1||8018
8018|Service recipient|n18:csum:prefix1||8017
8019|Service instance|n..10|8017 8018|
8020|Payment reference|x..25|415|
8026|Piece of the contents|n14:csum:prefix2 n4:piece|37|02 03 8006
8030|Digital signature|z..90|00 01+21 03+21 253 255 8003 8004 8006+21 8010+8011 8017 8018|
8040|IMEI|n15|01+21|
8041|Second IMEI|n15|01+21+8040|
8042|Embedded SIM|n32|01+21+8040|
8043|Physical SIM|n18 n..2?|01+21+8040|
8110|Coupon, North America|x..70||
8111|Loyalty points of a coupon|n4|255|
8112|Coupon file, North America|x..70||
8200|Product address|x..70|01|
90|Agreed between partners|x..30||
"""

# first three digits | title | needs: the fourth digit, 0 to 5, is the number of decimal places.
_MEASURES = """
310|Net weight, kg|01 02
311|Length, m|01 02
312|Width, m|01 02
313|Height, m|01 02
314|Area, m2|01 02
315|Net volume, l|01 02
316|Net volume, m3|01 02
320|Net weight, lb|01 02
321|Length, in|01 02
322|Length, ft|01 02
323|Length, yd|01 02
324|Width, in|01 02
325|Width, ft|01 02
326|Width, yd|01 02
327|Height, in|01 02
328|Height, ft|01 02
329|Height, yd|01 02
330|Gross weight, kg|00 01
331|Length of the load, m|00 01
332|Width of the load, m|00 01
333|Height of the load, m|00 01
334|Area of the load, m2|00 01
335|Volume of the load, l|00 01
336|Volume of the load, m3|00 01
337|Weight per area, kg/m2|01
340|Gross weight, lb|00 01
341|Length of the load, in|00 01
342|Length of the load, ft|00 01
343|Length of the load, yd|00 01
344|Width of the load, in|00 01
345|Width of the load, ft|00 01
346|Width of the load, yd|00 01
347|Height of the load, in|00 01
348|Height of the load, ft|00 01
349|Height of the load, yd|00 01
350|Area, in2|01 02
351|Area, ft2|01 02
352|Area, yd2|01 02
353|Area of the load, in2|00 01
354|Area of the load, ft2|00 01
355|Area of the load, yd2|00 01
356|Net weight, troy oz|01 02
357|Net weight or volume, oz|01 02
360|Net volume, quarts|01 02
361|Net volume, US gallons|01 02
362|Volume of the load, quarts|00 01
363|Volume of the load, US gallons|00 01
364|Net volume, in3|01 02
365|Net volume, ft3|01 02
366|Net volume, yd3|01 02
367|Volume of the load, in3|00 01
368|Volume of the load, ft3|00 01
369|Volume of the load, yd3|00 01
"""

_WITH_MEASURE = MEASURE.split()
# first digits | last digits | title | format | needs | excludes
_SERIES = (
    ("390", "0123456789", "Amount", "n..15", "255 8020", "390* 391* 394* 8111"),
    ("391", "0123456789", "Amount with currency", "n3:currency n..15", "8020", "391*"),
    ("392", "0123456789", "Price", "n..15", " ".join(f"01+{other}" for other in _WITH_MEASURE), "392* 393*"),
    ("393", "0123456789", "Price with currency", "n3:currency n..15", MEASURE, "393*"),
    ("394", "0123", "Percentage off", "n4", "255", "394* 8111"),
    ("395", "012345", "Price per unit of measure", "n6", MEASURE, "392* 393* 395* 8005"),
    ("703", "0123456789", "Processor", "n3:country999 x..27", "01 02", ""),
    ("723", "0123456789", "Certificate", "x2 x..28", "01 8004", ""),
    ("9", "123456789", "Company's own use", "x..90", "", ""),
)

_PREDEFINED_STARTS = (
    "00",
    "01",
    "02",
    "03",
    "11",
    "12",
    "13",
    "15",
    "16",
    "17",
    "20",
    "31",
    "32",
    "33",
    "34",
    "35",
    "36",
    "41",
)


def _component(text: str) -> Component:
    size, *checks = text.removesuffix("?").split(":")
    span = size[1:]
    longest = int(span.removeprefix(".."))
    shortest = 1 if span.startswith("..") else longest
    return Component(size[0], shortest, longest, tuple(checks), text.endswith("?"))


def _identifier(code: str, title: str, form: str, needs: str, excludes: str) -> ApplicationIdentifier:
    components = tuple(map(_component, form.split()))
    return ApplicationIdentifier(
        code=code,
        title=title,
        components=components,
        needs=tuple(tuple(alternative.split("+")) for alternative in needs.split()),
        excludes=tuple(excludes.split()),
        predefined_length=code.startswith(_PREDEFINED_STARTS),
        shortest=sum(part.shortest for part in components if not part.optional),
        longest=sum(part.longest for part in components),
    )


def _all_rows() -> list[ApplicationIdentifier]:
    rows = [_identifier(*line.split("|")) for line in _ROWS.split("\n") if line]
    for line in filter(None, _MEASURES.split("\n")):
        start, title, needs = line.split("|")
        rows += [_identifier(f"{start}{digit}", title, "n6", needs, f"{start}*") for digit in "012345"]
    for start, digits, title, form, needs, excludes in _SERIES:
        rows += [_identifier(start + digit, title, form, needs, excludes) for digit in digits]
    return rows


APPLICATION_IDENTIFIERS: Final = {row.code: row for row in _all_rows()}
