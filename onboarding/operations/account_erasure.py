"""Erasing an account that nobody needs any more."""

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator

from fleet.models import Member, User
from fleet.operations.sessions import end_sessions
from onboarding.models import AddressChange, Delivery, Owner

NO_NAME = "—"
NOBODYS_DOMAIN = "erased.invalid"  # RFC 6761: never a real domain


def erase_account(user: User) -> bool:
    """Erase ``user`` unless the person is or was a member, or owns something elsewhere; says whether it was done.

    The row stays without a name, because ledger and audit entries point at it. Within a transaction.
    """
    if Member.objects.filter(user=user).exists() or Owner.objects.filter(user=user).exists():
        return False
    end_sessions(user)
    EmailAddress.objects.filter(user=user).delete()
    AddressChange.objects.filter(user=user).delete()
    Authenticator.objects.filter(user=user).delete()
    Delivery.objects.filter(user=user, company__isnull=True).update(to_address="", to_domain="", context={})
    user.email, user.name, user.language = f"{user.pk.hex}@{NOBODYS_DOMAIN}", NO_NAME, ""
    user.is_active = False
    user.set_unusable_password()
    user.save()
    return True
