"""Failures told in plain words, without a delivery status part: Exim, qmail and its kin, and what flufl.bounce knows.

Only messages from a mail system itself are looked at: a person who quotes a bounce has not bounced.
"""

import contextlib
import re
from email.message import Message
from email.utils import getaddresses

from onboarding.mail.status_report import STATUS, Recipient

_DAEMON = re.compile(
    r"^(mailer[-_. ]?daemon|mail[-_. ]?daemon|mdaemon|post[-_. ]?master|mailer|mail-?delivery.*|delivery-?daemon|uucp|"
    r"bounces?|bounces?[-+].*|mail-?system|microsoftexchange[0-9a-f]{32})$",
    re.IGNORECASE,
)  # common practice, no source
_DAEMON_NAME = re.compile(r"mail delivery (sub)?system|mail delivery service|mailer.daemon|postmaster", re.IGNORECASE)
_SUBJECT = re.compile(
    r"^\s*(undeliver(ed|able)|returned mail|mail delivery (failed|failure|warning|system|error)|failure notice|"
    r"delivery (failure|failed|status notification|warning|report|notification)|mail (could not be|not) delivered|"
    r"non-?delivery|mail (system )?error|mail failure|message (could not be delivered|undeliverable))",
    re.IGNORECASE,
)  # common practice, no source
_PARAGRAPH = re.compile(r"^<([^<>\s@]+@[^<>\s]+)>:?[ \t]*$|^<([^<>\s@]+@[^<>\s]+)>:[ \t]*(.*)$")
_INTRODUCTIONS = (
    "hi. this is the",  # QSBMF, https://cr.yp.to/proto/qsbmf.txt
    "this is the postfix program",
    "this is the mail system at host",
    "i'm afraid i wasn't able to deliver",
)
_WARNING = re.compile(
    r"warning message only|warning:|delayed|still being retried|not yet been delivered|do not need to resend|"
    r"transient non-?fatal",
    re.IGNORECASE,
)
_FINAL = re.compile(r"permanent|gave up|giving up|returned to sender", re.IGNORECASE)
_REPLY_LINE = re.compile(r"\b([45])\d\d[ -]")
_ADDRESS = re.compile(r"^[^\s@<>]{1,64}@[^\s@<>]{1,253}$")
_NEAR = 6
LONGEST = 100_000
MOST_LINES = 2_000
MOST_NAMED = 100


def null_return_path(message: Message) -> bool:
    """Whether the message came with the null return path (RFC 5321 section 4.5.5), as absence notes do too."""
    return str(message.get("Return-Path", "")).strip() == "<>"


def from_mail_system(message: Message, subject: str) -> bool:
    """Whether the sender calls itself a mail system, or the subject begins as only mail systems begin."""
    if _SUBJECT.match(subject):
        return True
    named = str(message.get("From", "")) or str(message.get("Sender", ""))
    if named.strip() == "<>":
        return True
    for name, address in getaddresses([named]):
        if _DAEMON.match(address.partition("@")[0]) or _DAEMON_NAME.search(name):
            return True
    return False


def read_plain(message: Message, text: str) -> list[Recipient]:
    """The recipients that a mail system says it could not reach, each once."""
    text = text[: 2 * LONGEST]
    for reader in (_exim, _qmail_kin, _flufl):
        with contextlib.suppress(Exception):  # odd mail must never stop the intake
            if found := reader(message, text):
                return found
    return []


def _exim(message: Message, text: str) -> list[Recipient]:
    """Exim names them in a header of its own (Exim specification, chapter on customising messages)."""
    named = [part.strip() for value in message.get_all("X-Failed-Recipients", []) for part in str(value).split(",")]
    addresses = [address for address in dict.fromkeys(named) if _ADDRESS.match(address)]
    return [_failed(address, text) for address in addresses[:MOST_NAMED]]


def _qmail_kin(message: Message, text: str) -> list[Recipient]:
    """QSBMF and those who write like it: a paragraph ``<address>:`` and the reason below or behind."""
    lowered = text.lower()
    if not any(words in lowered for words in _INTRODUCTIONS):
        return []
    body = re.split(r"(?m)^-{3}", text, maxsplit=1)[0]
    delayed = bool(_WARNING.search(body)) and "permanent error" not in lowered
    found: dict[str, Recipient] = {}
    for paragraph in re.split(r"\n[ \t]*\n", body)[:MOST_LINES]:
        lines = paragraph.strip().splitlines()
        match = _PARAGRAPH.match(lines[0].strip()) if lines else None
        if match:
            address = match.group(1) or match.group(2)
            reason = " ".join(" ".join([match.group(3) or "", *lines[1:]]).split())
            found.setdefault(address.lower(), _recipient(address, "delayed" if delayed else "failed", reason))
    return list(found.values())


def _flufl(message: Message, text: str) -> list[Recipient]:
    """flufl.bounce's detectors; it raises on some mails (an empty From is one), which then say nothing."""
    import logging

    from flufl.bounce import all_failures

    logging.getLogger("flufl.bounce").setLevel(logging.CRITICAL)
    if len(text) > LONGEST or text.count("\n") > MOST_LINES:
        return []  # no mail system writes so much of its own
    delayed, failed = all_failures(message)
    only_warned = _WARNING.search(text) and not _FINAL.search(text)
    found = [_recipient(each, "delayed" if only_warned else "failed", _reason(each, text)) for each in _decoded(failed)]
    found += [_recipient(each, "delayed", _reason(each, text)) for each in _decoded(delayed)]
    return found


def _decoded(addresses: "frozenset[bytes] | set[bytes]") -> list[str]:
    texts = sorted(address.decode("utf-8", "replace") for address in addresses)
    return [text for text in texts if _ADDRESS.match(text)][:MOST_NAMED]


def _failed(address: str, text: str) -> Recipient:
    return _recipient(address, "failed", _reason(address, text))


def _recipient(address: str, action: str, reason: str) -> Recipient:
    status = STATUS.search(reason)
    return Recipient(
        final_recipient=address,
        action=action,
        status=status.group(0) if status and status.group(1) != "2" else None,
        diagnostic=reason[:1000] or None,
    )


def _reason(address: str, text: str) -> str:
    """The words near the address that carry a code, or nothing."""
    lines = text.splitlines()[:MOST_LINES]
    places = [number for number, line in enumerate(lines) if address.lower() in line.lower()]
    for place in places:
        near = lines[place : place + _NEAR]
        if any(STATUS.search(line) or _REPLY_LINE.search(line) for line in near):
            return " ".join(" ".join(near).split())
    return ""
