"""The five ways in which an act can be refused. Each act's own exceptions derive from one of them.

A page shows ``sentence``; the API makes a problem document with ``code`` of it.
"""

from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class ActRefused(Exception):
    """An act was not done and nothing was half-written. ``sentence`` says what happened, what was kept, what next.

    ``errors``, where given, maps fields to a sentence or several; ``facts["errors"]`` holds lists of them.
    """

    code = "refused"
    sentence: str | Promise = _("This was not done; nothing was changed.")

    def __init__(self, sentence: str | Promise | None = None, *, field: str = "", **facts: Any) -> None:
        if sentence is not None:
            self.sentence = sentence
        self.field = field
        if "errors" in facts:
            facts["errors"] = {name: _several(told) for name, told in facts["errors"].items()}
        self.facts = facts
        super().__init__(self.code)


def _several(told: Any) -> list[Any]:
    return list(told) if isinstance(told, list | tuple) else [told]


class NotAllowed(ActRefused):
    """The actor may see it but not do it."""

    code = "not_allowed"
    sentence = _("Your role does not include this. Nothing was changed; ask an administrator of your company.")


class NotThere(ActRefused):
    """There is no such thing for this actor."""

    code = "not_found"
    sentence = _("There is no such thing that you may see. Nothing was changed.")


class Conflicting(ActRefused):
    """The state of things does not allow it now."""

    code = "conflict"
    sentence = _("Things changed meanwhile, so this was not done. Reload and look again.")


class BadInput(ActRefused):
    """What was handed in cannot be used; ``facts["errors"]`` may name fields with their messages."""

    code = "bad_input"
    sentence = _("Something in this form cannot be used. Nothing was saved; correct the marked fields.")


class Unable(ActRefused):
    """The installation itself cannot do it now, whoever asks: its disk is full, or a key of it is not there.

    ``status`` is the HTTP status that says which.
    """

    code = "unable"
    status = 503
    sentence = _("This installation cannot do it now. Nothing was changed; whoever runs it has to see to it first.")
