"""How owners' stories are shared out: each state of an invitation with what must have been said before it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from onboarding.models import ConsentState, HeldReason, InvitationState, Purpose

GIVEN, REFUSED = ConsentState.GIVEN, ConsentState.REFUSED
MAY_WRITE = {Purpose.CONTACT: GIVEN}
ALL_SAID = {Purpose.MONITORING: GIVEN, Purpose.HOME_NETWORK: GIVEN}


@dataclass(frozen=True, kw_only=True)
class Plan:
    """One kind of story. ``said`` is what staff reported, ``confirmed`` what the owner answered in person.

    ``waits`` puts the mail off until tomorrow.

    ``timeline`` lists minutes after the start and what happened; ``weight`` is how often of 1,000.
    """

    weight: float
    days_ago: float
    state: str = ""
    held_reason: str = ""
    said: Mapping[Any, Any] = field(default_factory=dict)
    confirmed: Mapping[Any, Any] = field(default_factory=dict)
    timeline: tuple[tuple[int, str], ...] = ()
    reminders: int = 0
    address: str | None = None
    suppressed: bool = False
    was_sent: bool = False
    was_opened: bool = False
    has_account: bool = False
    has_ended: bool = False
    waits: bool = False
    in_batch: bool = False

    @property
    def sends(self) -> int:
        """How many mails were queued, reminders among them."""
        return sum(what in ("queued", "reminder_queued") for _minutes, what in self.timeline)


QUEUED = (0, "queued")
SENT = (1, "sent")
OPENED = (180, "opened")
ACCEPTED = (184, "accepted")
REMINDED_TWICE = (
    (7200, "reminder_queued"), (7201, "reminder_sent"), (20160, "reminder_queued"), (20161, "reminder_sent"),
)  # fmt: skip
REPLACED_AFTER = 69_120

SUCCESSOR = Plan(
    weight=0, days_ago=2, state=InvitationState.SENT, said=MAY_WRITE, timeline=(QUEUED, SENT), was_sent=True,
)  # fmt: skip
"""The invitation that took the place of a replaced one."""

PLAN = (
    Plan(
        weight=700, days_ago=200, state=InvitationState.ACCEPTED,
        confirmed=dict.fromkeys((Purpose.MONITORING, Purpose.HOME_NETWORK, Purpose.CONTACT), GIVEN),
        timeline=(QUEUED, SENT, OPENED, ACCEPTED), was_sent=True, was_opened=True, has_account=True,
    ),
    Plan(
        weight=60, days_ago=150, state=InvitationState.ACCEPTED,
        confirmed={Purpose.MONITORING: GIVEN, Purpose.HOME_NETWORK: REFUSED, Purpose.CONTACT: GIVEN},
        timeline=(QUEUED, SENT, OPENED, ACCEPTED), was_sent=True, was_opened=True, has_account=True,
    ),
    Plan(weight=40, days_ago=1),  # nobody asked yet
    Plan(weight=15, days_ago=10, said=MAY_WRITE | ALL_SAID),  # may be invited
    Plan(
        weight=6, days_ago=3, state=InvitationState.DRAFT, said=MAY_WRITE, timeline=(QUEUED, (2, "taken_back")),
        in_batch=True,
    ),
    Plan(weight=4, days_ago=0.1, state=InvitationState.QUEUED, said=MAY_WRITE, timeline=(QUEUED,), waits=True),
    Plan(
        weight=20, days_ago=5, state=InvitationState.HELD, held_reason=HeldReason.NO_CONSENT, timeline=((0, "held"),),
    ),
    Plan(
        weight=8, days_ago=25, state=InvitationState.HELD, held_reason=HeldReason.OPTED_OUT,
        said={Purpose.CONTACT: REFUSED}, timeline=((0, "held"),),
    ),
    Plan(
        weight=8, days_ago=9, state=InvitationState.HELD, held_reason=HeldReason.NO_ADDRESS, said=MAY_WRITE,
        address="", timeline=((0, "held"),),
    ),
    Plan(
        weight=70, days_ago=2, state=InvitationState.SENT, said=MAY_WRITE | ALL_SAID, timeline=(QUEUED, SENT),
        was_sent=True,
    ),
    Plan(
        weight=30, days_ago=16, state=InvitationState.SENT, said=MAY_WRITE, reminders=2, was_sent=True,
        timeline=(QUEUED, SENT, *REMINDED_TWICE),
    ),
    Plan(
        weight=30, days_ago=3, state=InvitationState.OPENED, said=MAY_WRITE, timeline=(QUEUED, SENT, OPENED),
        was_sent=True, was_opened=True,
    ),
    Plan(
        weight=15, days_ago=20, state=InvitationState.BOUNCED, said=MAY_WRITE, suppressed=True,
        timeline=(QUEUED, SENT, (2, "bounced")), was_sent=True, has_ended=True,
    ),
    Plan(
        weight=3, days_ago=40, state=InvitationState.COMPLAINED, said=MAY_WRITE, suppressed=True,
        timeline=(QUEUED, SENT, (60, "complained")), was_sent=True, has_ended=True,
    ),
    Plan(
        weight=5, days_ago=12, state=InvitationState.FAILED, said=MAY_WRITE, timeline=(QUEUED, (1, "failed")),
        was_sent=True, has_ended=True,
    ),
    Plan(
        weight=25, days_ago=60, state=InvitationState.EXPIRED, said=MAY_WRITE, reminders=2, was_sent=True,
        timeline=(QUEUED, SENT, *REMINDED_TWICE, (43200, "expired")), has_ended=True,
    ),
    Plan(
        weight=8, days_ago=30, state=InvitationState.CANCELLED, said=MAY_WRITE,
        timeline=(QUEUED, SENT, (50, "cancelled")), was_sent=True, has_ended=True,
    ),
    Plan(
        weight=5, days_ago=50, state=InvitationState.REPLACED, said=MAY_WRITE, reminders=2, was_sent=True,
        timeline=(QUEUED, SENT, *REMINDED_TWICE, (43200, "expired"), (REPLACED_AFTER, "replaced")), has_ended=True,
    ),
)  # fmt: skip
