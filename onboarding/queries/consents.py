"""What the ledger amounts to: who permitted what, at which site, and on what it rests."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from fleet.models import Site
from onboarding.ledger.standing import GRANTING, SAYS_NO, Fact, permits, warned_from
from onboarding.models import ConsentEntry, ConsentStanding, ConsentState, Evidence, Owner, Purpose, Wording


@dataclass(frozen=True)
class Permission:
    """One purpose for one owner at one site, as people read it. ``standing`` is None where nobody asked yet."""

    purpose: Purpose
    standing: ConsentStanding | None

    @property
    def given(self) -> bool:
        """Whether the answer now is yes, strong or weak."""
        return self.standing is not None and self.standing.state in GRANTING and not self.ran_out

    @property
    def ran_out(self) -> bool:
        """Whether it was a yes whose time is over: neither yes nor no, it is asked again."""
        standing = self.standing
        if standing is None:
            return False
        over = standing.ends_at is not None and standing.ends_at <= timezone.now()
        return standing.state == ConsentState.EXPIRED or (standing.state in GRANTING and over)

    @property
    def settled(self) -> bool:
        """Whether the person has answered in a way that counts: a yes of their own, or any no."""
        return self.strong or (self.standing is not None and self.standing.state in SAYS_NO)

    @property
    def strong(self) -> bool:
        """Whether the yes rests on the owner's own act, a signature or a paper."""
        return self.given and self.standing is not None and self.standing.strong

    @property
    def ends_soon(self) -> bool:
        """Whether the yes runs out so soon that people are told of it."""
        standing = self.standing
        if standing is None or standing.ends_at is None or not self.given:
            return False
        return warned_from(standing.at, standing.ends_at) <= timezone.now()

    @property
    def older_text(self) -> bool:
        """Whether the yes was given to a text that has a newer version in the same language."""
        return self.given and bool(getattr(self.standing, "older_text", False))

    @property
    def unsettled(self) -> bool:
        """Whether an older no overrules a later yes, until somebody asks again."""
        return not self.given and bool(getattr(self.standing, "overrules_later_yes", False))

    @property
    def by_letter(self) -> bool:
        """Whether the yes was given with a letter's code, and nothing else confirms it."""
        return self.reported and self.standing is not None and self.standing.entry.evidence == Evidence.LETTER

    @property
    def reported(self) -> bool:
        """Whether the yes is only what others report."""
        return self.given and not self.strong


def permissions(site: Site, owner: Owner) -> list[Permission]:
    """Every purpose with its standing for one owner at a site, in the order they are asked."""
    found = {row.purpose: row for row in standings([site.pk]) if row.owner_id == owner.pk}
    return [Permission(Purpose(purpose), found.get(purpose)) for purpose in Purpose.values]


def standings(site_ids: Iterable[int]) -> list[ConsentStanding]:
    """The standings of sites, with entry and wording, and whether its text has a newer version (``older_text``)."""
    rows = ConsentStanding.objects.filter(site_id__in=list(site_ids)).annotate(overrules_later_yes=_later_yes_before())
    return list(with_older_text(rows).select_related("entry", "entry__wording", "owner"))


def _later_yes_before() -> Exists:
    """Whether a standing's entry arrived after a yes that was said later than it."""
    return Exists(
        ConsentEntry.objects.filter(
            site=OuterRef("site"), owner=OuterRef("owner"), purpose=OuterRef("purpose"), state__in=GRANTING,
            at__gt=OuterRef("at"), position__lt=OuterRef("entry__position"),
        )
    )  # fmt: skip


def with_older_text(rows: QuerySet[ConsentStanding]) -> QuerySet[ConsentStanding]:
    """``rows`` annotated with ``older_text``: the text that was answered has a newer version in its language."""
    return rows.annotate(older_text=Exists(superseded_wordings().filter(pk=OuterRef("entry__wording"))))


def superseded_wordings() -> QuerySet[Wording]:
    """Every wording that has a newer version for the same purpose in the same language."""
    newer = Wording.objects.filter(
        company=OuterRef("company"),
        purpose=OuterRef("purpose"),
        language=OuterRef("language"),
        version__gt=OuterRef("version"),
    )
    return Wording.objects.filter(Exists(newer))


def yes_now() -> Q:
    """A standing that says yes and whose time is not over, strong or weak."""
    return Q(state__in=GRANTING) & (Q(ends_at__isnull=True) | Q(ends_at__gt=timezone.now()))


def allowed(site: Site, owner: Owner, purpose: str, *, invitation: bool = False) -> bool:
    """Whether ``purpose`` is permitted now; with ``invitation`` a reported yes to ``contact`` is enough."""
    standing = ConsentStanding.objects.filter(yes_now(), site=site, owner=owner, purpose=purpose)
    row = standing.select_related("entry").first()
    return permits(purpose, fact_of(row.entry) if row else None, invitation=invitation)


def fact_of(entry: ConsentEntry) -> Fact:
    """The part of an entry that decides its weight."""
    return Fact(entry=str(entry.entry_id), state=entry.state, evidence=entry.evidence, at=entry.at)
