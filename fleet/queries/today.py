"""What is stuck today, and whose move it is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from django.conf import settings
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.module_loading import import_string
from django.utils.timesince import timesince
from django.utils.translation import gettext as _

from fleet.models import Member, Site, Stage
from fleet.queries.stuck_sites import IN_SERVICE, labels_waiting, problems_found, sites_awaiting, sites_in_stage

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


FEW = 3
TodaySource = Callable[[Member], list[StuckGroup]]


def stuck_elsewhere(member: Member) -> list[StuckGroup]:
    """What other packages say is stuck."""
    sources: list[TodaySource] = [import_string(name) for name in settings.TODAY_SOURCES]
    return [group for source in sources for group in source(member)]


def stuck_for(member: Member) -> list[StuckGroup]:
    """Everything that is stuck for ``member``, in order; groups that count nothing are left out."""
    groups = [*_stuck_here(member), *stuck_elsewhere(member)]
    return sorted((group for group in groups if group.count), key=lambda group: group.order)


def _stuck_here(member: Member) -> list[StuckGroup]:
    office, field = _("The office"), _("Field staff")
    return [
        _labels(member),
        _problems(member),
        _sites(_("Planned, nothing scanned yet"), field, sites_in_stage(member, Stage.PLANNED), "stage=planned", 30),
        _sites(_("Installed, not handed over"), field, sites_in_stage(member, Stage.INSTALLED), "stage=installed", 31),
        _awaiting(member, "register_owner", _("No owner registered"), office, 40),
        _awaiting(member, "ask_permission", _("Permission to write to the owner missing"), field, 41),
        _awaiting(member, "print_letter", _("Owner without e-mail: a letter to print"), office, 43),
    ]


def _awaiting(member: Member, move: str, title: str, whose: str, order: int) -> StuckGroup:
    query = urlencode({"next_move": move, "stage": [stage.value for stage in IN_SERVICE]}, doseq=True)
    return _sites(title, whose, sites_awaiting(member, move), query, order, "move_since")


def _sites(
    title: str, whose: str, sites: QuerySet[Site], query: str, order: int, since: str = "stage_since"
) -> StuckGroup:
    rows = [
        StuckRow(
            title=site.address_line,
            url=reverse("fleet:site", args=[site.code]),
            about=site.written_code,
            since=timesince(getattr(site.summary, since), timezone.now()),
        )
        for site in sites[:FEW]
    ]
    url = f"{reverse('fleet:sites')}?{query}"
    return StuckGroup(title=title, whose_move=whose, count=sites.count(), url=url, rows=rows, order=order)


def _labels(member: Member) -> StuckGroup:
    waiting = labels_waiting(member)
    rows = [
        StuckRow(
            title=str(scan.reading.get("facts", {}).get("serial") or scan.get_outcome_display()),
            url=reverse("fleet:scan_result", args=[scan.site.code, scan.client_id]),
            about=scan.site.address_line,
            since=timesince(scan.received_at, timezone.now()),
        )
        for scan in waiting.select_related("site")[:FEW]
    ]
    return StuckGroup(
        title=_("Labels that a person must decide"),
        whose_move=_("Whoever scanned them"),
        count=waiting.count(),
        url=reverse("fleet:labels_waiting"),
        rows=rows,
        order=10,
    )


def _problems(member: Member) -> StuckGroup:
    found = problems_found(member)
    rows = [
        StuckRow(
            title=check.title,
            url=f"{reverse('fleet:site', args=[check.site.code])}#to-do",
            about=check.site.address_line,
            since=timesince(check.found_at, timezone.now()) if check.found_at else "",
        )
        for check in found.select_related("site")[:FEW]
    ]
    return StuckGroup(
        title=_("Problems found in handover checks"),
        whose_move=_("Field staff"),
        count=found.count(),
        url=reverse("fleet:problems"),
        rows=rows,
        order=11,
    )
