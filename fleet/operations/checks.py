"""Recording handover checks."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import HandoverCheck, Member, Site
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act
from fleet.operations.refusals import BadInput
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import require_at
from fleet.search import reindex


class BadCheck(BadInput):
    """The title, the finding or the note cannot be used."""

    code = "bad_check"


@unchanged_if_refused
@transaction.atomic
def record_check(*, actor: Member, site: Site, title: str, finding: str, note: str = "") -> HandoverCheck:
    """Write down what was found; a check is known by its title at the site, and each finding is audited.

    Raises UnknownSite, SiteRetired, BadCheck, NotAllowed (waiving is an administrator's act).
    """
    require_at(actor, Act.WAIVE_CHECK if finding == HandoverCheck.Finding.WAIVED else Act.RECORD_CHECK, site)
    title = title.strip()
    if not title or len(title) > 120 or finding not in HandoverCheck.Finding.values or len(note) > 2000:
        raise BadCheck(_("A check takes a title of 1 to 120 characters, a finding and a note of at most 2000."))
    check, _made = HandoverCheck.objects.get_or_create(site=site, title=title, defaults={"company": actor.company})
    before = {"finding": check.finding, "note": check.note}
    HandoverCheck.objects.filter(pk=check.pk).update(
        finding=finding, note=note.strip(), found_by=actor, found_at=timezone.now()
    )
    check.refresh_from_db()
    record_act(
        act="record_check", company=actor.company, about=check, actor=actor, site=site,
        before=before, after={"title": title, "finding": finding, "note": check.note},
    )  # fmt: skip
    reindex([site.pk])
    return check
