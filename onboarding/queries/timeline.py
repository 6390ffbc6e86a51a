"""An invitation's timeline in plain words: its own events and what became of each mail, in order."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from onboarding.models import Delivery, HeldReason, Invitation, InvitationEvent

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

WORDS: dict[str, "StrOrPromise"] = {
    "made": _("The invitation was made"),
    "queued": _("It was put in line to be sent"),
    "held": _("It is held"),
    "draft": _("It was taken back to be placed anew"),
    "resend_asked": _("Sending it again was asked; earlier links are dead"),
    "address_changed": _("The owner's address changed; earlier links are dead"),
    "sent": _("The receiving server took the mail"),
    "opened": _("The owner opened the link and went on"),
    "accepted": _("The owner accepted"),
    "bounced": _("A report came back: the mail did not arrive"),
    "failed": _("The mail was refused or given up"),
    "complained": _("The mail was marked as unwanted; the matter has ended"),
    "expired": _("It ran out without being accepted"),
    "cancelled": _("It was called off"),
    "replaced": _("It was replaced by a new invitation"),
    "taken_back": _("It was taken back before it left"),
    "renewed": _("The owner asked for a new link"),
    "not_me": _("Whoever got the mail said that it is not for them"),
    "unknown": _("It is not known whether the mail arrived"),
    "reminder_queued": _("A reminder was put in line"),
    "reminder_sent": _("The receiving server took the reminder"),
    "reminder_stopped": _("The reminder was stopped before it left"),
    "letter_printed": _("A letter with a code was printed; earlier links are dead"),
    "earlier_bounced": _("A report came back about an earlier mail"),
    "earlier_failed": _("An earlier mail was refused or given up"),
    "earlier_complained": _("An earlier mail was marked as unwanted"),
}
WAITING_FOR: dict[str, "StrOrPromise"] = {
    "quiet_hours": _("waits for the end of the quiet hours"),
    "daily_limit": _("waits for tomorrow: the daily limit is reached"),
    "no_mail_settings": _("waits for an operator to set a mail server"),
    "try_later": _("waits: the receiving server asked to try later"),
    "mailbox_full": _("waits: the mailbox is full"),
    "server_busy": _("waits: the receiving server is busy"),
    "no_connection": _("waits: the mail server could not be reached"),
    "connection_lost": _("waits: the connection was lost"),
    "sender_refused": _("waits: the mail server refuses our sender address"),
    "not_composed": _("waits: the mail could not be composed"),
}


@dataclass(frozen=True)
class Line:
    """One line: when, what happened, who did it (empty: nobody of ours), and what more is known."""

    at: datetime
    what: "StrOrPromise"
    who: str = ""
    more: "StrOrPromise" = ""


def timeline(invitation: Invitation) -> list[Line]:
    """Every line, oldest first."""
    events = InvitationEvent.objects.filter(invitation=invitation).select_related("member__user").order_by("id")
    return [_line(event) for event in events]


def mails(invitation: Invitation) -> list[Delivery]:
    """The mails of the invitation, newest first."""
    return list(Delivery.objects.filter(invitation=invitation).order_by("-send_number"))


def waits_for(delivery: Delivery) -> "StrOrPromise":
    """Why a queued mail has not left, in words; empty where nothing is in the way."""
    return WAITING_FOR.get(delivery.reply_class, "")


def _line(event: InvitationEvent) -> Line:
    who = event.member.user.get_full_name() if event.member else ""
    reason = str(event.facts.get("reason", ""))
    more: StrOrPromise = HeldReason(reason).label if reason in HeldReason.values else ""
    return Line(event.at, WORDS.get(event.what, event.what), who, more)
