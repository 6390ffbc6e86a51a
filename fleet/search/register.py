"""The register's own share of what is read of a site: its codes, address, tags, references and devices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fleet.labels.sitecode import format_site_code
from fleet.search.sources import Facts, Part, Rows, Source, Texts
from fleet.search.words import Field, Shape, Word

_PARTS = (
    Part(
        "site",
        "fleet_site AS site",
        "site.id",
        tuple(f"site.{each}" for each in ("code", "name", "street", "house_number", "postcode", "town", "region")),
    ),
    Part("tag", "fleet_site_tags AS label JOIN fleet_tag AS tag ON tag.id = label.tag_id", "site_id", ("tag.name",)),
    Part("reference", "fleet_sitereference", "site_id", ("value",)),
    Part("former code", "fleet_sitecodealias", "site_id", ("code",)),
    Part(
        "device",
        "fleet_placement AS placed JOIN fleet_device AS device ON device.id = placed.device_id "
        "LEFT JOIN fleet_devicemodel AS model ON model.id = device.model_id "
        "LEFT JOIN fleet_maker AS maker ON maker.id = model.maker_id",
        "placed.site_id",
        (
            "CASE WHEN placed.until IS NULL THEN '' ELSE 'past' END",
            "device.serial",
            "device.mac",
            "device.part_number",
            "COALESCE(maker.name, '')",
            "COALESCE(model.name, '')",
        ),
    ),
)


def _words(rows: Rows) -> Iterator[Word]:
    """Words of what is there; a device that left is past, and so is a former code."""
    found = [
        *(word for texts in rows["site"] for word in _site(texts)),
        *(Word(Field.TAG, texts[0]) for texts in rows["tag"]),
        *(Word(Field.REFERENCE, texts[0], Shape.SERIAL) for texts in rows["reference"]),
        *(Word(Field.CODE, format_site_code(texts[0]), Shape.SERIAL, past=True) for texts in rows["former code"]),
        *(word for texts in rows["device"] for word in _device(texts)),
    ]
    return (word for word in found if word.text)


def _site(texts: Texts) -> Iterable[Word]:
    code, name, street, number, postcode, town, region, *_ = texts
    address = ", ".join(filter(None, (f"{street} {number}".strip(), f"{postcode} {town}".strip())))
    return (
        Word(Field.CODE, format_site_code(code), Shape.SERIAL),
        Word(Field.NAME, name),
        Word(Field.ADDRESS, address),
        Word(Field.ADDRESS, region),
    )


def _device(texts: Texts) -> Iterable[Word]:
    left, serial, mac, part_number, maker, model, *_ = texts
    past = bool(left)
    return (
        Word(Field.SERIAL, serial, Shape.SERIAL, past),
        Word(Field.MAC, mac, Shape.SERIAL, past),
        Word(Field.MODEL, part_number, Shape.SERIAL, past),
        Word(Field.MODEL, f"{maker} {model}".strip(), Shape.NUMBERED, past),
    )


def _facts(rows: Rows) -> Facts:
    return {"device_count": sum(not texts[0] for texts in rows["device"])}


REGISTER = Source(_PARTS, _words, _facts)
