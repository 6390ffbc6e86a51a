"""Starting a company: the operator's act."""

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils.module_loading import import_string
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, CompanyPolicy, Member, Role, User
from fleet.operations.addresses import confirm_address, leave_unconfirmed
from fleet.operations.audit import record_act
from fleet.operations.refusals import BadInput
from fleet.operations.starter_lists import begin_catalogue


class BadCompany(BadInput):
    """The name or the administrator's address cannot be used."""

    code = "bad_company"


def create_company(
    *,
    name: str,
    admin_email: str,
    admin_name: str = "",
    password: str | None = None,
    starter_list: str = "",
    confirmed: bool = False,
) -> tuple[Company, Member]:
    """A company with its policy, its seeds and its first administrator (an existing user where the address is known).

    Its catalogue is empty, or begins with a starter list. Without ``password`` a new administrator sets one through
    "forgotten password". A new address is confirmed by the first mail that goes there, unless it is ``confirmed`` that
    mail to it is read. Raises BadCompany, NoSuchList.
    """
    if not name.strip() or len(name) > 120:
        raise BadCompany(_("A company's name takes 1 to 120 characters."), field="name")
    try:
        validate_email(admin_email.strip())
    except ValidationError as error:
        raise BadCompany(_("The administrator's e-mail address cannot be used."), field="admin_email") from error
    with transaction.atomic():
        company = Company.objects.create(name=name.strip())
        CompanyPolicy.objects.create(company=company)
        user = User.objects.filter(email__iexact=admin_email.strip()).first()
        if user is None:
            user = User.objects.create_user(admin_email, password, name=admin_name)
            _settle_address(user, confirmed)
        member = Member.objects.create(company=company, user=user, role=Role.ADMINISTRATOR)
        for seeder in settings.COMPANY_SEEDERS:
            import_string(seeder)(company)
        if starter_list:
            begin_catalogue(company, starter_list, member)
        record_act(act="create_company", company=company, about=company, after={"name": company.name})
    return company, member


def _settle_address(user: User, confirmed: bool) -> None:
    if confirmed:
        confirm_address(user)
        return
    leave_unconfirmed(user)
    import_string(settings.CONFIRM_ADDRESS)(user=user)
