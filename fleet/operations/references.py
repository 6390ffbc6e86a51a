"""The numbers by which others know a site: order, meter point, customer."""

from collections.abc import Iterable

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Site, SiteReference
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act
from fleet.operations.refusals import BadInput
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import require_at
from fleet.search import reindex

MOST_REFERENCES = 20
Reference = tuple[str, str]


class BadReference(BadInput):
    """A number's kind is unknown, or it is too long, or there are too many."""

    code = "bad_reference"


@unchanged_if_refused
@transaction.atomic
def state_references(*, actor: Member, site: Site, references: Iterable[Reference]) -> None:
    """The site is known by exactly these ``(kind, value)``; blank values say nothing.

    Raises UnknownSite, SiteRetired, BadReference, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    wanted = _clean(references)
    known = {(row.kind, row.value): row for row in SiteReference.objects.select_for_update().filter(site=site)}
    if set(known) == set(wanted):
        return
    gone = [row.pk for key, row in known.items() if key not in wanted]
    SiteReference.objects.filter(pk__in=gone).delete()
    SiteReference.objects.bulk_create(
        SiteReference(company_id=site.company_id, site=site, kind=kind, value=value)
        for kind, value in wanted
        if (kind, value) not in known
    )
    record_act(
        act="state_references", company=actor.company, about=site, actor=actor, site=site,
        before=_shown(known), after=_shown(wanted),
    )  # fmt: skip
    reindex([site.pk])


def _clean(references: Iterable[Reference]) -> list[Reference]:
    wanted = list(dict.fromkeys((kind, " ".join(value.split())) for kind, value in references if value.strip()))
    for kind, value in wanted:
        if kind not in SiteReference.Kind.values:
            raise BadReference(_("This kind of number is not known. Nothing was saved."), field="references")
        if len(value) > 80:
            raise BadReference(_("A number takes at most 80 characters. Nothing was saved."), field=kind)
    if len(wanted) > MOST_REFERENCES:
        raise BadReference(
            _("A site takes at most %(most)d numbers. Nothing was saved.") % {"most": MOST_REFERENCES},
            field="references",
        )
    return wanted


def _shown(references: Iterable[Reference]) -> dict[str, list[str]]:
    shown: dict[str, list[str]] = {}
    for kind, value in sorted(references):
        shown.setdefault(kind, []).append(value)
    return shown
