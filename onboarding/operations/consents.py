"""Recording, confirming and withdrawing what owners allow."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.acting import current_origin
from fleet.models import Member, Site, StoredFile, User
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import SiteRetired, is_retired, refuse_retired
from fleet.queries.visibility import may_see
from onboarding.ledger.standing import GRANTING, OPEN_TO_ASK, OWNERS_OWN, WEAK
from onboarding.models import ConsentEntry, ConsentStanding, ConsentState, Evidence, Owner, Ownership, Purpose, Wording
from onboarding.operations.consent_lines import personal_of, write_lines
from onboarding.operations.endings import end_what_is_over
from onboarding.operations.ledger import Line, lock_head
from onboarding.operations.suppressions import lift_by_owner
from onboarding.queries.consents import permissions
from onboarding.queries.letters import letter_behind
from onboarding.queries.wordings import current_wordings

STAFF_STATES = frozenset(
    {ConsentState.REQUESTED, ConsentState.GIVEN, ConsentState.REFUSED, ConsentState.WITHDRAWN, ConsentState.REVOKED}
)
ASKS_OR_GIVES = frozenset({ConsentState.REQUESTED, ConsentState.GIVEN})
STAFF_EVIDENCE = frozenset({Evidence.STAFF_STATEMENT, Evidence.PAPER_REFERENCE, Evidence.SIGNATURE})


class OwnerNotHere(NotThere):
    """This owner does not own this site now."""

    code = "owner_not_here"
    sentence = _("This person is not an owner of this site now. Nothing was recorded.")


class BadConsent(BadInput):
    """The purpose, state, evidence, reference or time cannot be used."""

    code = "bad_consent"


class OwnerSaidNo(Conflicting):
    """The owner's own no stands; what staff report cannot undo it."""

    code = "owner_said_no"
    sentence = _(
        "The owner said no to this themselves, so a report by staff does not undo it. Nothing was recorded. "
        "They can allow it on My site, or sign for it."
    )


class ConsentMismatch(Conflicting):
    """The same record id was sent before with other content."""

    code = "record_mismatch"
    sentence = _("A record with this id says something else already, so this one was not taken.")


class NothingToWithdraw(Conflicting):
    """The permission was not given, so there is nothing to withdraw."""

    code = "nothing_to_withdraw"
    sentence = _("This permission is not given now, so there is nothing to withdraw.")


@dataclass(frozen=True, kw_only=True)
class OwnersWord:
    """From where an owner's own act came: their user and the (hashed) session, both kept briefly."""

    user: User
    session: str = ""
    by_link: bool = False


@unchanged_if_refused
@transaction.atomic
def record_consent(
    *,
    actor: Member,
    site: Site,
    owner: Owner,
    purpose: str,
    state: str,
    how: str,
    reference: str = "",
    file: StoredFile | None = None,
    at: datetime | None = None,
    entry_id: uuid.UUID | None = None,
    wording: Wording | None = None,
) -> ConsentEntry:
    """Record what an owner said to a member, as exactly that; the same ``entry_id`` again returns the same entry.

    ``wording`` is the one that was shown, where that was not the current one: a phone without internet. What an entry
    that was written changed, or that it changed nothing, tells ``queries.effects.effect_of``.

    A retired site is asked and given nothing new; a no or a withdrawal is recorded there as well.
    Raises NotAllowed, OwnerNotHere, BadConsent, OwnerSaidNo, SiteRetired or ConsentMismatch.
    """
    require(actor, Act.RECORD_CONSENT)
    _require_here(actor, site, owner)
    _refuse_bad(site, purpose, state, how, reference, file)
    if entry_id and (earlier := ConsentEntry.objects.filter(company=actor.company, entry_id=entry_id).first()):
        return _same_or_refused(earlier, site, owner, purpose, state, how)
    if state in ASKS_OR_GIVES:
        refuse_retired(site)
    lock_head(site.company)
    end_what_is_over(site=site, owner=owner)
    if state == ConsentState.GIVEN and how in WEAK:
        _refuse_against_owners_no(site, owner, purpose)
    line = Line(
        site=site,
        owner=owner,
        purpose=purpose,
        state=state,
        evidence=how,
        at=min(at, timezone.now()) if at else None,
        indicated_by="owner",
        wording=wording or current_wordings(site.company, owner.language).get(purpose),
        member=actor,
        user=actor.user,
        on_behalf_of=str(owner.public_id),
        file_sha256=file.sha256 if file else "",
        entry_id=entry_id or uuid.uuid4(),
        personal=personal_of(owner) | {"reference": reference.strip()},
    )
    return write_lines([line], actor=actor)[0]


