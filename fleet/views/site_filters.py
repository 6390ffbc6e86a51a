"""The filters beside a list of sites: links that choose and lift, each with the number of sites behind it."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.search import SiteFilters
from fleet.search.choices import Choice, count_choices
from fleet.views.summary_words import choice_word

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

TITLES: "dict[str, StrOrPromise]" = {
    "next_move": _("Next move"),
    "stage": _("Stage"),
    "invitation": _("Invitation"),
    "missing": _("Permission missing"),
    "kind": _("Device"),
    "maker": _("Maker"),
    "model": _("Model"),
    "region": _("Region"),
    "tag": _("Tag"),
    "assigned": _("Assigned to"),
}
ALWAYS_OPEN = ("next_move", "stage")


@dataclass(frozen=True, slots=True)
class Option:
    """One choice: a link that takes it, or lifts it where it is chosen."""

    word: "StrOrPromise"
    number: int
    capped: bool
    chosen: bool
    url: str


@dataclass(frozen=True, slots=True)
class Group:
    """The choices of one filter."""

    name: str
    title: "StrOrPromise"
    options: list[Option]

    @property
    def open(self) -> bool:
        """Whether it shows its choices from the start."""
        return self.name in ALWAYS_OPEN or any(option.chosen for option in self.options)


def filter_groups(member: Member, text: str, filters: SiteFilters, sort: str = "") -> list[Group]:
    """The filters that have choices at all, in the order of TITLES."""
    counted = count_choices(member=member, text=text, filters=filters)
    return [
        Group(name, title, [_option(text, filters, sort, name, choice) for choice in counted[name]])
        for name, title in TITLES.items()
        if counted.get(name)
    ]


def with_query(path: str, filters: SiteFilters, **more: str) -> str:
    """``path`` with these filters and further words (empty ones left out) as its query."""
    words = urlencode({name: value for name, value in more.items() if value})
    query = "&".join(part for part in (words, filters.to_query()) if part)
    return f"{path}?{query}" if query else path


def _option(text: str, filters: SiteFilters, sort: str, name: str, choice: Choice) -> Option:
    now: tuple[str, ...] = getattr(filters, name)
    then = tuple(value for value in now if value != choice.value) if choice.chosen else (*now, choice.value)
    changed = replace(filters, **{name: then})  # type: ignore[arg-type]  # every filter in TITLES is a tuple of words
    return Option(
        word=choice_word(name, choice.value, choice.label),
        number=choice.count,
        capped=choice.capped,
        chosen=choice.chosen,
        url=with_query(reverse("fleet:sites"), changed, q=text, sort=sort),
    )
