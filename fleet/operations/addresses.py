"""Which address of an account its mailbox has confirmed."""

from allauth.account.models import EmailAddress

from fleet.models import User


def confirm_address(user: User) -> None:
    """The mailbox of ``user``'s address answered: it is theirs, and no other address is. Within a transaction."""
    address = user.email.lower()
    EmailAddress.objects.filter(user=user).exclude(email=address).delete()
    EmailAddress.objects.filter(email__iexact=address).exclude(user=user).delete()
    EmailAddress.objects.update_or_create(user=user, email=address, defaults={"primary": True, "verified": True})


def leave_unconfirmed(user: User) -> None:
    """Nobody has shown yet that they read mail to ``user``'s address. Within a transaction."""
    EmailAddress.objects.get_or_create(
        user=user, email=user.email.lower(), defaults={"primary": True, "verified": False}
    )


def is_confirmed(user: User) -> bool:
    """Whether the mailbox of ``user``'s address has answered."""
    return bool(EmailAddress.objects.filter(user=user, email=user.email.lower(), verified=True).exists())
