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
    """How far an invitation went, why it is held, and whether it is the owner's first to the site."""

    state: str
    held_reason: str
    first: bool = True


class Permission(NamedTuple):
    """An owner's answer that stands. ``strong``: it rests on the owner's own act or a paper."""

    owner_id: str
    purpose: str
    state: str
    strong: bool


def onboarding_facts(
    owners: Sequence[Owning],
    invitations: Mapping[str, Invited],
    standing: Iterable[Permission],
    *,
    in_service: bool = True,
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
    may_write = {each.owner_id for each in given if each.purpose == Purpose.CONTACT}
    ready = any(_ready(each, invitations.get(each.owner_id), each.owner_id in may_write) for each in owners)
    move = "invite" if ready else _next_move(deciding, bool(may_write), any(each.has_account for each in owners))
    return {
        "owner_names": ", ".join(each.name for each in owners)[:300],
        "invitation_state": deciding.state if deciding else "",
        "missing_permissions": " ".join(purpose for purpose in Purpose.values if purpose not in allowed),
        "next_move": move if in_service else "",
    }


def _ready(owner: Owning, invited: Invited | None, may_write: bool) -> bool:
    """As ``queries.ready.never_invited`` has it: may be written to, no account, and nothing was ever sent to them."""
    nothing_sent = invited is None or (invited.state == "draft" and invited.first)
    return may_write and not owner.has_account and nothing_sent


def _deciding(theirs: list[Invited | None]) -> Invited | None:
    """Of several owners' invitations the one that went furthest: one owner who accepted is enough."""
    order = ["accepted", "opened", "sent", "queued", "held", "draft"]
    found = [each for each in theirs if each is not None]
    return min(found, key=lambda each: order.index(each.state) if each.state in order else len(order), default=None)


def _next_move(invitation: Invited | None, may_invite: bool, has_account: bool) -> str:
    if invitation is None:
        return "" if has_account or may_invite else "ask_permission"
    if invitation.state in ("cancelled", "replaced"):
        return ""  # a person called it off
    if invitation.state == "draft":
        return "invite_again"
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
