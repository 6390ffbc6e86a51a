"""Invented makers and models, for the demo and for invented fleets; never in a real company."""

from fleet.models import Company, DeviceModel, Kind, Maker

# The GTINs use GS1's prefix for examples (952, GS1 General Specifications, section 1.4.4: "Used for demonstrations and
# examples of the GS1 system").
_MODELS: tuple[tuple[str, str, Kind, str, dict[str, str], str, int, str], ...] = (
    ("Brisalume", "Ribeira 5", Kind.INVERTER, "09520001000010", {"ac": "5 kW", "phases": "1"}, "2.4.1", 120, "right"),
    ("Brisalume", "Ribeira 10", Kind.INVERTER, "09520001000027", {"ac": "10 kW", "phases": "3"}, "2.4.1", 120, "right"),
    ("Brisalume", "Ponte", Kind.COMMUNICATION, "09520001000034", {}, "1.9.0", 60, "back"),
    ("Acumula", "Cofre 7", Kind.BATTERY, "09520002000019", {"usable": "7.0 kWh"}, "5.0.3", 120, "left"),
    ("Acumula", "Cofre 14", Kind.BATTERY, "09520002000026", {"usable": "14.0 kWh"}, "5.0.3", 120, "left"),
    ("Acumula", "Comporta", Kind.BACKUP_SWITCH, "09520002000033", {"current": "63 A"}, "", 60, "left"),
    ("Medalto", "Fiel 3", Kind.METER, "09520003000018", {"phases": "3"}, "1.2", 36, "front"),
    ("Medalto", "Folha", Kind.OPTIMISER, "09520003000025", {"dc": "500 W"}, "", 240, "front"),
    ("Medalto", "Tomada 11", Kind.CHARGE_POINT, "09520003000032", {"ac": "11 kW"}, "3.3.0", 36, "below"),
)
_HINTS = {
    "right": "Right side of the housing; the square code is the serial number.",
    "left": "Left side of the housing; the square code is the serial number.",
    "back": "On its back: read it before it is plugged in.",
    "front": "On its front.",
    "below": "Underside of the housing.",
}


def invent_catalogue(company: Company) -> None:
    """Give an invented company its catalogue; rows that are there already stay as they are."""
    for maker_name, model_name, kind, gtin, ratings, firmware, months, side in _MODELS:
        maker, _made = Maker.objects.get_or_create(company=company, name=maker_name)
        DeviceModel.objects.get_or_create(
            company=company,
            maker=maker,
            name=model_name,
            defaults={
                "kind": kind,
                "gtin": gtin,
                "ratings": ratings,
                "current_firmware": firmware,
                "warranty_months": months,
                "label_hint": _HINTS[side],
            },
        )
