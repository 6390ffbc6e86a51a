"""Acts on several invitations at once: what the press would do, and doing it, each on its own."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from django.db import transaction

from fleet.models import Member
from fleet.operations.refusals import ActRefused
from fleet.operations.rollback import unchanged_if_refused
from onboarding.models import Invitation
from onboarding.operations.invitations import cancel_invitation, remind, resend_invitation

ACTS: dict[str, Callable[[Member, Invitation], object]] = {
    "remind": lambda actor, invitation: remind(actor=actor, invitation=invitation),
    "resend": lambda actor, invitation: resend_invitation(actor=actor, invitation=invitation),
    "cancel": lambda actor, invitation: cancel_invitation(actor=actor, invitation=invitation),
}


@dataclass
class SeveralActedOn:
    """Which invitations the act fits, and how many it does not, by the sentence of the refusal."""

    done: list[Invitation] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)


@unchanged_if_refused
def act_on_several(*, actor: Member, act: str, invitations: Iterable[Invitation]) -> SeveralActedOn:
    """Remind, send again or call off each of them on its own; a refusal keeps none of the others back."""
    several = SeveralActedOn()
    for invitation in invitations:
        try:
            ACTS[act](actor, invitation)
        except ActRefused as refusal:
            several.skipped[str(refusal.sentence)] += 1
        else:
            several.done.append(invitation)
    return several


@unchanged_if_refused
def weigh_several(*, actor: Member, act: str, invitations: Iterable[Invitation]) -> SeveralActedOn:
    """What ``act_on_several`` would do: it is done and taken back at once, so that both judge by the same rules.

    The invitations handed in are not to be used any more.
    """
    with transaction.atomic():
        several = act_on_several(actor=actor, act=act, invitations=invitations)
        transaction.set_rollback(True)
    return several
