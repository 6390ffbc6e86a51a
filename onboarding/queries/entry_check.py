"""Whether one entry of the ledger still says what was recorded: its seal, its columns, and the wording it rests on."""

from collections.abc import Iterator, Mapping
from typing import Any

from onboarding.ledger.chain import entry_mac, parsed, same_mac, utc_text
from onboarding.ledger.texts import wording_digest
from onboarding.models import ConsentEntry, Wording


class Touched(Exception):
    """The entry's content is not what was recorded; the message says how."""


def recorded(entry: ConsentEntry, made_with: str) -> dict[str, Any]:
    """The document of ``entry`` as it was recorded, sealed with the key ``made_with``. Raises Touched."""
    if not same_mac(entry_mac(made_with, entry.previous_mac, entry.canonical), entry.mac):
        raise Touched("its content is not what was recorded")
    try:
        return parsed(entry.canonical)
    except ValueError as error:
        raise Touched("its content is not canonical") from error


def differences(entry: ConsentEntry, document: dict[str, Any], wordings: Mapping[int, Wording | None]) -> Iterator[str]:
    """What of the row of ``entry`` differs from its ``document``; ``wordings`` by key are those it may rest on.

    Reads the entry's company, site, owner and recording member.
    """
    for column, written, kept in _columns(entry, document):
        if written != kept:
            yield f"its column {column} differs from what was recorded"
    named = document["wording"]
    if entry.wording_id != (named["id"] if named else None):
        yield "its column wording differs from what was recorded"
    if not named:
        return
    wording = wordings.get(int(named["id"]))
    if wording is None:
        yield "the wording it rests on is gone"
    elif _digest(wording) != named["sha256"]:
        yield "the wording it rests on was changed"


def _columns(entry: ConsentEntry, document: dict[str, Any]) -> list[tuple[str, object, object]]:
    captured = document["captured_by"]
    member = str(entry.recorded_by.public_id) if entry.recorded_by else None
    return [
        ("entry_id", document["entry"], str(entry.entry_id)),
        ("company", document["company"], str(entry.company.public_id)),
        ("position", document["position"], entry.position),
        ("site", document["site"], entry.site.code),
        ("owner", document["person"], str(entry.owner.public_id)),
        ("purpose", document["purpose"], entry.purpose),
        ("state", document["state"], entry.state),
        ("evidence", document["evidence"], entry.evidence),
        ("at", document["at"], utc_text(entry.at)),
        ("recorded_by", captured["member"], member),
        ("user", captured["user"], str(entry.user_id) if entry.user_id else None),
    ]


def _digest(wording: Wording) -> str:
    return wording_digest(
        purpose=wording.purpose,
        language=wording.language,
        version=wording.version,
        text=wording.text,
        particulars=wording.particulars,
    )
