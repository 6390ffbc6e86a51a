"""What became of the invitations of one press."""

from uuid import UUID

from django.db.models import Count, Exists, OuterRef, QuerySet

from fleet.models import Member
from fleet.queries.visibility import visible_sites
from onboarding.models import Invitation, InvitationBatch


def batch_of(member: Member, public_id: UUID) -> InvitationBatch | None:
    """The press with this id, if the member may see a site that it invited an owner of."""
    seen = Invitation.objects.filter(batch=OuterRef("pk"), site__in=visible_sites(member))
    return InvitationBatch.objects.filter(Exists(seen), company_id=member.company_id, public_id=public_id).first()


def invitations_of_batch(member: Member, batch: InvitationBatch) -> QuerySet[Invitation]:
    """The invitations of a press at the sites that the member may see."""
    return Invitation.objects.filter(batch=batch, site__in=visible_sites(member)).order_by("id")


def numbers_of(member: Member, batch: InvitationBatch) -> dict[str, int]:
    """How many of a press stand in each state."""
    rows = invitations_of_batch(member, batch).order_by().values_list("state").annotate(number=Count("id"))
    return dict(rows)
