"""What a stranger who knows an owner would try first as their password."""

from fleet.models import User
from onboarding.models import Owner, Ownership

MOST_SITES = 20


def words_about_owner(user: User) -> list[str]:
    """The names, companies and roofs of ``user`` as an owner; none for anybody else."""
    rows = list(Owner.objects.filter(user=user, erased_at__isnull=True).values_list("name", "company__name"))
    if not rows:
        return []
    owned = Ownership.objects.filter(owner__user=user, until__isnull=True).order_by("id")
    roofs = owned.values_list("site__name", "site__street", "site__town", "site__code")[:MOST_SITES]
    return [word for row in (*rows, *roofs) for word in row if word]
