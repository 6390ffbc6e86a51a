"""A company's people: members, open invitations, and what a member leaves behind."""

from uuid import UUID

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from fleet.models import Member, MemberInvitation


def members_of(member: Member) -> QuerySet[Member]:
    """Every member of the company with ``sites_expected`` (assignments), active ones first, by name."""
    return (
        Member.objects.filter(company_id=member.company_id)
        .select_related("user")
        .annotate(
            sites_expected=Count("assignments", distinct=True),
            live_tokens=Count("tokens", filter=_live(), distinct=True),
        )
        .order_by("-active", "user__name", "user__email")
    )


def member_by_id(member: Member, public_id: UUID | str) -> Member | None:
    """Another member of the same company."""
    return (
        Member.objects.filter(company_id=member.company_id, public_id=public_id)
        .select_related("user", "company")
        .first()
    )


def has_left(public_id: str) -> bool:
    """Whether this names a membership that has ended. Whoever asks knows the id, which nobody can guess."""
    try:
        return Member.objects.filter(public_id=UUID(public_id), active=False).exists()
    except ValueError:
        return False


def open_member_invitations(member: Member) -> QuerySet[MemberInvitation]:
    """Invitations of the company that were neither accepted nor withdrawn; expired ones too."""
    return (
        MemberInvitation.objects.filter(
            company_id=member.company_id, accepted_at__isnull=True, cancelled_at__isnull=True
        )
        .select_related("invited_by__user")
        .order_by("-id")
    )


def member_invitation_by_id(member: Member, public_id: UUID | str) -> MemberInvitation | None:
    """One invitation of the company."""
    return MemberInvitation.objects.filter(company_id=member.company_id, public_id=public_id).first()


def _live() -> Q:
    now = timezone.now()
    return Q(tokens__revoked_at__isnull=True) & (Q(tokens__expires_at__isnull=True) | Q(tokens__expires_at__gt=now))
