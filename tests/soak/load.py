"""Run as a process of its own: queue invitations by the acts that people use, in one transaction a hundred."""

import sys

import django


def load(invitations: int, batch: str) -> None:
    """Queue ``invitations`` of one company; every eighth address asks for trouble (see ``sink.py``)."""
    from django.db import transaction

    from fleet.models import CompanyPolicy
    from onboarding.operations.invitations import queue_invitation
    from onboarding.operations.wordings import seed_wordings
    from tests.factories import make_company, make_contact_consent, make_member, make_owner, make_site, make_user

    with transaction.atomic():
        actor = make_member(make_company(), user=make_user(f"staff.{batch}@example.org"))
        seed_wordings(actor.company)
        CompanyPolicy.objects.update(daily_mail_limit=10_000_000)
    for start in range(0, invitations, 100):
        with transaction.atomic():
            for number in range(start, min(start + 100, invitations)):
                site = make_site(actor)
                owner = make_owner(actor, site, email=address(number, batch))
                make_contact_consent(actor, site, owner)
                queue_invitation(actor=actor, site=site, owner=owner)


def address(number: int, batch: str) -> str:
    """The invented owner's address; its first word tells the sink what to do."""
    moods = {8: "busy", 24: "later", 40: "refused", 56: "silent", 72: "dropped"}
    return f"{moods.get(number % 400, 'fine')}.{number}.{batch}@example.net"


if __name__ == "__main__":
    django.setup()
    load(int(sys.argv[1]), sys.argv[2])
