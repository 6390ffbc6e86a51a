"""What is stuck today, and whose move it is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.conf import settings
from django.utils.module_loading import import_string

from fleet.models import Member

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


@dataclass(frozen=True, slots=True)
class StuckRow:
    """One stuck thing: where it is (``title``, linked to ``url``), what about it, and since when (words)."""

    title: str
    url: str
    about: "StrOrPromise" = ""
    since: str = ""


@dataclass(frozen=True, slots=True)
class StuckGroup:
    """Things stuck for one reason. ``url`` is the list that ``count`` counts; ``rows`` are its first few.

    ``whose_move`` says who must act, in words; ``ours`` whether that is one of the company's people.
    """

    title: "StrOrPromise"
    whose_move: "StrOrPromise"
    count: int
    url: str
    rows: Sequence[StuckRow] = ()
    ours: bool = True
    order: int = 50


TodaySource = Callable[[Member], list[StuckGroup]]


def stuck_elsewhere(member: Member) -> list[StuckGroup]:
    """What other packages say is stuck."""
    sources: list[TodaySource] = [import_string(name) for name in settings.TODAY_SOURCES]
    return [group for source in sources for group in source(member)]


def stuck_for(member: Member) -> list[StuckGroup]:
    """Everything that is stuck for ``member``, ours first; groups that count nothing are left out."""
    groups = [group for group in stuck_elsewhere(member) if group.count]
    return sorted(groups, key=lambda group: (not group.ours, group.order))
