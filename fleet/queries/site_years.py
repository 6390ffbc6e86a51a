"""The years of a site as one timeline: placements, scans that linked nothing, and acts."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.conf import settings
from django.db.models import QuerySet
from django.utils.module_loading import import_string
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.models import AuditEntry, Kind, Outcome, Placement, Scan, Site, Stage
from fleet.queries.year_lines import Line, lines_of

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

PAGE = 100
TOLD_BY_PLACEMENTS = ("place_device", "end_placement", "swap_device")
ACTS: "dict[str, StrOrPromise]" = {
    "register_site": gettext_lazy("Site registered"),
    "edit_site": gettext_lazy("Facts of the site changed"),
    "install_site": gettext_lazy("First device placed: the site counts as installed"),
    "hand_over_site": gettext_lazy("Site handed over"),
    "take_back_handover": gettext_lazy("Handover taken back"),
    "retire_site": gettext_lazy("Site retired"),
    "tag_site": gettext_lazy("Tags changed"),
    "state_references": gettext_lazy("Order and other numbers changed"),
    "state_plan": gettext_lazy("Plan changed"),
    "retire_device": gettext_lazy("Device retired"),
    "describe_device": gettext_lazy("Device described"),
    "identify_device": gettext_lazy("Maker of a device settled by its label"),
    "settle_unit": gettext_lazy("Said whether two labels mean one unit"),
    "lead_inverter": gettext_lazy("Leading inverter chosen"),
    "record_check": gettext_lazy("Handover check recorded"),
    "record_firmware": gettext_lazy("Firmware recorded"),
    "store_file": gettext_lazy("File kept"),
    "assign_member": gettext_lazy("Member assigned"),
    "unassign_member": gettext_lazy("Member no longer assigned"),
    "print_plate": gettext_lazy("Plate printed"),
    "sight_site": gettext_lazy("Opened to a field member who scanned here"),
}


@dataclass(frozen=True, slots=True)
class Change:
    """One value that an act changed."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Moment:
    """One line of the timeline."""

    at: datetime
    what: "StrOrPromise"
    about: str = ""
    device: Any = None
    who: str = ""
    outcome: str = ""
    kind: "StrOrPromise" = ""
    """What a day's like moments are called together; empty where each stands alone."""
    changes: list[Change] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Years:
    """A stretch of the timeline, newest first; ``earlier`` is the moment to go on from, or None."""

    moments: list[Moment]
    earlier: datetime | None = None

    @property
    def lines(self) -> list[Line]:
        """The moments, a day's like ones folded into one line."""
        return lines_of(self.moments)


def years_of(site: Site, *, before: datetime | None = None) -> Years:
    """The newest moments of a site, or those before one: PAGE of them, and all that share the last one's instant."""
    since = _page_begins(site, before)
    span = _Span(since, before)
    moments = [*_began(site, span), *_ended(site, span), *_scans(site, span), *_acts(site, span)]
    there = (replace(moment, at=moment.at.astimezone(site.zone)) for moment in moments)
    return Years(sorted(there, key=lambda moment: moment.at, reverse=True), earlier=since)


@dataclass(frozen=True, slots=True)
class _Span:
    """From one instant (inclusive) until before another; None leaves a side open."""

    since: datetime | None
    before: datetime | None

    def within(self, rows: QuerySet[Any], column: str) -> QuerySet[Any]:
        """Those rows whose ``column`` lies in the span, the newest first."""
        if self.since:
            rows = rows.filter(**{f"{column}__gte": self.since})
        if self.before:
            rows = rows.filter(**{f"{column}__lt": self.before})
        return rows.order_by(f"-{column}", "-pk")


def _page_begins(site: Site, before: datetime | None) -> datetime | None:
    """The instant of the last moment on the page, or None where the page holds all that is left."""
    span = _Span(None, before)
    times: list[datetime] = []
    for rows, column in _sources(site):
        times += span.within(rows, column).values_list(column, flat=True)[: PAGE + 1]
    return sorted(times, reverse=True)[PAGE - 1] if len(times) > PAGE else None


