"""What recording an answer changed, in one sentence; above all that it changed nothing, and what stands instead."""

from dataclasses import dataclass

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from onboarding.ledger.standing import GRANTING, WEAK
from onboarding.models import ConsentEntry, ConsentStanding, ConsentState


@dataclass(frozen=True)
class Effect:
    """Whether an entry decides what stands now, and the sentence that says so."""

    changed: bool
    sentence: str


def effect_of(entry: ConsentEntry) -> Effect:
    """What ``entry``, just recorded, changed."""
    standing = ConsentStanding.objects.select_related("entry").get(
        site=entry.site_id, owner=entry.owner_id, purpose=entry.purpose
    )
    if standing.entry_id == entry.pk:
        return Effect(True, _meets_a_later_yes() if overrules_later_yes(entry) else _now_stands(entry))
    day = date_format(timezone.localtime(standing.at, entry.site.zone), "DATE_FORMAT")
    return Effect(False, _changed_nothing(entry, standing) % {"day": day})


def overrules_later_yes(entry: ConsentEntry) -> bool:
    """Whether this no was said before a yes that had arrived already, so that a person should ask again."""
    if entry.state in GRANTING:
        return False
    about = {"site": entry.site_id, "owner": entry.owner_id, "purpose": entry.purpose, "state__in": GRANTING}
    return ConsentEntry.objects.filter(**about, position__lt=entry.position, at__gt=entry.at).exists()


def _meets_a_later_yes() -> str:
    return _(
        "Recorded: an older no meets a later yes. The no stands until somebody asks the owner again and records "
        "the answer."
    )


def _now_stands(entry: ConsentEntry) -> str:
    if entry.state == ConsentState.REQUESTED:
        return _("Recorded that the owner was asked. Their answer is still open.")
    if entry.state not in GRANTING:
        return _("Recorded: this is not allowed, or not any more.")
    if entry.evidence in WEAK:
        return _("Recorded, as what was said to you. The owner confirms it on accepting.")
    return _("Recorded, with what it rests on. It is allowed from now on.")


def _changed_nothing(entry: ConsentEntry, standing: ConsentStanding) -> str:
    if standing.at > entry.at:
        return _("Recorded, but it changes nothing: the answer of %(day)s is later and stands.")
    if entry.state == ConsentState.REQUESTED:
        return _("Recorded that the owner was asked, but it changes nothing: their answer of %(day)s stands.")
    if standing.state in GRANTING:
        return _(
            "Recorded, but it changes nothing: the yes of %(day)s stands and rests on more than a report. To renew it, "
            "ask for a signature, a paper, or their answer on My site."
        )
    return _(
        "Recorded, but it changes nothing: the no of %(day)s stands and rests on more than a report. A signature, a "
        "paper, or the owner’s answer on My site changes it."
    )
