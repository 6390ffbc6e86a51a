"""Which wording is asked now."""

from collections.abc import Iterable

from django.conf import settings
from django.db.models import QuerySet

from fleet.models import Company, Member
from onboarding.models import Purpose, Wording

FALLBACK_LANGUAGE = "en"


def current_wordings(company: Company, language: str) -> dict[str, Wording]:
    """The newest wording of each purpose, ``{purpose: wording}``, in ``language``, else its base, else English."""
    newest = newest_wordings(company)
    found = {}
    for purpose in Purpose.values:
        chosen = _in_language(purpose, language, newest)
        if chosen is not None:
            found[purpose] = chosen
    return found


def newest_wordings(company: Company) -> dict[tuple[str, str], Wording]:
    """The newest version of each wording, ``{(purpose, language): wording}``."""
    return {
        (wording.purpose, wording.language): wording
        for wording in Wording.objects.filter(company=company).order_by("version")
    }


def languages_offered(company: Company) -> list[tuple[str, str]]:
    """The languages that the company writes wordings in: ``[(code, name)]``; by its policy, else all of the house."""
    chosen = set(company.policy.languages or [])
    return [(code, str(name)) for code, name in settings.WORDING_LANGUAGES if not chosen or code in chosen]


def wordings_of(member: Member) -> QuerySet[Wording]:
    """Every version of every wording of the member's company, newest first."""
    return Wording.objects.filter(company_id=member.company_id).order_by("purpose", "language", "-version")


def _in_language(purpose: str, language: str, newest: dict[tuple[str, str], Wording]) -> Wording | None:
    for candidate in _candidates(language):
        if (purpose, candidate) in newest:
            return newest[purpose, candidate]
    return next((wording for (about, _language), wording in sorted(newest.items()) if about == purpose), None)


def _candidates(language: str) -> Iterable[str]:
    yield language
    yield language.partition("-")[0]
    yield FALLBACK_LANGUAGE
