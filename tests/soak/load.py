"""Run as a process of its own: queue invitations by the act that people use, in one transaction a hundred.

What stands before an invitation (sites, owners, permissions) is written in bulk, which the soak is not about.
"""

import sys
from random import Random
from typing import TYPE_CHECKING

import django

if TYPE_CHECKING:
    from fleet.models import Member, Site
    from onboarding.models import Owner


def load(invitations: int, batch: str) -> None:
    """Queue ``invitations`` of one company; one address in eighty asks for trouble (see ``sink.py``)."""
    from django.db import transaction

    from fleet.models import CompanyPolicy
    from onboarding.operations.invitations import queue_invitation
    from onboarding.operations.wordings import seed_wordings
    from tests.factories import make_company, make_member, make_user

    with transaction.atomic():
        actor = make_member(make_company(), user=make_user(f"staff.{batch}@example.org"))
        seed_wordings(actor.company)
        CompanyPolicy.objects.update(daily_mail_limit=10_000_000)
    draw = Random(batch)
    for start in range(0, invitations, 100):
        with transaction.atomic():
            numbers = range(start, min(start + 100, invitations))
            for site, owner in _owned_sites(actor, [address(number, batch) for number in numbers], draw):
                queue_invitation(actor=actor, site=site, owner=owner)


def address(number: int, batch: str) -> str:
    """The invented owner's address; its first word tells the sink what to do. There are many domains, because a busy
    server's pause holds back all mail to its domain.
    """
    moods = {8: "busy", 24: "later", 40: "refused", 56: "silent", 72: "dropped"}
    return f"{moods.get(number % 400, 'fine')}.{number}.{batch}@d{number % 200}.example.net"


def _owned_sites(actor: "Member", addresses: list[str], draw: Random) -> "list[tuple[Site, Owner]]":
    """A site for each address, with its owner and what staff reported: the owner may be written to."""
    from django.utils import timezone

    from fleet.labels.sitecode import new_site_code
    from fleet.models import Site
    from fleet.search import reindex
    from onboarding.models import Owner, Ownership
    from onboarding.operations.ledger import Line
    from onboarding.operations.ledger_batch import append_first_words

    company, now = actor.company, timezone.now()
    sites = Site.objects.bulk_create(
        Site(company=company, code=new_site_code(draw), street="Rua das Amendoeiras", town="Tavira", time_zone="UTC")
        for _address in addresses
    )
    owners = Owner.objects.bulk_create(
        Owner(company=company, name="Inês Exemplo", email=address) for address in addresses
    )
    owned = list(zip(sites, owners, strict=True))
    Ownership.objects.bulk_create(
        Ownership(company=company, site=site, owner=owner, since=now) for site, owner in owned
    )
    lines = [
        Line(site=site, owner=owner, purpose="contact", state="given", evidence="staff_statement",
             indicated_by="owner", member=actor, user=actor.user)
        for site, owner in owned
    ]  # fmt: skip
    append_first_words(company, lines)
    reindex(site.pk for site in sites)
    return owned


if __name__ == "__main__":
    django.setup()
    load(int(sys.argv[1]), sys.argv[2])
