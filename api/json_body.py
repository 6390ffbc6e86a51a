"""The JSON body of a request, read with limits of our own: on its length, its depth and its numbers."""

import json
import math
from collections.abc import Mapping
from typing import IO, Any

from django.utils.translation import gettext as _
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

from api.problems import TooLarge

DEEPEST = 24
"""How many brackets may be open at once; what is taken here needs six."""


class JsonBody(BaseParser):
    """JSON in UTF-8 (RFC 8259), as long as the endpoint takes.

    Not derived from the framework's own, which reads no more than Django takes of a form and lets deep nesting through.
    """

    media_type = "application/json"

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The document. Raises TooLarge or ParseError."""
        most = int((parser_context or {})["view"].longest_body)
        body = stream.read(most + 1)
        if len(body) > most:
            raise too_large(most)
        try:
            text = body.decode("utf-8-sig")
            if _deepest(text) > DEEPEST:
                raise ParseError(_("This JSON is nested deeper than anything that is taken here. Nothing was changed."))
            return json.loads(text, parse_constant=_no_number, parse_float=_finite)
        except (ValueError, RecursionError) as error:
            raise ParseError(_("The request is not JSON in UTF-8. Nothing was changed.")) from error


def too_large(most: int) -> TooLarge:
    """The refusal of a body that is longer than ``most`` bytes."""
    return TooLarge(
        _("The request is larger than the %(most)d bytes taken here. Nothing was changed.") % {"most": most}
    )


def _deepest(text: str) -> int:
    """How many brackets stand open at once at most, those within strings left out."""
    deepest = depth = 0
    for part in text.replace("\\\\", "").replace('\\"', "").split('"')[::2]:
        for sign in part:
            if sign in "[{":
                depth += 1
                deepest = max(deepest, depth)
            elif sign in "]}":
                depth -= 1
    return deepest


def _no_number(text: str) -> Any:
    raise ValueError(f"{text} is no number of JSON")


def _finite(text: str) -> float:
    if not math.isfinite(number := float(text)):
        raise ValueError(f"{text} is larger than any number that is taken here")
    return number
