"""Reads from rows what a letter is made of. Links carry the configured address only, never a request's host."""

from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet.spoken import spoken
from onboarding.mail.addresses import UsableAddress, usable_address
from onboarding.mail.compose import Facts
from onboarding.mail.return_path import leave_opaque, return_address
from onboarding.models import ConsentEntry, Delivery, EndNotice, Owner, Purpose, Stream
from onboarding.operations.invitation_links import mint_link
from onboarding.operations.letter_answers import objection_name
from onboarding.queries.derived_standing import end_of
from onboarding.queries.letters import letter_behind
from onboarding.queries.mine import OWNERS_WORDS

WITH_LINK = frozenset({"invitation", "reminder", "link_renewed"})
WITH_LEAVE = frozenset({Stream.INVITATION, Stream.REMINDER, Stream.COURTESY})
PRODUCT = "Rooftally"


def letter_facts(delivery: Delivery) -> Facts:
    """What the letter of ``delivery`` is made of; an invitation's link is made anew. Call inside a transaction."""
    company = delivery.company
    return Facts(
        template=delivery.template,
        language=delivery.language,
        zone=_zone(delivery),
        to=_address(delivery),
        return_path=return_address(settings.MAIL_RETURN or settings.MAIL_FROM, delivery.return_token),
        message_id=delivery.message_id,
        sender_name=company.name if company else PRODUCT,
        sender_address=settings.MAIL_FROM,
        reply_to=company.reply_email if company else "",
        leave_url=_leave_url(delivery) if delivery.stream in WITH_LEAVE else "",
        link=_link(delivery),
        values=_values(delivery),
    )


def _address(delivery: Delivery) -> UsableAddress:
    return usable_address(delivery.to_address)  # checked when queued


def _zone(delivery: Delivery) -> ZoneInfo:
    if delivery.site:
        return delivery.site.zone
    return ZoneInfo(delivery.company.policy.default_time_zone if delivery.company else "UTC")


def _leave_url(delivery: Delivery) -> str:
    return _page("onboarding:leave", leave_opaque(delivery.public_id, settings.SECRET_KEY))


def _link(delivery: Delivery) -> str:
    if delivery.invitation and delivery.template in WITH_LINK:
        token = mint_link(invitation=delivery.invitation, send_number=delivery.send_number)
        return _page("onboarding:welcome", token)
    if delivery.template == "password_reset" and delivery.user:
        return _password_link(delivery)
    if kept := delivery.context.get("link"):
        return str(kept)
    return _page("onboarding:mine") if delivery.owner_id else f"{settings.BASE_URL}/"


def _password_link(delivery: Delivery) -> str:
    """Made when the mail is written, so that no way into an account ever waits in a row."""
    from allauth.account.forms import default_token_generator
    from allauth.account.utils import user_pk_to_url_str

    key = default_token_generator.make_token(delivery.user)
    return settings.BASE_URL + reverse(
        "account_reset_password_from_key", kwargs={"uidb36": user_pk_to_url_str(delivery.user), "key": key}
    )


def _page(name: str, *arguments: str) -> str:
    return str(settings.BASE_URL) + reverse(name, args=arguments)


def _values(delivery: Delivery) -> dict[str, Any]:
    values: dict[str, Any] = dict(delivery.context)
    if delivery.company:
        values |= {
            "company": delivery.company.name,
            "company_address": delivery.company.address,
            "company_phone": delivery.company.phone,
            "company_reply": delivery.company.reply_email,
        }
    if delivery.site:
        values |= {"street": delivery.site.street, "town": delivery.site.town}
    if delivery.owner:
        values["owner"] = delivery.owner.name
    if delivery.invitation:
        values["expires_at"] = delivery.invitation.expires_at
    if delivery.template in ("receipt", "permissions_ended"):
        values["entries"] = _receipt_lines(delivery)
    if delivery.context.get("by_letter") and delivery.owner:
        values |= _letters_part(delivery, delivery.owner)
    if delivery.template == "permissions_ending":
        values["endings"] = _ending_lines(delivery)
    return values


def _receipt_lines(delivery: Delivery) -> list[str]:
    """One line an entry: what, about which purpose, in which words."""
    ids = [str(entry) for entry in delivery.context.get("entries", [])]
    entries = ConsentEntry.objects.filter(company=delivery.company, entry_id__in=ids).select_related("wording")
    with translation.override(spoken(delivery.language)):
        return [_receipt_line(entry) for entry in entries.order_by("position")]


def _letters_part(delivery: Delivery, owner: Owner) -> dict[str, Any]:
    """Who printed the letter whose code gave these answers, and where their reader objects."""
    letter = letter_behind(owner)
    return {
        "printed_by": letter.made_by.user.get_full_name() if letter and letter.made_by else "",
        "printed_at": letter.made_at if letter else None,
        "objection": _page("onboarding:objection", objection_name(delivery)),
    }


def _receipt_line(entry: ConsentEntry) -> str:
    said = f"{OWNERS_WORDS[Purpose(entry.purpose)]}: {entry.get_state_display()}"
    if entry.wording is None:
        return said
    text = {"said": said, "version": entry.wording.version, "language": entry.wording.language}
    return _("%(said)s (text %(version)d, %(language)s)") % text


def _ending_lines(delivery: Delivery) -> list[str]:
    """One line an answer: what was allowed, and why it ends or until when it holds."""
    notices = EndNotice.objects.filter(delivery=delivery).select_related("entry__wording").order_by("id")
    with translation.override(spoken(delivery.language)), timezone.override(_zone(delivery)):
        return [_ending_line(notice) for notice in notices]


def _ending_line(notice: EndNotice) -> str:
    what = OWNERS_WORDS[Purpose(notice.entry.purpose)]
    ends_at = end_of(notice.entry)
    if notice.reason == EndNotice.Reason.TIME and ends_at:
        day = date_format(timezone.localtime(ends_at), "DATE_FORMAT")
        return _("%(what)s: you allowed this until %(day)s.") % {"what": what, "day": day}
    return _("%(what)s: the text has a new version; your answer stands for the earlier one.") % {"what": what}
