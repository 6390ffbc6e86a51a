"""Owners who may be invited: the one definition behind Today, the sites' filter, the page, the API and the bulk act."""

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from fleet.models import Member
from fleet.queries.visibility import visible_sites
from onboarding.ledger.standing import GRANTING
from onboarding.models import ConsentStanding, Invitation, InvitationState, Ownership, Purpose


def never_invited(member: Member) -> QuerySet[Ownership]:
    """Owners who may be written to, have no account, and to whom nothing was ever sent; newest first.

    Their sites are those whose next move is *invite*: the summary says so by the same rule (``summaries``), and finds
    them by its index. Whoever said no, was called off, came back or complained is not here.
    """
    theirs = Invitation.objects.filter(site=OuterRef("site"), owner=OuterRef("owner"))
    only_drafts = ~Exists(theirs.exclude(state=InvitationState.DRAFT))
    return _may_be_invited(member).filter(only_drafts, site__summary__next_move="invite")


def ran_out(member: Member) -> QuerySet[Ownership]:
    """Owners who may be written to and whose last invitation ran out unanswered; newest first, with ``ended_at``."""
    theirs = Invitation.objects.filter(site=OuterRef("site"), owner=OuterRef("owner")).order_by("-id")
    before = Invitation.objects.filter(company_id=member.company_id, state__in=("expired", "replaced"))
    rows = _may_be_invited(member).filter(owner__in=before.values("owner"))
    rows = rows.annotate(last=Subquery(theirs.values("state")[:1]), ended_at=_last_end(theirs))
    taken_back = Q(last=InvitationState.DRAFT) & Exists(theirs.filter(state=InvitationState.REPLACED))
    return rows.filter(Q(last=InvitationState.EXPIRED) | taken_back)


def ready_to_invite(member: Member) -> QuerySet[Ownership]:
    """Both: whom the bulk act may invite."""
    both = never_invited(member).order_by().values("pk"), ran_out(member).order_by().values("pk")
    return _may_be_invited(member).filter(Q(pk__in=both[0]) | Q(pk__in=both[1]))


def _last_end(theirs: QuerySet[Invitation]) -> Subquery:
    return Subquery(theirs.filter(ended_at__isnull=False).values("ended_at")[:1])


def _may_be_invited(member: Member) -> QuerySet[Ownership]:
    permitted = ConsentStanding.objects.filter(
        site=OuterRef("site"), owner=OuterRef("owner"), purpose=Purpose.CONTACT, state__in=GRANTING
    )
    return (
        Ownership.objects.filter(
            Exists(permitted),
            company_id=member.company_id,
            until__isnull=True,
            owner__user__isnull=True,
            site__retired_at__isnull=True,
            site__in=visible_sites(member),
        )
        .select_related("site", "owner")
        .order_by("-id")
    )
