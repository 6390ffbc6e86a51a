"""Rows for tests, made as the acts would make them, with as little as the schema asks for."""

from datetime import UTC, datetime
from itertools import count
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from django.db import transaction

from fleet.models import Company, CompanyPolicy, Member, Role, Site, User
from fleet.operations.captures import Capture
from fleet.operations.sites import SiteFacts, register_site

if TYPE_CHECKING:
    from onboarding.models import ConsentEntry, Invitation, Owner

PASSWORD = "a long enough password for tests"
NOON = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
_numbers = count(1)


def make_user(email: str = "", *, password: str | None = None, **fields: Any) -> User:
    """A user; the address is drawn where none is given."""
    return User.objects.create_user(email or f"person{next(_numbers)}@example.org", password, **fields)


def make_company(name: str = "Telhado Claro", **policy: Any) -> Company:
    """A company with its policy."""
    company = Company.objects.create(name=name)
    CompanyPolicy.objects.create(company=company, **policy)
    return company


def make_member(company: Company | None = None, role: str = Role.OFFICE, user: User | None = None) -> Member:
    """An active member of a company, which is made where none is given."""
    company = company or make_company()
    return Member.objects.create(company=company, user=user or make_user(), role=role)


def make_site(actor: Member, **facts: Any) -> Site:
    """A site registered by ``actor``."""
    facts = {"street": "Rua das Amendoeiras", "house_number": str(next(_numbers)), "town": "Tavira"} | facts
    return register_site(actor=actor, facts=SiteFacts(**facts))


def make_capture(site: Site, raw: str = "", **fields: Any) -> Capture:
    """A capture of a GS1 label with a serial of its own, unless ``raw`` says otherwise."""
    raw = raw or f"010952012345678821SN{next(_numbers):06d}"
    given: dict[str, Any] = {"id": uuid4(), "format": "]d2", "source": "camera", "scanned_at": NOON} | fields
    return Capture(site_code=site.code, raw=raw, **given)


def make_owner(actor: Member, site: Site, **facts: Any) -> "Owner":
    """An owner of ``site``, with an address of their own unless ``email`` says otherwise."""
    from onboarding.operations.owners import register_owner

    number = next(_numbers)
    facts = {"name": "Inês Exemplo", "email": f"owner{number}@example.net"} | facts
    return register_owner(actor=actor, site=site, **facts)


def make_contact_consent(actor: Member, site: Site, owner: "Owner") -> "ConsentEntry":
    """What staff report: the owner may be written to."""
    from onboarding.operations.consents import record_consent

    return record_consent(actor=actor, site=site, owner=owner, purpose="contact", state="given", how="staff_statement")


def make_invitation(actor: Member, site: Site, owner: "Owner") -> "tuple[Invitation, str]":
    """A sent invitation with the token of its mail."""
    from onboarding.operations.invitation_links import mint_link
    from onboarding.operations.invitation_results import mark_sent
    from onboarding.operations.invitations import queue_invitation
    from onboarding.operations.wordings import seed_wordings

    seed_wordings(site.company)
    make_contact_consent(actor, site, owner)
    invitation = queue_invitation(actor=actor, site=site, owner=owner)
    token = mint_link(invitation=invitation, send_number=invitation.send_number)
    delivery = invitation.deliveries.get()
    delivery.state = "sent"
    delivery.save()
    with transaction.atomic():
        mark_sent([delivery])
    invitation.refresh_from_db()
    return invitation, token
