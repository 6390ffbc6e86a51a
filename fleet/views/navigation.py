"""The staff pages' navigation, by role, and a person's own pages."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from fleet.models import Member

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

    Page = tuple[str, StrOrPromise]

STAFF_PAGES: "list[Page]" = [("fleet:today", _("Today")), ("fleet:sites", _("Sites")), ("fleet:field", _("Field"))]
ADMINISTRATORS_PAGES: "list[Page]" = [("fleet:policy", _("Company"))]
OWN_PAGES: "list[Page]" = [
    ("account_change_password", _("Password")),
    ("mfa_index", _("Second factor")),
    ("usersessions_list", _("Where you are signed in")),
]
PARTS = {"fleet:policy", "fleet:catalogue"}  # pages that stand for all pages beside them
MEMBERS_OWN_PAGES: "list[Page]" = [("fleet:tokens", _("API tokens"))]


@dataclass(frozen=True, slots=True)
class Entry:
    """One link of a navigation; ``here`` is the value of its ``aria-current``."""

    word: "StrOrPromise"
    url: str
    here: str = ""


def navigation(request: HttpRequest, member: Member | None) -> list[Entry]:
    """The links across the top of a staff page."""
    if member is None:
        return []
    last = ADMINISTRATORS_PAGES if member.is_administrator else [("fleet:catalogue", _("Catalogue"))]
    pages: list[Page] = [*STAFF_PAGES, *settings.STAFF_PAGES, ("fleet:members", _("Members")), *last]
    return [_entry(request, name, word) for name, word in pages]


def own_pages(request: HttpRequest, member: Member | None) -> list[Entry]:
    """The links about the signed-in person."""
    if not request.user.is_authenticated:
        return []
    pages: list[Page] = [*settings.OWN_PAGES, *OWN_PAGES, *(MEMBERS_OWN_PAGES if member else [])]
    return [_entry(request, name, word) for name, word in pages]


def _entry(request: HttpRequest, name: str, word: "StrOrPromise") -> Entry:
    url = reverse(name)
    if request.path == url:
        return Entry(word, url, "page")
    part = url.rpartition("/")[0] + "/" if name in PARTS else url
    return Entry(word, url, "true" if part != "/" and request.path.startswith(part) else "")
