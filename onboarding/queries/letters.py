"""The printed letter by whose code an owner came in."""

from onboarding.models import InvitationLink, Owner


def letter_behind(owner: Owner) -> InvitationLink | None:
    """The latest letter to ``owner``, with who printed it."""
    letters = InvitationLink.objects.filter(invitation__owner=owner, kind=InvitationLink.Kind.LETTER)
    return letters.select_related("made_by__user").order_by("-id").first()
