"""Which address of an account its mailbox has confirmed."""

from allauth.account.models import EmailAddress
from django.db.models import Q

from fleet.models import User


def confirm_address(user: User, *, fresh: bool = False) -> None:
    """The mailbox of ``user``'s address answered: it is theirs, and no other address is. Within a transaction.

    Of a ``fresh`` account nothing was kept before.
    """
    address = user.email.lower()
    rows = [] if fresh else list(EmailAddress.objects.filter(Q(user=user) | Q(email__iexact=address)))
    if [(row.user_id, row.email, row.primary, row.verified) for row in rows] == [(user.pk, address, True, True)]:
        return
    if rows:
        EmailAddress.objects.filter(pk__in=[row.pk for row in rows]).delete()
    EmailAddress.objects.create(user=user, email=address, primary=True, verified=True)


def leave_unconfirmed(user: User) -> None:
    """Nobody has shown yet that they read mail to ``user``'s address. Within a transaction."""
    EmailAddress.objects.get_or_create(
        user=user, email=user.email.lower(), defaults={"primary": True, "verified": False}
    )


def is_confirmed(user: User) -> bool:
    """Whether the mailbox of ``user``'s address has answered."""
    return bool(EmailAddress.objects.filter(user=user, email=user.email.lower(), verified=True).exists())
