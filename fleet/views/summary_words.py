"""What the columns of a site's summary are called: next moves, invitation states, missing permissions.

The summary is the register's own row; other packages write these keys into it (settings.SITE_SOURCES).
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from fleet.views.marks import Mark

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

NONE = "none"


@dataclass(frozen=True, slots=True)
class Move:
    """A next move: its mark, and whose move it is."""

    mark: Mark
    whose: "StrOrPromise"


_US, _OWNER = _("our move"), _("the owner’s move")
MOVES = {
    "register_owner": Move(Mark(_("Owner not registered"), "needs"), _US),
    "ask_permission": Move(Mark(_("Permission to write missing"), "needs"), _US),
    "invite": Move(Mark(_("Ready to invite"), "needs"), _US),
    "fix_address": Move(Mark(_("Address does not work"), "trouble"), _US),
    "print_letter": Move(Mark(_("No e-mail: print a letter"), "needs"), _US),
    "owner_accepts": Move(Mark(_("Owner is invited"), "waits"), _OWNER),
    "invite_again": Move(Mark(_("Invitation ran out"), "needs"), _US),
}
INVITATIONS: "dict[str, StrOrPromise]" = {
    NONE: _("Not invited"),
    "draft": _("Draft"),
    "held": _("Held"),
    "queued": _("On the way"),
    "sent": _("Sent"),
    "opened": _("Opened"),
    "accepted": _("Accepted"),
    "bounced": _("Came back"),
    "complained": _("Marked as unwanted"),
    "failed": _("Failed"),
    "expired": _("Ran out"),
    "cancelled": _("Cancelled"),
    "replaced": _("Replaced"),
}
PURPOSES: "dict[str, StrOrPromise]" = {
    "monitoring": _("Processing measurements"),
    "home_network": _("Home network"),
    "contact": _("Writing to the owner"),
}


def move_of(key: str) -> Move | None:
    """How a next move looks; None where nothing is to be done."""
    if not key:
        return None
    return MOVES.get(key) or Move(Mark(key.replace("_", " ").capitalize(), "needs"), "")


def choice_word(filter_name: str, value: str, label: str) -> "StrOrPromise":
    """What one choice of a filter is called."""
    if filter_name == "next_move":
        return _("Nothing to do") if value == NONE else (MOVES[value].mark.word if value in MOVES else label)
    if filter_name == "invitation":
        return INVITATIONS.get(value, label)
    if filter_name == "missing":
        return PURPOSES.get(value, label)
    return label or _("Not said")
