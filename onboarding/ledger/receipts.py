"""A consent entry as a receipt: a JSON document with the fields of ISO/IEC TS 27560:2023.

The terms follow the W3C community group's guide to that specification with the Data Privacy Vocabulary
(https://w3id.org/dpv/guides/consent-27560, final report of 2024-08-01): header, processing, parties and event.
"""

from dataclasses import dataclass
from typing import Any

CONTEXT = {
    "dpv": "https://w3id.org/dpv#",
    "dct": "http://purl.org/dc/terms/",
    "eu-gdpr": "https://w3id.org/dpv/legal/eu/gdpr#",
}
CONFORMS_TO = "https://w3id.org/dpv/schema/dpv-27560#receipt"
STATUS = {
    "requested": "dpv:ConsentRequested",
    "given": "dpv:ConsentGiven",
    "refused": "dpv:ConsentRefused",
    "withdrawn": "dpv:ConsentWithdrawn",
    "revoked": "dpv:ConsentRevoked",
    "expired": "dpv:ConsentExpired",
    "invalidated": "dpv:ConsentInvalidated",
    "renewed": "dpv:RenewedConsentGiven",
}


@dataclass(frozen=True, kw_only=True)
class Told:
    """What a receipt is made of: the entry's canonical document, its MAC, and what stands beside it in clear."""

    document: dict[str, Any]
    mac: str
    person: str
    site_address: str
    purpose: str
    text: str
    particulars: dict[str, Any]
    evidence: str
    reference: str = ""


def receipt(told: Told) -> dict[str, Any]:
    """The receipt; empty facts are left out."""
    entry = told.document
    return {
        "@context": CONTEXT,
        "@type": "dpv:ConsentReceipt",
        "dct:identifier": entry["entry"],
        "dct:conformsTo": CONFORMS_TO,
        "dct:created": entry["at"],
        "dct:language": (entry["wording"] or {}).get("language", ""),
        "dpv:hasDataSubject": {"@id": entry["person"], "dct:title": told.person},
        "dpv:hasDataController": {
            "dct:title": told.particulars.get("controller", ""),
            "dpv:hasContact": told.particulars.get("contact", ""),
        },
        "dpv:hasJurisdiction": told.particulars.get("jurisdiction", ""),
        "dpv:hasLegalBasis": "eu-gdpr:A6-1-a",
        "dpv:hasProcess": _process(told),
        "dpv:hasNotice": _notice(told),
        "dpv:hasConsentStatus": STATUS[entry["state"]],
        "dpv:isIndicatedBy": entry["indicated_by"],
        "dpv:isIndicatedAtTime": entry["at"],
        "rooftally": {
            "schema": entry["schema"],
            "site": entry["site"],
            "address": told.site_address,
            "evidence": told.evidence,
            "reference": told.reference,
            "file_sha256": entry["file_sha256"],
            "captured_by": entry["captured_by"]["role"],
            "on_behalf_of": entry["on_behalf_of"],
            "position": entry["position"],
            "mac": told.mac,
        },
    }


def _process(told: Told) -> dict[str, Any]:
    particulars = told.particulars
    return {
        "@type": "dpv:Process",
        "dpv:hasPurpose": told.purpose,
        "dpv:hasProcessing": particulars.get("processing", []),
        "dpv:hasPersonalData": particulars.get("data", []),
        "dpv:hasRecipient": particulars.get("recipients", []),
        "dpv:hasStorageCondition": [
            {"@type": "dpv:StorageLocation", "dct:description": particulars.get("storage", "")},
            {"@type": "dpv:StorageDuration", "dct:description": particulars.get("retention", "")},
        ],
        "dpv:hasConsentControl": {
            "@type": "dpv:WithdrawConsent",
            "dct:description": particulars.get("withdrawal", ""),
        },
    }


def _notice(told: Told) -> dict[str, Any] | None:
    wording = told.document["wording"]
    if wording is None:
        return None
    return {
        "@type": "dpv:ConsentNotice",
        "dct:identifier": f"{told.document['purpose']}/{wording['language']}/{wording['version']}",
        "dct:hasVersion": wording["version"],
        "dct:language": wording["language"],
        "dct:description": told.text,
        "sha256": wording["sha256"],
    }
