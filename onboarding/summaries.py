"""What lists and filters of the register show of owners and invitations."""

from collections import defaultdict
from typing import NamedTuple

from onboarding.ledger.standing import GRANTING
from onboarding.models import ConsentStanding, Invitation, Ownership, Purpose

NEXT_MOVES = (
    "register_owner",
    "ask_permission",
    "invite",
    "fix_address",
    "print_letter",
    "owner_accepts",
    "invite_again",
)


class Owning(NamedTuple):
    """A present owner of a site."""

    owner_id: int
    name: str
    has_account: bool


class Invited(NamedTuple):
    """How far an invitation went, and why it is held."""

    state: str
    held_reason: str


def onboarding_facts(site_ids: list[int]) -> dict[int, dict[str, str]]:
    """``{site id: {owner_names, invitation_state, missing_permissions, next_move}}`` for every site asked about."""
    owners: dict[int, list[Owning]] = defaultdict(list)
    ownerships = Ownership.objects.filter(site__in=site_ids, until__isnull=True).order_by("since", "id")
    for site_id, owner_id, name, user_id in ownerships.values_list("site_id", "owner_id", "owner__name", "owner__user"):
        owners[site_id].append(Owning(owner_id, name, user_id is not None))
    sent = Invitation.objects.filter(site__in=site_ids).order_by("id")
    invitations = {
        (site_id, owner_id): Invited(state, reason)
        for site_id, owner_id, state, reason in sent.values_list("site_id", "owner_id", "state", "held_reason")
    }
    standing = ConsentStanding.objects.filter(site__in=site_ids, state__in=GRANTING)
    given = {
        (site_id, owner_id, purpose): strong
        for site_id, owner_id, purpose, strong in standing.values_list("site_id", "owner_id", "purpose", "strong")
    }
    return {site_id: _facts(site_id, owners[site_id], invitations, given) for site_id in site_ids}


def _facts(
    site_id: int,
    owners: list[Owning],
    invitations: dict[tuple[int, int], Invited],
    given: dict[tuple[int, int, str], bool],
) -> dict[str, str]:
    if not owners:
        return {"owner_names": "", "invitation_state": "", "missing_permissions": "", "next_move": "register_owner"}
    deciding = _deciding([invitations.get((site_id, each.owner_id)) for each in owners])
    missing = [
        purpose
        for purpose in Purpose.values
        if not any(given.get((site_id, each.owner_id, purpose)) for each in owners)
    ]
    may_invite = any((site_id, each.owner_id, Purpose.CONTACT) in given for each in owners)
    return {
        "owner_names": ", ".join(each.name for each in owners)[:300],
        "invitation_state": deciding.state if deciding else "",
        "missing_permissions": " ".join(missing),
        "next_move": _next_move(deciding, may_invite, any(each.has_account for each in owners)),
    }


def _deciding(theirs: list[Invited | None]) -> Invited | None:
    """Of several owners' invitations the one that went furthest: one owner who accepted is enough."""
    order = ["accepted", "opened", "sent", "queued", "held", "draft"]
    found = [each for each in theirs if each is not None]
    return min(found, key=lambda each: order.index(each.state) if each.state in order else len(order), default=None)


def _next_move(invitation: Invited | None, may_invite: bool, has_account: bool) -> str:
    if invitation is None or invitation.state in ("draft", "cancelled", "replaced"):
        if has_account:
            return ""
        return "invite" if may_invite else "ask_permission"
    if invitation.state == "held":
        reasons = {"no_consent": "ask_permission", "opted_out": "ask_permission", "no_address": "print_letter"}
        return reasons.get(invitation.held_reason, "fix_address" if invitation.held_reason == "bad_address" else "")
    if invitation.state in ("bounced", "failed"):
        return "fix_address"
    if invitation.state in ("expired", "complained"):
        return "invite_again" if invitation.state == "expired" else ""
    return "" if invitation.state == "accepted" else "owner_accepts"
