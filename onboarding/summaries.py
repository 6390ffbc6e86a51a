"""What lists and filters of the register show of owners and invitations."""

from collections import defaultdict

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


def onboarding_facts(site_ids: list[int]) -> dict[int, dict[str, str]]:
    """``{site id: {owner_names, invitation_state, missing_permissions, next_move}}`` for every site asked about."""
    owners: dict[int, list[Ownership]] = defaultdict(list)
    ownerships = Ownership.objects.filter(site__in=site_ids, until__isnull=True).select_related("owner")
    for ownership in ownerships.order_by("since", "id"):
        owners[ownership.site_id].append(ownership)
    invitations: dict[tuple[int, int], Invitation] = {}
    for invitation in Invitation.objects.filter(site__in=site_ids).order_by("id"):
        invitations[invitation.site_id, invitation.owner_id] = invitation
    given = {
        (row.site_id, row.owner_id, row.purpose): row.strong
        for row in ConsentStanding.objects.filter(site__in=site_ids, state__in=GRANTING)
    }
    return {site_id: _facts(site_id, owners[site_id], invitations, given) for site_id in site_ids}


def _facts(
    site_id: int,
    owners: list[Ownership],
    invitations: dict[tuple[int, int], Invitation],
    given: dict[tuple[int, int, str], bool],
) -> dict[str, str]:
    if not owners:
        return {"owner_names": "", "invitation_state": "", "missing_permissions": "", "next_move": "register_owner"}
    theirs = [invitations.get((site_id, each.owner_id)) for each in owners]
    deciding = _deciding(theirs)
    missing = [
        purpose
        for purpose in Purpose.values
        if not any(given.get((site_id, each.owner_id, purpose)) for each in owners)
    ]
    may_invite = any((site_id, each.owner_id, Purpose.CONTACT) in given for each in owners)
    return {
        "owner_names": ", ".join(each.owner.name for each in owners)[:300],
        "invitation_state": deciding.state if deciding else "",
        "missing_permissions": " ".join(missing),
        "next_move": _next_move(deciding, may_invite, any(each.owner.user_id for each in owners)),
    }


def _deciding(theirs: list[Invitation | None]) -> Invitation | None:
    """Of several owners' invitations the one that went furthest: one owner who accepted is enough."""
    order = ["accepted", "opened", "sent", "queued", "held", "draft"]
    found = [each for each in theirs if each is not None]
    return min(found, key=lambda each: order.index(each.state) if each.state in order else len(order), default=None)


def _next_move(invitation: Invitation | None, may_invite: bool, has_account: bool) -> str:
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