@unchanged_if_refused
@transaction.atomic
def confirm_consents(*, word: OwnersWord, owner: Owner, site: Site, choices: Mapping[str, bool]) -> list[ConsentEntry]:
    """Record the owner's own answers, each purpose alone: strong entries. Unchanged answers are confirmed again.

    Raises OwnerNotHere, BadConsent or SiteRetired (for a yes).
    """
    _require_theirs(word, owner, site)
    if any(choices.values()) and is_retired(site, held=False):
        raise SiteRetired
    if not choices or set(choices) - set(Purpose.values):
        raise BadConsent(errors={"choices": _("Answer for the purposes that were asked.")})
    if choices.get(Purpose.CONTACT) and owner.email:
        lift_by_owner(company=site.company, address=owner.email)
    wordings = current_wordings(site.company, owner.language)
    lock_head(site.company)
    end_what_is_over(site=site, owner=owner)
    lines = [
        _owners_line(
            word, owner, site, purpose, ConsentState.GIVEN if choices[purpose] else ConsentState.REFUSED,
            wordings.get(purpose),
        )
        for purpose in Purpose.values
        if purpose in choices
    ]  # fmt: skip
    return write_lines(lines, user=word.user)


@unchanged_if_refused
@transaction.atomic
def withdraw_consent(*, word: OwnersWord, owner: Owner, site: Site, purpose: str) -> ConsentEntry:
    """The owner withdraws one purpose on My site. Raises OwnerNotHere, BadConsent or NothingToWithdraw."""
    _require_theirs(word, owner, site)
    if purpose not in Purpose.values:
        raise BadConsent(errors={"purpose": _("This is not one of the purposes.")})
    if not any(each.given for each in permissions(site, owner) if each.purpose == purpose):
        raise NothingToWithdraw
    wording = current_wordings(site.company, owner.language).get(purpose)
    return write_lines([_owners_line(word, owner, site, purpose, ConsentState.WITHDRAWN, wording)], user=word.user)[0]


def _owners_line(word: OwnersWord, owner: Owner, site: Site, purpose: str, state: str, wording: Wording | None) -> Line:
    """One answer of the owner's account. Where that was opened with a letter's code and nobody confirmed it since, the
    answer is worth no more than the letter.
    """
    return Line(
        site=site,
        owner=owner,
        purpose=purpose,
        state=state,
        evidence=Evidence.LETTER if owner.account_by_letter else Evidence.OWNER_ONLINE,
        indicated_by="owner",
        letter=letter_behind(owner) if owner.account_by_letter else None,
        wording=wording,
        user=word.user,
        role="owner",
        personal=personal_of(owner) | {"session": word.session},
    )


@unchanged_if_refused
def record_co_owners_word(*, word: OwnersWord, named_by: Owner, owner: Owner, site: Site) -> ConsentEntry:
    """An owner says that another owner may be written to: weak, enough for the invitation. Within a transaction.

    Where the other owner said no before, their no stands and the entry is kept beside it.
    """
    line = Line(
        site=site,
        owner=owner,
        purpose=Purpose.CONTACT,
        state=ConsentState.GIVEN,
        evidence=Evidence.CO_OWNER,
        indicated_by=f"co_owner:{named_by.public_id}",
        wording=current_wordings(site.company, owner.language).get(Purpose.CONTACT),
        user=word.user,
        role="owner",
        on_behalf_of=str(owner.public_id),
        personal=personal_of(owner),
    )
    return write_lines([line], user=word.user)[0]


