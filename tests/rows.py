"""Rows for tests, written straight into the tables: plain functions with sensible defaults.

A test of an act calls the act; these make what must stand before it.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from random import Random
from typing import Any
from uuid import UUID

from django.utils import timezone

from fleet.labels.sitecode import new_site_code
from fleet.models import (
    Assignment,
    Company,
    CompanyPolicy,
    Device,
    DeviceModel,
    Kind,
    Maker,
    Member,
    Placement,
    Role,
    Site,
    Stage,
    User,
)
from onboarding.models import (
    ConsentEntry,
    ConsentState,
    Delivery,
    DeliveryState,
    Evidence,
    Invitation,
    InvitationState,
    LedgerHead,
    Owner,
    Ownership,
    Purpose,
    Stream,
)

PASSWORD = "a long enough password"
LONG_AGO = datetime(2026, 1, 1, tzinfo=UTC)
_numbers: Iterator[int] = count(1)
_random = Random(20260101)


def make_company(name: str = "", **fields: Any) -> Company:
    """A company with its policy and its ledger's head row."""
    company = Company.objects.create(name=name or f"Company {next(_numbers)}", **fields)
    CompanyPolicy.objects.create(company=company)
    LedgerHead.objects.create(company=company)
    return company


def make_user(email: str = "", password: str | None = PASSWORD, **fields: Any) -> User:
    """A user who can sign in with PASSWORD."""
    return User.objects.create_user(email or f"person{next(_numbers)}@example.org", password, **fields)


def make_member(role: str = Role.ADMINISTRATOR, company: Company | None = None, **fields: Any) -> Member:
    """A member, with a new user and a new company where none is given."""
    user = fields.pop("user", None) or make_user()
    return Member.objects.create(company=company or make_company(), user=user, role=role, **fields)


def make_site(company: Company, **fields: Any) -> Site:
    """A site on an invented street."""
    number = next(_numbers)
    given = {
        "code": new_site_code(_random),
        "street": "Rua da Amoreira Velha",
        "house_number": str(number),
        "postcode": "7000-001",
        "town": "Vila Serena",
        "time_zone": "Europe/Lisbon",
        "stage": Stage.INSTALLED,
    }
    return Site.objects.create(company=company, **(given | fields))


def make_model(company: Company, name: str = "", kind: str = Kind.INVERTER, maker: str = "Solvento", **fields: Any):
    """A model of an invented maker."""
    made_by, _ = Maker.objects.get_or_create(company=company, name=maker)
    return DeviceModel.objects.create(
        company=company, maker=made_by, name=name or f"SV-{next(_numbers)}", kind=kind, **fields
    )


def make_device(company: Company, serial: str = "", **fields: Any) -> Device:
    """A device that stands nowhere yet."""
    serial = serial or f"SN{next(_numbers):07d}"
    given = {"serial": serial, "serial_folded": serial.lower(), "kind": Kind.INVERTER}
    return Device.objects.create(company=company, **(given | fields))


def place(device: Device, site: Site, since: datetime = LONG_AGO, **fields: Any) -> Placement:
    """An open placement of ``device`` at ``site``."""
    return Placement.objects.create(company=site.company, device=device, site=site, since=since, **fields)


def assign(member: Member, site: Site) -> Assignment:
    """``member`` is expected at ``site``."""
    return Assignment.objects.create(company=site.company, member=member, site=site)


def make_owner(company: Company, email: str = "", **fields: Any) -> Owner:
    """An owner without an account."""
    number = next(_numbers)
    given = {"name": f"Owner Number {number}", "email": email or f"owner{number}@example.com"}
    return Owner.objects.create(company=company, **(given | fields))


def own(owner: Owner, site: Site, since: datetime = LONG_AGO, **fields: Any) -> Ownership:
    """An open ownership."""
    return Ownership.objects.create(company=site.company, site=site, owner=owner, since=since, **fields)


def make_consent(
    site: Site,
    owner: Owner,
    purpose: str = Purpose.CONTACT,
    state: str = ConsentState.GIVEN,
    evidence: str = Evidence.STAFF_STATEMENT,
) -> ConsentEntry:
    """A ledger line with its standing."""
    from onboarding.operations.ledger import Line, append

    line = Line(site=site, owner=owner, purpose=purpose, state=state, evidence=evidence, indicated_by="owner")
    return append([line])[0]


def make_invitation(site: Site, owner: Owner, state: str = InvitationState.SENT, **fields: Any) -> Invitation:
    """An invitation without a link."""
    given = {"send_number": 1, "expires_at": timezone.now() + timedelta(days=30)}
    if state == InvitationState.HELD:
        given["held_reason"] = "no_consent"
    return Invitation.objects.create(company=site.company, site=site, owner=owner, state=state, **(given | fields))


def make_delivery(invitation: Invitation, state: str = DeliveryState.SENT, **fields: Any) -> Delivery:
    """One delivery of an invitation."""
    number = next(_numbers)
    address = invitation.owner.email
    given = {
        "stream": Stream.INVITATION,
        "legal_basis": "consent",
        "template": "invitation",
        "to_address": address,
        "to_domain": address.rpartition("@")[2],
        "send_number": invitation.send_number,
        "message_id": f"<{number}@example.org>",
        "return_token": f"return-{number}",
        "give_up_at": timezone.now() + timedelta(days=2),
    }
    return Delivery.objects.create(
        company=invitation.company, invitation=invitation, owner=invitation.owner, state=state, **(given | fields)
    )


def make_uuid() -> UUID:
    """A UUID from the tests' own sequence."""
    return UUID(int=_random.getrandbits(128), version=4)
