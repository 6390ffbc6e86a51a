"""What lists and filters of the register show of owners and invitations."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from onboarding.ledger.standing import GRANTING
from onboarding.models import Purpose

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

    owner_id: str
    name: str
    has_account: bool


class Invited(NamedTuple):
    """How far an invitation went, and why it is held."""

    state: str
    held_reason: str


class Permission(NamedTuple):
    """An owner's answer that stands. ``strong``: it rests on the owner's own act or a paper."""

    owner_id: str
    purpose: str
    state: str
    strong: bool


def onboarding_facts(
    owners: Sequence[Owning], invitations: Mapping[str, Invited], standing: Iterable[Permission]
) -> dict[str, str]:
    """``{owner_names, invitation_state, missing_permissions, next_move}`` of a site.

    ``owners`` come in the order they became owners; ``invitations`` are the latest of each owner.
    """
    if not owners:
        return {"owner_names": "", "invitation_state": "", "missing_permissions": "", "next_move": "register_owner"}
    present = {each.owner_id for each in owners}
    given = [each for each in standing if each.state in GRANTING and each.owner_id in present]
    allowed = {each.purpose for each in given if each.strong}
    deciding = _deciding([invitations.get(each.owner_id) for each in owners])
    may_invite = any(each.purpose == Purpose.CONTACT for each in given)
    return {
        "owner_names": ", ".join(each.name for each in owners)[:300],
        "invitation_state": deciding.state if deciding else "",
        "missing_permissions": " ".join(purpose for purpose in Purpose.values if purpose not in allowed),
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
        reasons = {
            "no_consent": "ask_permission",
            "opted_out": "ask_permission",
            "ran_out": "ask_permission",
            "no_address": "print_letter",
        }
        return reasons.get(invitation.held_reason, "fix_address" if invitation.held_reason == "bad_address" else "")
    if invitation.state in ("bounced", "failed"):
        return "fix_address"
    if invitation.state in ("expired", "complained"):
        return "invite_again" if invitation.state == "expired" else ""
    return "" if invitation.state == "accepted" else "owner_accepts"
