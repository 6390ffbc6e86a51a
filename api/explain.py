"""The decoder's account of one label with its sentences in the reader's language, and every member always there."""

from typing import Any

from django.utils.translation import gettext

from fleet.labels.document import reading_document
from fleet.labels.reading import Reading, Refusal

BLANK: dict[str, Any] = {
    "read": False, "standard": None, "standard_title": None, "facts": {}, "confirm": False, "elements": [],
    "warnings": [], "refuse": None, "reason": None, "position": None, "identifier": None, "payload_class": None,
    "payload_length": None, "code": None,
}  # fmt: skip


def explanation(result: Reading | Refusal, codes: int) -> dict[str, Any]:
    """The explanation of one label of which ``codes`` codes were read; of a refused payload it holds nothing."""
    document = BLANK | reading_document(result)
    for member in ("standard_title", "reason"):
        document[member] = gettext(document[member]) if document[member] else document[member]
    document["warnings"] = [warning | {"sentence": gettext(warning["sentence"])} for warning in document["warnings"]]
    return document | {"codes": codes}
