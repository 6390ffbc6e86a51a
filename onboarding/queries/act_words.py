"""What onboarding's audited acts are called on a site's timeline, for ``settings.ACT_WORDS``."""

from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from onboarding.models import ConsentState, Purpose

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

ACT_OF_STATE: dict[str, str] = {
    ConsentState.REQUESTED: "ask_permission",
    ConsentState.GIVEN: "give_permission",
    ConsentState.REFUSED: "refuse_permission",
    ConsentState.WITHDRAWN: "withdraw_permission",
    ConsentState.REVOKED: "revoke_permission",
    ConsentState.EXPIRED: "expire_permission",
    ConsentState.INVALIDATED: "invalidate_permission",
    ConsentState.RENEWED: "renew_permission",
}
"""The audited act of each state that an entry of the ledger records."""

ACTS: dict[str, "StrOrPromise"] = {
    "register_owner": _("Owner registered"),
    "attach_owner": _("A known owner attached"),
    "edit_owner": _("What is known of the owner corrected"),
    "edit_own_facts": _("Owner corrected their own details"),
    "follow_address": _("Owner’s address followed their account"),
    "name_second_owner": _("Owner named another owner"),
    "report_sale": _("Owner told that the house is sold"),
    "take_back_sale": _("Owner took back that the house is sold"),
    "keep_owner": _("Owner kept: the house was not sold"),
    "end_ownership": _("Ownership ended"),
    "erase_owner": _("An owner’s data erased"),
    "ask_permission": _("Owner asked for a permission"),
    "give_permission": _("Permission given"),
    "refuse_permission": _("Permission refused"),
    "withdraw_permission": _("Permission withdrawn"),
    "revoke_permission": _("Permission revoked by another"),
    "expire_permission": _("Permission ended: its time was over"),
    "invalidate_permission": _("Permission ended: it no longer applies"),
    "renew_permission": _("Permission renewed"),
    "invite_owner": _("Owner invited"),
    "take_back_invitation": _("Invitation taken back before it left"),
    "resend_invitation": _("Invitation sent again"),
    "replace_invitation": _("Invitation replaced by a new one"),
    "remind_owner": _("Owner reminded"),
    "cancel_invitation": _("Invitation called off"),
    "print_letter": _("Letter with a code printed"),
    "accept_invitation": _("Owner accepted the invitation"),
    "decline_invitation": _("Whoever got the invitation said that it is not for them"),
    "object_to_letter": _("Owner objected to what was answered with a letter’s code"),
    "confirm_letter_answers": _("Owner’s mailbox confirmed what was answered with a letter’s code"),
    "ask_address_change": _("Another sign-in address asked for"),
    "call_off_address_change": _("Another sign-in address no longer wanted"),
    "confirm_address_change": _("Another sign-in address confirmed by its mailbox"),
    "stop_address_change": _("Change of the sign-in address stopped from the address before"),
    "opt_out": _("No more mail wanted"),
    "settle_delivery": _("Said whether a mail arrived"),
    "suppress_address": _("Address entered as not to be written to"),
    "lift_suppression": _("Address may be written to again"),
    "publish_wording": _("New version of a text published"),
}
_EARLIER = {
    "invitation.made": "invite_owner",
    "invitation.resent": "resend_invitation",
    "invitation.replaced": "replace_invitation",
    "invitation.cancelled": "cancel_invitation",
    "invitation.reminded": "remind_owner",
    "invitation.letter_printed": "print_letter",
    "invitation.accepted": "accept_invitation",
    "invitation.not_me": "decline_invitation",
    "owner.registered": "register_owner",
    "owner.attached": "attach_owner",
    "owner.edited": "edit_owner",
    "owner.edited_own": "edit_own_facts",
    "owner.ended": "end_ownership",
    "owner.named_by_owner": "name_second_owner",
    "owner.address_changed": "follow_address",
    "owner.opted_out": "opt_out",
    "suppression.entered": "suppress_address",
    "suppression.lifted": "lift_suppression",
    "wording.published": "publish_wording",
}
"""Names under which acts were recorded before; audit entries are never changed, so their words are kept."""

_PURPOSES: dict[str, "StrOrPromise"] = {f"purpose:{each.value}": each.label for each in Purpose}

ACT_WORDS: dict[str, "StrOrPromise"] = (
    ACTS
    | {earlier: ACTS[name] for earlier, name in _EARLIER.items()}
    | {f"consent.{state}": ACTS[name] for state, name in ACT_OF_STATE.items()}
    | _PURPOSES
)
"""Acts by their name, and purposes by ``purpose:NAME``, which say what an act was about."""
