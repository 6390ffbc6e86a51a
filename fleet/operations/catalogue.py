"""A company's catalogue: seeded at its start, and matched with what labels say."""

from fleet.labels.reading import Reading
from fleet.models import Company, DeviceModel, Kind, Maker

# Invented makers and models, so that a new company has something to try; the GTINs use GS1's prefix for examples
# (952, GS1 General Specifications, section 1.4.4: "Used for demonstrations and examples of the GS1 system").
SEED: tuple[tuple[str, str, Kind, str, dict[str, str], str], ...] = (
    ("Solverde", "Ribeira 5", Kind.INVERTER, "09520001000010", {"ac": "5 kW", "phases": "1"}, "2.4.1"),
    ("Solverde", "Ribeira 10", Kind.INVERTER, "09520001000027", {"ac": "10 kW", "phases": "3"}, "2.4.1"),
    ("Solverde", "Ponte", Kind.COMMUNICATION, "09520001000034", {}, "1.9.0"),
    ("Acumula", "Cofre 7", Kind.BATTERY, "09520002000019", {"usable": "7.0 kWh"}, "5.0.3"),
    ("Acumula", "Cofre 14", Kind.BATTERY, "09520002000026", {"usable": "14.0 kWh"}, "5.0.3"),
    ("Acumula", "Comporta", Kind.BACKUP_SWITCH, "09520002000033", {"current": "63 A"}, ""),
    ("Medalto", "Fiel 3", Kind.METER, "09520003000018", {"phases": "3"}, "1.2"),
    ("Medalto", "Folha", Kind.OPTIMISER, "09520003000025", {"dc": "500 W"}, ""),
    ("Medalto", "Tomada 11", Kind.CHARGE_POINT, "09520003000032", {"ac": "11 kW"}, "3.3.0"),
)


def seed_catalogue(company: Company) -> None:
    """Give a new company the example catalogue; rows that are there already stay as they are."""
    for maker_name, model_name, kind, gtin, ratings, firmware in SEED:
        maker, _made = Maker.objects.get_or_create(company=company, name=maker_name)
        DeviceModel.objects.get_or_create(
            company=company,
            maker=maker,
            name=model_name,
            defaults={"kind": kind, "gtin": gtin, "ratings": ratings, "current_firmware": firmware},
        )


def model_of_reading(company: Company, reading: Reading) -> DeviceModel | None:
    """The one catalogue model that a reading names, by GTIN or else by part number; None if none or several do."""
    models = DeviceModel.objects.filter(company=company).select_related("maker")
    if reading.gtin:
        return models.filter(gtin=reading.gtin).first()
    if reading.part_number:
        found = list(models.filter(part_number=reading.part_number)[:2])
        return found[0] if len(found) == 1 else None
    return None
