"""Listing the domains whose links identify devices (IEC 61406-1)."""

import re

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import LinkDomain, Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused

_LABEL = r"[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?"
_HOST = re.compile(rf"(?=.{{1,253}}\Z)(?:{_LABEL}\.)+{_LABEL}")  # RFC 1123, section 2.1, with at least one dot


class BadDomain(BadInput):
    """Not a domain name."""

    code = "bad_domain"
    sentence = _("This is not a domain name. Write only the name, such as id.example.com. Nothing was added.")


class DomainListed(Conflicting):
    """The domain is listed already."""

    code = "domain_listed"
    sentence = _("This domain is listed already.")


class UnknownDomain(NotThere):
    """No such domain on the company's list."""

    code = "unknown_domain"


@unchanged_if_refused
def list_domain(*, actor: Member, domain: str) -> LinkDomain:
    """Take links of this domain for identification links. Raises BadDomain, DomainListed, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    domain = domain.strip().lower().rstrip(".")
    if not _HOST.fullmatch(domain):
        raise BadDomain(field="domain")
    try:
        with transaction.atomic():
            listed = LinkDomain.objects.create(company=actor.company, domain=domain)
            record_act(act="list_domain", company=actor.company, about=listed, actor=actor, after={"domain": domain})
    except IntegrityError as error:
        raise DomainListed(field="domain") from error
    return listed


@unchanged_if_refused
def unlist_domain(*, actor: Member, domain: str) -> None:
    """Take links of this domain for identification links no longer. Raises UnknownDomain, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    with transaction.atomic():
        listed = LinkDomain.objects.filter(company_id=actor.company_id, domain=domain).first()
        if listed is None:
            raise UnknownDomain
        record_act(act="unlist_domain", company=actor.company, about=listed, actor=actor, before={"domain": domain})
        listed.delete()
