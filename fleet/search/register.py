"""The register's own share of what is read of a site: its codes, address, tags, references and devices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from decimal import Decimal

from fleet.labels.sitecode import format_site_code
from fleet.models import Stage
from fleet.search.fold import sorting_key
from fleet.search.sources import Facts, Part, Rows, Source, Texts, moment_of
from fleet.search.words import Field, Shape, Word

_PARTS = (
    Part(
        "site",
        "fleet_site AS site",
        "site.id",
        tuple(f"site.{each}" for each in ("code", "name", "street", "house_number", "postcode", "town", "region")),
    ),
    Part(
        "life",
        "fleet_site AS life",
        "life.id",
        (
            "life.stage",
            "CAST(life.created_at AS text)",
            *(f"COALESCE(CAST(life.{each} AS text), '')" for each in ("installed_on", "handed_over_at", "retired_at")),
            *(f"COALESCE(CAST(life.{each} AS text), '')" for each in ("installed_kwp", "storage_kwh")),
        ),
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
            "device.kind",
            "COALESCE(CAST(model.id AS text), '')",
        ),
    ),
)


LONGEST_ADDRESS = 80


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
    standing = [texts for texts in rows["device"] if not texts[0]]
    return {
        "device_count": len(standing),
        "kinds": " ".join(sorted({texts[6] for texts in standing})),
        "model_ids": " ".join(map(str, sorted({int(texts[7]) for texts in standing if texts[7]}))),
        **(_of_site(rows["site"][0]) if rows["site"] else {}),
        **(_of_life(rows["life"][0]) if rows["life"] else {}),
    }


def _of_site(texts: Texts) -> Facts:
    _code, _name, street, number, _postcode, town, region, *_ = texts
    return {"region": region, "address_key": sorting_key(f"{street} {number} {town}")[:LONGEST_ADDRESS]}


def _of_life(texts: Texts) -> Facts:
    stage, created, installed, handed_over, retired, kwp, storage, *_ = texts
    begun = {Stage.INSTALLED: installed, Stage.HANDED_OVER: handed_over, Stage.RETIRED: retired}.get(Stage(stage), "")
    since = moment_of(begun or created)
    facts: dict[str, str | int | datetime] = {
        "stage": stage,
        "pv_watts": _thousandths(kwp),
        "storage_wh": _thousandths(storage),
    }
    return {**facts, "stage_since": since} if since else facts


def _thousandths(text: str) -> int:
    return int(Decimal(text) * 1000) if text else -1


REGISTER = Source(_PARTS, _words, _facts)
