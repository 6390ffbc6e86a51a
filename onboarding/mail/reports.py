"""Reads one incoming message: a delivery status notification, a complaint, an automatic reply, or something else.

Nothing that comes in here is trusted, and nothing stops the reading: what cannot be understood is ``other``.
"""

import email
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from email.errors import MessageError
from email.header import decode_header, make_header
from email.message import Message

from onboarding.mail.auto_replies import is_auto_reply
from onboarding.mail.plain_bounces import from_mail_system, null_return_path, read_plain
from onboarding.mail.return_path import return_tokens
from onboarding.mail.status_report import Recipient, read_fields, read_recipients

LARGEST = 2_000_000
"""Bytes that are looked at; what a report says stands before the message it returns."""

_RENAMED = re.compile(
    rb"(?im)^(content-type:[ \t]*(?:\r?\n[ \t]+)?)message/(global-delivery-status|delivery-status|feedback-report)"
)
_NO_COMPLAINT = frozenset({"", "not-spam", "auth-failure", "dmarc", "auth-failure-report"})
_TO_HEADERS = ("To", "Delivered-To", "X-Original-To", "Envelope-To", "X-Envelope-To", "Cc")
_LEAVE = re.compile(r"/leave/([A-Za-z0-9_-]{43})(?![A-Za-z0-9_-])")


@dataclass(frozen=True)
class Report:
    """What one message says. ``kind``: dsn, feedback, auto_reply or other; ``outcome`` one word a recipient.

    ``tokens`` are return tokens and ``opaques`` leave links found in it, by which it may be matched to a delivery;
    ``provider_id`` is what a provider calls the mail, in its own reports only.
    """

    kind: str
    digest: str
    recipients: list[Recipient] = field(default_factory=list)
    outcome: list[str] = field(default_factory=list)
    tokens: list[str] = field(default_factory=list)
    opaques: list[str] = field(default_factory=list)
    provider_id: str = ""

    def as_document(self) -> dict[str, object]:
        """The JSON document of ``manage.py read_bounce``."""
        return {
            "kind": self.kind,
            "recipients": [
                {
                    "final_recipient": one.final_recipient,
                    "action": one.action,
                    "status": one.status,
                    "diagnostic": one.diagnostic,
                }
                for one in self.recipients
            ],
            "outcome": self.outcome,
        }


def read_report(raw: bytes, *, envelope_to: tuple[str, ...] = ()) -> Report:
    """What the message ``raw`` says; never raises. ``envelope_to`` are the addresses that it was delivered to."""
    digest = hashlib.sha256(raw).hexdigest()
    try:
        return _read(raw[:LARGEST], digest, envelope_to)
    except (Exception, RecursionError):  # nothing that a stranger sends may stop the intake
        return Report("other", digest)


def _read(raw: bytes, digest: str, envelope_to: tuple[str, ...]) -> Report:
    message = email.message_from_bytes(_RENAMED.sub(rb"\1text/x-\2", _from_its_first_header(raw)))
    parts = list(_own_parts(message))
    kind, found, outcome = _meaning(message, parts)
    recipients = [one.cleaned() for one in found]
    returned = _returned_text(parts)
    tokens = return_tokens(
        [*envelope_to, *(str(value) for name in _TO_HEADERS for value in message.get_all(name, []))]
    ) or return_tokens([returned])
    return Report(kind, digest, recipients, outcome, tokens, list(dict.fromkeys(_LEAVE.findall(returned))))


def _from_its_first_header(raw: bytes) -> bytes:
    """``raw`` without what pipes and stores put in front of a message, its lines ended in one of the usual ways."""
    raw = raw.removeprefix(b"\xef\xbb\xbf").lstrip(b"\x00\r\n")
    return raw if b"\n" in raw else raw.replace(b"\r", b"\n")


def _meaning(message: Message, parts: list[Message]) -> tuple[str, list[Recipient], list[str]]:
    by_type: dict[str, Message] = {}
    for part in reversed(parts):
        by_type[part.get_content_type()] = part
    if (feedback := by_type.get("text/x-feedback-report")) is not None:
        kind_of_feedback = dict(read_fields(_text(feedback))).get("feedback-type", "").lower()
        return "feedback", [], [] if kind_of_feedback in _NO_COMPLAINT else ["complained"]
    statuses = [part for part in parts if part.get_content_type() in _STATUS_TYPES]
    recipients = [one for part in statuses for one in read_recipients(_text(part)) if one.action]
    if recipients:
        return "dsn", recipients, [one.outcome for one in recipients]
    kind, told, outcome = _in_words(message, parts)
    return ("dsn" if statuses else kind), told, outcome


_BROKEN = re.compile(r"(?im)^content-type:[ \t]*text/x-(global-)?delivery-status")
_STATUS_TYPES = frozenset({"text/x-delivery-status", "text/x-global-delivery-status"})


def _in_words(message: Message, parts: list[Message]) -> tuple[str, list[Recipient], list[str]]:
    subject = _subject(message)
    text = "\n".join(_text(part) for part in parts if part.get_content_maintype() == "text")
    if _BROKEN.search(text) or message.get_param("report-type") == "disposition-notification":
        return "other", [], []  # a report whose parts cannot be told apart, or one about something else
    automatic = is_auto_reply(message, subject)
    machine = from_mail_system(message, subject) or (null_return_path(message) and not automatic)
    if machine and (recipients := read_plain(message, text)):
        return "dsn", recipients, [one.outcome for one in recipients]
    return "auto_reply" if automatic else "other", [], []


def _own_parts(message: Message) -> Iterator[Message]:
    """The leaves of the message itself; a message that it carries is not looked into."""
    waiting = [message]
    seen = 0
    while waiting and seen < 2000:
        part = waiting.pop(0)
        seen += 1
        if part.get_content_maintype() == "multipart" and part.is_multipart():
            waiting = [child for child in part.get_payload() if isinstance(child, Message)] + waiting
        else:
            yield part


def _text(part: Message) -> str:
    content = part.get_payload(decode=True)
    if not isinstance(content, bytes):
        return ""
    charset = part.get_content_charset() or "utf-8"
    if part.get_content_type() in _STATUS_TYPES:
        charset = "utf-8"
    try:
        return content.decode(charset, "replace")
    except (LookupError, ValueError):
        return content.decode("utf-8", "replace")


def _returned_text(parts: list[Message]) -> str:
    """The head of the message that a report returns, as far as it is there."""
    texts = []
    for part in parts:
        if part.get_content_type() == "text/rfc822-headers":
            texts.append(_text(part))
        elif part.get_content_maintype() == "message" and part.is_multipart():
            inner = part.get_payload(0)
            if isinstance(inner, Message):
                texts.append("\n".join(f"{name}: {value}" for name, value in inner.items()))
    return "\n".join(texts)[:200_000]


def _subject(message: Message) -> str:
    """The subject as people read it, also where it came as bare UTF-8."""
    written = next((str(value) for name, value in message.raw_items() if name.lower() == "subject"), "")
    raw = written.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    try:
        return str(make_header(decode_header(raw)))
    except (LookupError, ValueError, MessageError):
        return raw
