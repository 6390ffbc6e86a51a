"""Rows for tests, made as the acts would make them, with as little as the schema asks for."""

from datetime import UTC, datetime
from itertools import count
from typing import Any
from uuid import uuid4

from fleet.models import Company, CompanyPolicy, Member, Role, Site, User
from fleet.operations.captures import Capture
from fleet.operations.sites import SiteFacts, register_site

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
    fields = {"id": uuid4(), "format": "]d2", "source": "camera", "scanned_at": NOON} | fields
    return Capture(site_code=site.code, raw=raw, **fields)
