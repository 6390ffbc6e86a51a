"""The tables of onboarding. Every row belongs to a company; outside they are known by public id."""

from onboarding.models.address_change import AddressChange
from onboarding.models.consent import (
    ConsentDetail,
    ConsentEntry,
    ConsentStanding,
    ConsentState,
    EndNotice,
    Evidence,
    LedgerHead,
    Purpose,
    Wording,
)
from onboarding.models.delivery import Delivery, DeliveryState, MailDomain, MailReport, Stream, Suppression
from onboarding.models.invitation import (
    HeldReason,
    Invitation,
    InvitationBatch,
    InvitationEvent,
    InvitationLink,
    InvitationState,
)
from onboarding.models.keys import KeyFingerprint
from onboarding.models.owner import Owner, Ownership
from onboarding.models.sale import SaleReport

__all__ = [
    "AddressChange",
    "ConsentDetail",
    "ConsentEntry",
    "ConsentStanding",
    "ConsentState",
    "Delivery",
    "DeliveryState",
    "EndNotice",
    "Evidence",
    "HeldReason",
    "Invitation",
    "InvitationBatch",
    "InvitationEvent",
    "InvitationLink",
    "InvitationState",
    "KeyFingerprint",
    "LedgerHead",
    "MailDomain",
    "MailReport",
    "Owner",
    "Ownership",
    "Purpose",
    "SaleReport",
    "Stream",
    "Suppression",
    "Wording",
]