def disown(*, site: Site, owner: Owner, state: str) -> ConsentEntry:
    """Whoever holds the address says that it is not theirs: ``contact`` is no longer given. Within a transaction."""
    line = Line(
        site=site,
        owner=owner,
        purpose=Purpose.CONTACT,
        state=state,
        evidence=Evidence.OWNER_ONLINE,
        indicated_by="recipient",
        role="recipient",
        personal={"address": owner.email, "origin": current_origin()},
    )
    return write_lines([line])[0]


@unchanged_if_refused
def invalidate_letters_answers(*, standings: Sequence[ConsentStanding]) -> list[ConsentEntry]:
    """Whoever reads the owner's mail objects to what was answered with a letter's code. Within a transaction."""
    return write_lines(
        [
            Line(
                site=each.site, owner=each.owner, purpose=each.purpose, state=ConsentState.INVALIDATED,
                evidence=Evidence.OWNER_ONLINE, indicated_by="owner:objection", wording=each.entry.wording,
                role="recipient", personal={"address": each.owner.email, "origin": current_origin()},
            )
            for each in standings
        ]
    )  # fmt: skip


@unchanged_if_refused
def confirm_letters_answers(*, user: User, standings: Sequence[ConsentStanding]) -> list[ConsentEntry]:
    """The owner's mailbox answered: what was answered with a letter's code is said again, as the owner's own word, to
    the text that it was answered to. Within a transaction.
    """
    lines = [
        Line(
            site=each.site, owner=each.owner, purpose=each.purpose, state=each.state, evidence=Evidence.OWNER_ONLINE,
            indicated_by="owner", wording=each.entry.wording, user=user, role="owner", personal=personal_of(each.owner),
        )
        for each in standings
    ]  # fmt: skip
    return write_lines(lines, user=user) if lines else []


def _require_here(actor: Member, site: Site, owner: Owner) -> None:
    if not may_see(actor, site) or not _owns(owner, site):
        raise OwnerNotHere


def _require_theirs(word: OwnersWord, owner: Owner, site: Site) -> None:
    if owner.user_id != word.user.pk or not _owns(owner, site):
        raise OwnerNotHere


def _owns(owner: Owner, site: Site) -> bool:
    return Ownership.objects.filter(owner=owner, site=site, until__isnull=True).exists()


def _refuse_bad(site: Site, purpose: str, state: str, how: str, reference: str, file: StoredFile | None) -> None:
    errors = {}
    if purpose not in Purpose.values:
        errors["purpose"] = _("This is not one of the purposes.")
    if state not in STAFF_STATES:
        errors["state"] = _("Staff record asked, given, refused or withdrawn.")
    if how not in STAFF_EVIDENCE:
        errors["how"] = _("Say how it was said: spoken, on paper with a reference, or signed.")
    if how == Evidence.PAPER_REFERENCE and not reference.strip():
        errors["reference"] = _("Give the reference that the paper can be found by.")
    if len(reference) > 200:
        errors["reference"] = _("The reference takes at most 200 characters.")
    if how == Evidence.SIGNATURE and (file is None or file.site_id != site.pk):
        errors["file"] = _("Add the signature as a file at this site.")
    if errors:
        raise BadConsent(errors=errors)


def _refuse_against_owners_no(site: Site, owner: Owner, purpose: str) -> None:
    row = ConsentStanding.objects.filter(site=site, owner=owner, purpose=purpose).select_related("entry").first()
    if row and row.state not in GRANTING | OPEN_TO_ASK and row.entry.evidence in OWNERS_OWN:
        raise OwnerSaidNo


def _same_or_refused(
    earlier: ConsentEntry, site: Site, owner: Owner, purpose: str, state: str, how: str
) -> ConsentEntry:
    said = (earlier.site_id, earlier.owner_id, earlier.purpose, earlier.state, earlier.evidence)
    if said != (site.pk, owner.pk, purpose, state, how):
        raise ConsentMismatch
    return earlier
