"""What index and lists read of a site's owners, their permissions and their invitations."""

from collections import Counter
from collections.abc import Iterator
from datetime import datetime

from fleet.search.sources import Facts, Part, Rows, Source, moment_of
from fleet.search.words import Field, Shape, Word
from onboarding.models import Purpose
from onboarding.summaries import Invited, Owning, Permission, onboarding_facts

_PARTS = (
    Part("service", "fleet_site AS served", "served.id", ("CASE WHEN retired_at IS NULL THEN '' ELSE 'retired' END",)),
    Part(
        "ownership",
        "onboarding_ownership AS owning JOIN onboarding_owner AS owner ON owner.id = owning.owner_id",
        "owning.site_id",
        (
            "CASE WHEN owning.until IS NULL THEN '' ELSE 'past' END",
            "CASE WHEN owner.erased_at IS NULL THEN '' ELSE 'erased' END",
            "owner.name",
            "owner.email",
            "owner.phone",
            "CAST(owning.since AS text)",
            "CAST(owning.id AS text)",
            "CAST(owning.owner_id AS text)",
            "CASE WHEN owner.user_id IS NULL THEN '' ELSE 'account' END",
        ),
    ),
    Part(
        "invitation",
        "onboarding_invitation AS invitation",
        "invitation.site_id",
        (
            "CAST(invitation.id AS text)",
            "CAST(owner_id AS text)",
            "state",
            "held_reason",
            "CAST(COALESCE(ended_at, sent_at, created_at) AS text)",
        ),
    ),
    Part(
        "standing",
        "onboarding_consentstanding AS standing",
        "standing.site_id",
        (
            "CAST(owner_id AS text)",
            "purpose",
            "state",
            "CASE WHEN strong THEN 'strong' ELSE '' END",
            "CAST(at AS text)",
        ),
    ),
)


def _words(rows: Rows) -> Iterator[Word]:
    """Names, addresses and telephones of present owners, and the names of past ones; nothing of erased ones."""
    for left, erased, name, email, phone, *_ in rows["ownership"]:
        if erased:
            continue
        yield Word(Field.OWNER, name, past=bool(left))
        if not left and email:
            yield Word(Field.EMAIL, email, Shape.EMAIL)
        if not left and phone:
            yield Word(Field.PHONE, phone, Shape.PHONE)


def _facts(rows: Rows) -> Facts:
    present = [texts for texts in rows["ownership"] if not texts[0]]
    present.sort(key=lambda texts: (texts[5], int(texts[6])))  # since when; times of one zone sort as their texts do
    owners = [Owning(owner, name, bool(account)) for _, _, name, _, _, _, _, owner, account, *_ in present]
    sent = sorted(rows["invitation"], key=lambda texts: int(texts[0]))
    often = Counter(texts[1] for texts in sent)
    invitations = {owner: Invited(state, reason, often[owner] == 1) for _, owner, state, reason, *_ in sent}
    in_service = not any(retired for retired, *_ in rows["service"])
    given = [Permission(owner, purpose, state, bool(strong)) for owner, purpose, state, strong, *_ in rows["standing"]]
    facts: dict[str, str | int | datetime] = {**onboarding_facts(owners, invitations, given, in_service=in_service)}
    if since := _moved(rows, {each.owner_id for each in owners}):
        facts["move_since"] = since
    return facts


def _moved(rows: Rows, owners: set[str]) -> datetime | None:
    """Since when the next move may be what it is: the last that was heard of its owners."""
    heard = [
        *(texts[5] for texts in rows["ownership"] if not texts[0]),
        *(texts[4] for texts in rows["invitation"] if texts[1] in owners),
        *(texts[4] for texts in rows["standing"] if texts[0] in owners and texts[1] == Purpose.CONTACT),
    ]
    return max((moment for text in heard if (moment := moment_of(text))), default=None)


OWNERS = Source(_PARTS, _words, _facts)
