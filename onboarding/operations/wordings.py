"""Wordings: what a company's owners are asked, in numbered versions."""

from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting
from fleet.operations.rollback import unchanged_if_refused
from onboarding.ledger.texts import SEED_TEXTS, seed_particulars, seed_text, wording_digest
from onboarding.models import Purpose, Wording
from onboarding.queries.wordings import current_wordings

LONGEST_TEXT = 4000
SHORTEST_TEXT = 20


class BadWording(BadInput):
    """The text or its particulars cannot be used; ``facts["errors"]`` maps fields to messages."""

    code = "bad_wording"


class SameWording(Conflicting):
    """Nothing differs from the version in use."""

    code = "same_wording"
    sentence = _("This is word for word the version in use, so no new version was made.")


class WordingRace(Conflicting):
    """Somebody else published a version meanwhile."""

    code = "wording_race"
    sentence = _("Somebody else published a new version meanwhile. Yours was not published; compare it with theirs.")


def seed_wordings(company: Company) -> None:
    """Give a new company its first wordings; a company that has wordings keeps them as they are."""
    if Wording.objects.filter(company=company).exists():
        return
    for purpose, language in SEED_TEXTS:
        particulars = seed_particulars(
            purpose,
            language,
            company=company.name,
            contact=company.reply_email or company.phone or company.address,
            jurisdiction=company.country,
        )
        _write(company, purpose, language, 1, seed_text(purpose, language, company.name), dict(particulars), None)


@unchanged_if_refused
def publish_wording(*, actor: Member, purpose: str, language: str, text: str, particulars: dict[str, Any]) -> Wording:
    """Publish the next version of a wording. Entries made under earlier versions stay what they are.

    Raises NotAllowed, BadWording, SameWording or WordingRace.
    """
    require(actor, Act.MANAGE_COMPANY)
    text = "\n".join(line.rstrip() for line in text.replace("\r\n", "\n").strip().split("\n"))
    _refuse_bad(purpose, language, text)
    in_use = current_wordings(actor.company, language).get(purpose)
    if in_use and (in_use.language, in_use.text, in_use.particulars) == (language, text, particulars):
        raise SameWording
    with transaction.atomic():
        newest = Wording.objects.filter(company=actor.company, purpose=purpose, language=language)
        version = (newest.aggregate(highest=Max("version"))["highest"] or 0) + 1
        try:
            with transaction.atomic():
                wording = _write(actor.company, purpose, language, version, text, particulars, actor)
        except IntegrityError as error:
            raise WordingRace from error
        record_act(
            act="publish_wording",
            company=actor.company,
            about=wording,
            actor=actor,
            before={"version": in_use.version if in_use else None},
            after={"purpose": purpose, "language": language, "version": version},
        )
    return wording


def _write(
    company: Company,
    purpose: str,
    language: str,
    version: int,
    text: str,
    particulars: dict[str, Any],
    actor: Member | None,
) -> Wording:
    return Wording.objects.create(
        company=company,
        purpose=purpose,
        language=language,
        version=version,
        text=text,
        particulars=particulars,
        sha256=wording_digest(purpose=purpose, language=language, version=version, text=text, particulars=particulars),
        written_by=actor,
    )


def _refuse_bad(purpose: str, language: str, text: str) -> None:
    errors = {}
    if purpose not in Purpose.values:
        errors["purpose"] = _("This is not one of the purposes.")
    if not language or len(language) > 10:
        errors["language"] = _("Give the language by its short code, such as en or pt.")
    if not SHORTEST_TEXT <= len(text) <= LONGEST_TEXT:
        errors["text"] = _("The text takes between 20 and 4,000 characters.")
    if any(ord(character) < 32 and character != "\n" for character in text):
        errors["text"] = _("The text holds control characters; type it again without them.")
    if errors:
        raise BadWording(errors=errors)
