"""Template tags and filters of the house: states, times in a site's zone, amounts, site codes, form fields."""

import re
from datetime import datetime
from decimal import Decimal
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from django import template
from django.forms import BoundField, CheckboxInput, CheckboxSelectMultiple, RadioSelect
from django.template.loader import get_template
from django.urls import reverse
from django.utils import formats, timezone
from django.utils.html import conditional_escape, escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from fleet.labels.sitecode import format_site_code
from fleet.models import Member, Site
from fleet.search import Match, SiteRow
from fleet.views import marks
from fleet.views.panels import Panel
from fleet.views.summary_words import move_of

register = template.Library()


class Zoned(Protocol):
    """What knows the time zone its times are shown in: a site."""

    @property
    def zone(self) -> ZoneInfo:
        """That zone."""


@register.inclusion_tag("components/state.html")
def stage(value: str) -> dict[str, Any]:
    """The mark of a site's stage."""
    return _shown(marks.stage_mark(value))


@register.filter
def stage_word(value: str) -> str:
    """A site's stage as a word alone."""
    return str(marks.stage_mark(value).word)


@register.inclusion_tag("components/state.html")
def finding(value: str) -> dict[str, Any]:
    """The mark of a handover check's finding."""
    return _shown(marks.finding_mark(value))


@register.inclusion_tag("components/state.html")
def outcome(value: str) -> dict[str, Any]:
    """The mark of a scan's outcome."""
    return _shown(marks.outcome_mark(value))


@register.inclusion_tag("components/state.html")
def state(shape: str, word: str, whose: str = "") -> dict[str, Any]:
    """Any state: its shape, its word, and whose move it is."""
    return {"shape": shape, "word": word, "whose": whose}


@register.filter
def in_zone(moment: datetime | None, site: Zoned) -> str:
    """A moment with its clock time as it was at ``site``: ``25 Nov 2026, 14:05``."""
    if moment is None:
        return ""
    local = timezone.localtime(moment, site.zone)
    return f"{formats.date_format(local, 'DATE_FORMAT')}, {formats.time_format(local, 'TIME_FORMAT')}"


@register.filter
def day_in_zone(moment: datetime | None, site: Zoned) -> str:
    """The day of a moment as it was at ``site``."""
    return formats.date_format(timezone.localtime(moment, site.zone), "DATE_FORMAT") if moment else ""


@register.filter
def clock_in_zone(moment: datetime, site: Zoned) -> str:
    """The clock time of a moment as it was at ``site``."""
    return formats.time_format(timezone.localtime(moment, site.zone), "TIME_FORMAT")


@register.filter
def address(site: Site) -> SafeString:
    """A site's address on one line, whose postcode never breaks."""
    if not site.postcode:
        return escape(site.address_line)
    street = f"{site.street} {site.house_number}".strip()
    return format_html('{}, <span class="whole">{}</span> {}', street, site.postcode, site.town)


@register.filter
def site_code(code: str) -> str:
    """``ABCDEFGH`` as it is printed: ``ABCD-EFGH``."""
    return format_site_code(code)


@register.filter
def amount(value: Decimal | None, unit: str = "") -> str:
    """A number without idle zeros, by locale, with its unit: ``9.6 kWh``; empty where nothing is known."""
    if value is None:
        return ""
    plain = value.normalize()
    places = max(0, -int(plain.as_tuple().exponent))
    number = formats.number_format(plain, decimal_pos=places, use_l10n=True)
    return f"{number} {unit}".strip()


@register.filter
def dial(number: str) -> str:
    """A telephone number as a link that a telephone dials (RFC 3966, visual separators left out); empty without one."""
    digits = "".join(each for each in number if each.isascii() and each.isdigit())
    plus = "+" if number.strip().startswith("+") else ""
    return f"tel:{plus}{digits}" if digits else ""


@register.filter
def degrees(value: Decimal) -> str:
    """A coordinate as map programs take it, whatever the locale: ``37.0276``."""
    return f"{value.normalize():f}"


@register.filter
def issuer_scheme(scheme: str) -> str:
    """Who numbers devices in a scheme of the decoder, in words."""
    known = {
        "gs1-gtin": "GTIN",
        "gs1-cpid": _("GS1 component and part identifier"),
        "gs1-asset": _("GS1 asset identifier"),
        "cage": _("CAGE code"),
        "domain": _("Link domain"),
    }
    return known.get(scheme, _("Data identifier %(scheme)s") % {"scheme": scheme})


@register.filter
def rating(name: str) -> str:
    """A rating's name as a heading: ``AC`` for ``ac``, ``Phases`` for ``phases``."""
    return name.upper() if name.lower() in ("ac", "dc", "pv") else name[:1].upper() + name[1:].replace("_", " ")


@register.filter
def count(value: int) -> str:
    """A whole number by locale, thousands grouped."""
    return formats.number_format(value, decimal_pos=0, use_l10n=True, force_grouping=True)