def _sources(site: Site) -> list[tuple[QuerySet[Any], str]]:
    placements = Placement.objects.filter(site=site)
    scans = Scan.objects.filter(site=site).exclude(outcome__in=(Outcome.LINKED, Outcome.ALREADY_HERE))
    acts = AuditEntry.objects.filter(site=site, detail__isnull=False).exclude(act__in=TOLD_BY_PLACEMENTS)
    ended = placements.filter(until__isnull=False)
    return [(placements, "since"), (ended, "until"), (scans, "scanned_at"), (acts, "at")]


def _began(site: Site, span: _Span) -> Iterator[Moment]:
    placements, column = _sources(site)[0]
    placements = placements.select_related("device__model__maker", "placed_by__user", "replaces__device")
    for placement in span.within(placements, column):
        what = _("Placed: %(device)s") if placement.replaces is None else _("Placed in a swap: %(device)s")
        yield Moment(
            at=placement.since,
            what=what % {"device": device_words(placement.device)},
            about=_("Replaces %(serial)s") % {"serial": placement.replaces.device.serial} if placement.replaces else "",
            device=placement.device,
            who=_name(placement.placed_by),
            kind=_("Devices placed") if placement.replaces is None else "",
        )


def _ended(site: Site, span: _Span) -> Iterator[Moment]:
    words = {
        "swapped": _("Taken out in a swap: %(device)s"),
        "moved": _("Moved away: %(device)s"),
        "retired": _("Retired: %(device)s"),
        "undone": _("Undone, it never stood here: %(device)s"),
    }
    placements, column = _sources(site)[1]
    for placement in span.within(placements.select_related("device__model__maker"), column):
        yield Moment(
            at=placement.until,
            what=words[placement.ended] % {"device": device_words(placement.device)},
            device=placement.device,
            kind=Placement.Ended(placement.ended).label,
        )


def _scans(site: Site, span: _Span) -> Iterator[Moment]:
    scans, column = _sources(site)[2]
    for scan in span.within(scans.select_related("member__user"), column):
        yield Moment(
            at=scan.scanned_at,
            what=_("Label scanned"),
            kind=_("Labels scanned"),
            about=str(scan.reading.get("facts", {}).get("serial", "")),
            who=_name(scan.member),
            outcome=scan.outcome,
        )


def _acts(site: Site, span: _Span) -> Iterator[Moment]:
    words = act_words()
    entries, column = _sources(site)[3]
    for entry in span.within(entries.select_related("user", "detail"), column):
        yield Moment(
            at=entry.at,
            what=words.get(entry.act) or entry.act.replace("_", " ").capitalize(),
            kind=words.get(entry.act) or "",
            who=_who(entry),
            about=str(entry.detail.after.get("title") or words.get(f"purpose:{entry.detail.after.get('purpose')}", "")),
            changes=_changes(entry),
        )


def _who(entry: AuditEntry) -> str:
    if entry.user:
        return entry.user.get_full_name()
    return _("whoever got the mail") if entry.role == "recipient" else _("Rooftally itself")


def act_words() -> "dict[str, StrOrPromise]":
    """What each audited act is called; other packages add theirs by settings.ACT_WORDS."""
    words = dict(ACTS)
    for name in settings.ACT_WORDS:
        words |= import_string(name)
    return words


def device_words(device: Any) -> str:
    """A device as the timeline names it: kind, maker and model, serial."""
    model = f"{device.model.maker.name} {device.model.name}" if device.model else ""
    return ", ".join(part for part in (str(Kind(device.kind).label), model, device.serial) if part)


def _changes(entry: AuditEntry) -> list[Change]:
    before, after = entry.detail.before, entry.detail.after
    names = [name for name in after if name in before and before[name] != after[name]]
    named = _field_words(entry.object_type) if names else {}
    return [Change(named.get(name, name), _shown(name, before[name]), _shown(name, after[name])) for name in names]


def _field_words(object_type: str) -> dict[str, str]:
    """The fields of a model in words, by their names."""
    model = next((each for each in apps.get_models() if each._meta.model_name == object_type), Site)
    return {column.name: str(column.verbose_name) for column in model._meta.concrete_fields}


def _shown(name: str, value: Any) -> str:
    if name == "stage" and value in Stage.values:
        return str(Stage(value).label)
    if isinstance(value, list):
        return ", ".join(str(each) for each in value)
    return "" if value is None else str(value)


def _name(member: Any) -> str:
    return member.user.get_full_name() if member else ""
