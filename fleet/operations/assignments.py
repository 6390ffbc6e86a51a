"""Saying who is expected at which site."""

from datetime import date

from django.db import transaction

from fleet.models import Assignment, Member, Site
from fleet.operations.audit import record_act
from fleet.operations.members import UnknownMember
from fleet.operations.permissions import Act, require
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import UnknownSite, require_at
from fleet.queries.visibility import may_see


@unchanged_if_refused
@transaction.atomic
def assign(*, actor: Member, member: Member, site: Site, until: date | None = None) -> Assignment:
    """``member`` is expected at the site until a day, inclusive.

    Raises UnknownSite, SiteRetired, UnknownMember, NotAllowed.
    """
    require_at(actor, Act.ASSIGN, site)
    if member.company_id != actor.company_id or not member.active:
        raise UnknownMember
    assignment, _made = Assignment.objects.update_or_create(
        member=member, site=site, defaults={"company": actor.company, "until": until}
    )
    record_act(
        act="assign_member", company=actor.company, about=member, actor=actor, site=site,
        after={"until": until.isoformat() if until else ""},
    )  # fmt: skip
    return assignment


@unchanged_if_refused
def unassign(*, actor: Member, member: Member, site: Site) -> None:
    """``member`` is not expected at the site any more; a retired site lets go of people too.

    Raises UnknownSite, UnknownMember, NotAllowed.
    """
    require(actor, Act.ASSIGN)
    if not may_see(actor, site):
        raise UnknownSite
    with transaction.atomic():
        gone, _per_table = Assignment.objects.filter(member=member, site=site, company_id=actor.company_id).delete()
        if not gone:
            raise UnknownMember
        record_act(act="unassign_member", company=actor.company, about=member, actor=actor, site=site)
