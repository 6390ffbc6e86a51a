"""What the acts leave beside an invitation: its mails, the ways in, the entries of the trail."""

import hashlib
from collections.abc import Iterable
from datetime import datetime, timedelta
from random import Random
from uuid import uuid4

from django.conf import settings

from fleet.models import Member
from fleet.operations.audit import ActFacts
from onboarding.mail.return_path import message_id, new_return_token
from onboarding.management.demo.states import Plan
from onboarding.models import (
    ConsentEntry,
    Delivery,
    DeliveryState,
    Invitation,
    InvitationLink,
    InvitationState,
    Stream,
)
from onboarding.operations.deliveries import GIVE_UP_ELSE, LEGAL_BASES
from onboarding.operations.suppressions import remembered_as
from onboarding.queries.act_words import ACT_OF_STATE

FATES = {
    "bounced": (DeliveryState.FAILED, "bounced", "5.1.1"),
    "failed": (DeliveryState.FAILED, "refused", "5.7.1"),
    "taken_back": (DeliveryState.STOPPED, "cancelled", ""),
}
"""How the first mail of an invitation ended, by the word of its timeline; any other was taken."""
LINKS_END = (
    InvitationState.ACCEPTED,
    InvitationState.COMPLAINED,
    InvitationState.CANCELLED,
    InvitationState.REPLACED,
)
ACT_OF_EVENT = {
    "queued": "invite_owner",
    "held": "invite_owner",
    "taken_back": "take_back_invitation",
    "reminder_queued": "remind_owner",
    "cancelled": "cancel_invitation",
    "accepted": "accept_invitation",
}


def mails_of(invitation: Invitation, plan: Plan, at: datetime) -> list[Delivery]:
    """Every mail of an invitation that has left, or was to leave and did not; not one that still waits."""
    if plan.waits:
        return []
    queued = [minutes for minutes, what in plan.timeline if what in ("queued", "reminder_queued")]
    return [_mail(invitation, plan, at, number, minutes) for number, minutes in enumerate(queued, 1)]


def _mail(invitation: Invitation, plan: Plan, at: datetime, number: int, minutes: int) -> Delivery:
    ends = {what: after for after, what in plan.timeline}
    fate = next((what for what in FATES if what in ends and number == 1), "")
    state, reply_class, reply_code = FATES.get(fate, (DeliveryState.SENT, "accepted", "250"))
    made = at + timedelta(minutes=minutes)
    ended = at + timedelta(minutes=ends[fate]) if fate else made + timedelta(minutes=1)
    left = state != DeliveryState.STOPPED
    stream = Stream.INVITATION if number == 1 else Stream.REMINDER
    domain = str(settings.MAIL_FROM).rpartition("@")[2]
    return _addressed(
        invitation,
        stream,
        made,
        send_number=number,
        message_id=message_id(invitation.public_id, number, domain),
        state=state,
        attempts=int(left),
        transmitting_at=made if left else None,
        ended_at=ended,
        reply_class=reply_class,
        reply_code=reply_code,
    )


def receipt_of(invitation: Invitation, entries: list[str]) -> Delivery:
    """The receipt that an owner got on accepting."""
    made = invitation.accepted_at or invitation.created_at
    public_id = uuid4()
    domain = str(settings.MAIL_FROM).rpartition("@")[2]
    receipt = _addressed(
        invitation,
        Stream.RECEIPT,
        made,
        public_id=public_id,
        message_id=message_id(public_id, 1, domain),
        state=DeliveryState.SENT,
        attempts=1,
        transmitting_at=made,
        ended_at=made + timedelta(minutes=1),
        reply_class="accepted",
        reply_code="250",
        context={"entries": entries},
        user=invitation.owner.user,
    )
    receipt.invitation = None
    return receipt


def _addressed(invitation: Invitation, stream: Stream, made: datetime, **columns: object) -> Delivery:
    owner = invitation.owner
    mac, mac_key = remembered_as(invitation.company_id, owner.email)
    return Delivery(
        company=invitation.company,
        invitation=invitation,
        owner=owner,
        site=invitation.site,
        stream=stream,
        template=stream,
        legal_basis=LEGAL_BASES[stream],
        language=owner.language,
        to_address=owner.email,
        to_domain=owner.email.rpartition("@")[2],
        address_mac=mac,
        mac_key=mac_key,
        return_token=new_return_token(),
        created_at=made,
        not_before=made,
        give_up_at=made + GIVE_UP_ELSE,
        **columns,
    )


def links_of(invitation: Invitation, mails: Iterable[Delivery], random: Random) -> list[InvitationLink]:
    """One link for each mail that left; nobody holds their tokens, as these mails went nowhere."""
    ended = invitation.ended_at or invitation.accepted_at
    return [
        InvitationLink(
            company=invitation.company,
            invitation=invitation,
            kind=InvitationLink.Kind.MAIL,
            send_number=mail.send_number,
            made_at=mail.transmitting_at,
            token_hash=hashlib.sha256(f"{random.getrandbits(256):064x}".encode()).hexdigest(),
            ended_at=ended if invitation.state in LINKS_END else None,
        )
        for mail in mails
        if mail.transmitting_at is not None
    ]


def trail_of(invitation: Invitation, plan: Plan, at: datetime, office: Member, *, follows: bool) -> list[ActFacts]:
    """The entries of an invitation's trail; ``follows`` says that it took the place of another."""
    told = []
    for minutes, what in plan.timeline:
        act = "replace_invitation" if follows and what == "queued" else ACT_OF_EVENT.get(what)
        if act is None:
            continue
        by_office = act not in ("remind_owner", "accept_invitation")
        told.append(
            ActFacts(
                act=act,
                company=invitation.company,
                about=invitation,
                actor=office if by_office else None,
                user=invitation.owner.user if act == "accept_invitation" else None,
                role={"accept_invitation": "owner", "remind_owner": "system"}.get(act, ""),
                site=invitation.site,
                after={"account": "new"} if act == "accept_invitation" else {},
                at=at + timedelta(minutes=minutes),
            )
        )
    return told


def trail_of_word(entry: ConsentEntry, office: Member) -> ActFacts:
    """The entry of the trail for one line of the ledger."""
    by_office = entry.evidence == "staff_statement"
    return ActFacts(
        act=ACT_OF_STATE[entry.state],
        company=entry.company,
        about=entry,
        actor=office if by_office else None,
        user=None if by_office else entry.owner.user,
        role="" if by_office else "owner",
        site=entry.site,
        after={"purpose": str(entry.purpose), "state": str(entry.state), "evidence": str(entry.evidence)},
        at=entry.at,
    )
