"""Who does the job in the flows."""

from fleet.models import Member, User
from fleet.operations.companies import create_company
from onboarding.management.synthetic.catalogue import invent_catalogue


def company_with(user: User, role: str) -> Member:
    """A company started as the operator starts it, with ``user`` working there as ``role``."""
    company, _administrator = create_company(name="Telhado Claro", admin_email="leonor@example.org")
    invent_catalogue(company)
    return Member.objects.create(company=company, user=user, role=role)
