"""Who works at Telhado Claro and how they sign in. Passwords are drawn at the first start, kept in a file (0600)."""

import json
import os
import secrets
from dataclasses import dataclass
from pathlib import Path

from django.contrib.auth.hashers import make_password

from fleet.models import Company, Member, Role, User
from fleet.operations.addresses import confirm_address
from fleet.operations.companies import create_company

COMPANY = "Telhado Claro"


@dataclass(frozen=True)
class SignIn:
    """One demo sign-in as it is printed."""

    who: str
    email: str
    password: str


STAFF = (
    ("Leonor Alvereda", "leonor@telhado-claro.example", Role.ADMINISTRATOR, "administrator"),
    ("Duarte Brital", "duarte@telhado-claro.example", Role.OFFICE, "office"),
    ("Inês Cordelato", "ines@telhado-claro.example", Role.FIELD, "field"),
    ("Vasco Tordeleiro", "vasco@telhado-claro.example", Role.FIELD, "field, second team"),
)
OWNER = ("Graça Mondeleira", "graca.mondeleira@example.com", "owner")


def make_company(sign_ins: dict[str, SignIn]) -> tuple[Company, dict[str, Member]]:
    """The company with its members by address."""
    name, email, _role, _who = STAFF[0]
    company, administrator = create_company(
        name=COMPANY, admin_email=email, admin_name=name, password=sign_ins[email].password, confirmed=True
    )
    Company.objects.filter(pk=company.pk).update(
        reply_email="ola@telhado-claro.example",
        phone="+351 900 000 000",
        phone_hours="Monday to Friday, 8:30 to 18:00",
        address="Rua da Oficina Clara 4, Vila Serena",
    )
    company.refresh_from_db()
    members = {email: administrator}
    for name, email, role, _who in STAFF[1:]:
        user = User.objects.create_user(email, sign_ins[email].password, name=name)
        members[email] = Member.objects.create(company=company, user=user, role=role)
    for member in members.values():
        confirm_address(member.user)
    return company, members


def sign_ins(kept_in: Path) -> dict[str, SignIn]:
    """The demo's sign-ins by address, drawn at the first call and the same ever after."""
    if not kept_in.exists():
        drawn = {email: secrets.token_urlsafe(12) for email in (*(row[1] for row in STAFF), OWNER[1])}
        kept_in.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(kept_in, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
            json.dump(drawn, stream)
    passwords = json.loads(kept_in.read_text(encoding="utf-8"))
    named = [(email, f"{name} ({who})") for name, email, _role, who in STAFF] + [(OWNER[1], f"{OWNER[0]} ({OWNER[2]})")]
    return {email: SignIn(who, email, passwords[email]) for email, who in named}


NO_PASSWORD = make_password(None)
