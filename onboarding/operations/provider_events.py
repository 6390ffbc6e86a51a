"""What a mail provider tells by its webhook, in the words of the other reports."""

import hashlib
from typing import Any

from onboarding.mail.reports import Report
from onboarding.mail.status_report import STATUS, Recipient
from onboarding.operations.bounces import TakenIn, act_on

_ACTIONS = {
    "bounced": "failed",
    "rejected": "failed",
    "failed": "failed",
    "deferred": "delayed",
    "delivered": "delivered",
}


def take_provider_event(provider: str, event: Any) -> TakenIn | None:
    """Act on one anymail tracking event; None for a kind that says nothing about arrival (opens and clicks)."""
    token = str((event.metadata or {}).get("return", ""))
    facts = f"{provider}|{event.event_id}|{event.event_type}|{event.message_id}|{event.timestamp}|{token}"
    digest = hashlib.sha256(facts.encode()).hexdigest()
    named: dict[str, Any] = {"tokens": [token] if token else [], "provider_id": str(event.message_id or "")[:200]}
    if event.event_type in {"complained", "unsubscribed"}:
        return act_on(Report("feedback", digest, outcome=[event.event_type], **named))
    action = _ACTIONS.get(event.event_type)
    if action is None:
        return None
    said = str(event.mta_response or event.description or "")[:1000]
    status = STATUS.search(said)
    recipient = Recipient(
        str(event.recipient or "") or None, action, status.group(0) if status else None, said or None
    ).cleaned()
    return act_on(Report("dsn", digest, [recipient], [recipient.outcome], **named))