@register.filter
def capped(value: int, cap: int) -> str:
    """A count that was only made up to ``cap``: ``400 or more``."""
    return _("%(number)s or more") % {"number": count(cap)} if value >= cap else count(value)


@register.filter
def site_path(row: SiteRow) -> str:
    """The address of a found site's page."""
    return reverse("fleet:site", args=[row.code])


@register.filter
def address_parts(row: SiteRow) -> list[tuple[str, bool]]:
    """A found site's address as (piece, whether it is what was searched for)."""
    for match in row.matched:
        if match.text == row.address_line:
            return match.parts
    return [(row.address_line, False)]


@register.filter
def street_parts(row: SiteRow) -> list[tuple[str, bool]]:
    """What of :func:`address_parts` is the street and number; the whole where there is none."""
    return _cut(address_parts(row), 0, len(row.street_line) or len(row.address_line))


@register.filter
def place_parts(row: SiteRow) -> list[tuple[str, bool]]:
    """What of :func:`address_parts` is the town, its postcode aside."""
    length = len(row.address_line)
    return _cut(address_parts(row), length - len(row.town), length) if row.street_line and row.town else []


@register.filter
def postcode_parts(row: SiteRow) -> list[tuple[str, bool]]:
    """What of :func:`address_parts` is the postcode."""
    if not (row.street_line and row.postcode):
        return []
    begins = len(row.street_line) + len(", ")
    return _cut(address_parts(row), begins, begins + len(row.postcode))


def _cut(parts: list[tuple[str, bool]], start: int, end: int) -> list[tuple[str, bool]]:
    """The pieces of a text from one place to another."""
    cut, at = [], 0
    for piece, found in parts:
        if part := piece[max(0, start - at) : max(0, end - at)]:
            cut.append((part, found))
        at += len(piece)
    return cut


@register.filter
def companys_day(moment: datetime | None, member: Member) -> str:
    """The day of a moment as it was at the company."""
    zone = ZoneInfo(member.company.policy.default_time_zone)
    return formats.date_format(timezone.localtime(moment, zone), "DATE_FORMAT") if moment else ""


@register.filter
def places(value: Decimal | None, number: int) -> str:
    """A number by locale with so many places; empty where nothing is known."""
    return "" if value is None else formats.number_format(value, decimal_pos=number, use_l10n=True)


_UNBROKEN = re.compile(
    r"\b(?:[0-9A-Z]{4}-[0-9A-Z]{4}|\d{4,5}-\d{3}|\d{2}-\d{3}|\d{3} \d{2}|\d{4} [A-Z]{2}"
    r"|[A-Z]{1,2}\d[A-Z\d]? \d[A-Z]{2})\b"
)


@register.filter(needs_autoescape=True)
def unbroken(text: object, autoescape: bool = True) -> SafeString:
    """``text`` with each site code and postcode in it kept on one line."""
    shown = conditional_escape(str(text) if not isinstance(text, SafeString) else text) if autoescape else str(text)
    return mark_safe(_UNBROKEN.sub(r'<span class="code">\g<0></span>', shown))  # noqa: S308  # escaped above


@register.filter
def marked(parts: list[tuple[str, bool]]) -> SafeString:
    """Pieces of a text one after the other, those that were searched for marked; a template for each would be slow."""
    return mark_safe(  # noqa: S308  # every piece is escaped
        "".join(f"<mark>{escape(piece)}</mark>" if found else escape(piece) for piece, found in parts)
    )


@register.filter
def why(match: Match) -> SafeString:
    """A line that says where something was found: the field, and the text with the found part marked."""
    earlier = f" {_('(earlier)')}" if match.past else ""
    return format_html(
        '<span class="why"><span class="soft">{}{}</span> {}</span>', match.field_label, earlier, marked(match.parts)
    )


@register.filter
def further_matches(row: SiteRow) -> list[Match]:
    """Why a site was found, beside its address."""
    return [match for match in row.matched if match.text != row.address_line]


@register.filter
def is_choices(field: BoundField) -> bool:
    """Whether a field is a group of radio buttons or ticks."""
    return isinstance(field.field.widget, RadioSelect | CheckboxSelectMultiple)


@register.filter
def is_tick(field: BoundField) -> bool:
    """Whether a field is one tick."""
    return isinstance(field.field.widget, CheckboxInput)


def _shown(mark: marks.Mark) -> dict[str, Any]:
    return {"shape": mark.shape, "word": mark.word}


@register.simple_tag(takes_context=True)
def panel(context: template.RequestContext, shown: Panel) -> str:
    """One panel of a site's page, with its own context over the page's."""
    with context.push(**shown.context):
        flat = {str(name): value for name, value in context.flatten().items()}
        return get_template(shown.template).render(flat, context.request)


@register.inclusion_tag("components/state.html")
def move(key: str) -> dict[str, Any]:
    """The mark of a site's next move; nothing where nothing is to be done."""
    known = move_of(key)
    return {} if known is None else {**_shown(known.mark), "whose": known.whose}
