"""The fields of a delivery status notification (RFC 3464, RFC 6533) and of a feedback report (RFC 5965), as facts.

The library reads ``message/delivery-status`` in its own way, ``message/global-delivery-status`` not at all, and neither
when it is base64; so a report's parts are renamed to plain text before parsing and split here.
"""

import re
from dataclasses import dataclass

from onboarding.mail.gone import says_gone

Fields = list[tuple[str, str]]

STATUS = re.compile(r"\b([245])\.(\d{1,3})\.(\d{1,3})\b")
_SMTP_CODE = re.compile(r"(?<![\d.])([245])\d\d(?![\d.])")
_UNICODE_ESCAPE = re.compile(r"\\x\{([0-9A-Fa-f]{1,6})\}")
_FIELD = re.compile(r"^([!-9;-~]{1,76})[ \t]*:(.*)$")
_ACTIONS = ("failed", "delayed", "delivered", "relayed", "expanded")
MOST_RECIPIENTS = 1000


@dataclass(frozen=True)
class Recipient:
    """What a report says of one recipient. ``action`` and ``status`` are None where it does not say."""

    final_recipient: str | None
    action: str | None
    status: str | None
    diagnostic: str | None
    original_recipient: str | None = None

    @property
    def outcome(self) -> str:
        """One word: bounced_permanent, bounced_transient, delayed, delivered, relayed or expanded."""
        if self.action != "failed":
            return self.action or "delayed"
        return "bounced_transient" if self._reply_class() == "4" else "bounced_permanent"

    @property
    def clear_status(self) -> str | None:
        """The most telling enhanced status: the diagnostic's, where the report itself only says that it failed."""
        if self.status in (None, "5.0.0"):
            found = STATUS.search(self.diagnostic or "")
            return found.group(0) if found else self.status
        return self.status

    @property
    def gone(self) -> bool:
        """Whether the report says clearly that the address does not take mail from anybody, ever."""
        return self.action == "failed" and says_gone(status=self.clear_status or "", text=self.diagnostic or "")

    def cleaned(self) -> "Recipient":
        """The same in characters that a database and a terminal take: no control characters, no lone surrogates."""
        return Recipient(
            _clean(self.final_recipient), self.action, self.status, _clean(self.diagnostic),
            _clean(self.original_recipient),
        )  # fmt: skip

    def _reply_class(self) -> str:
        if self.status:
            return self.status[0]
        found = _code_in(self.diagnostic or "")
        return found.group(1) if found else "5"


def _clean(text: str | None) -> str | None:
    if text is None:
        return None
    printable = text.encode("utf-8", "replace").decode("utf-8")
    return re.sub(r"[\x00-\x1f\x7f-\x9f]+", " ", printable).strip() or None


def read_recipients(text: str) -> list[Recipient]:
    """The recipients of a delivery status part, in order; blocks that name none are about the message."""
    found: list[Recipient] = []
    for block in _blocks(text):
        for fields in _one_recipient_each(block):
            recipient = _recipient(fields)
            if recipient is not None and len(found) < MOST_RECIPIENTS:
                found.append(recipient)
    return found


def read_fields(text: str) -> Fields:
    """All ``name: value`` fields, names in lower case, folded lines joined, white space collapsed."""
    fields: Fields = []
    for line in text.splitlines():
        if line[:1] in {" ", "\t"} and fields and line.strip():
            name, value = fields[-1]
            fields[-1] = (name, f"{value} {line.strip()}")
        elif match := _FIELD.match(line):
            fields.append((match.group(1).lower(), match.group(2).strip()))
    return [(name, " ".join(value.split())) for name, value in fields]


def typed_address(value: str) -> str | None:
    """The address of ``rfc822; user@example.org``; xtext of RFC 6533 (``\\x{…}``) is decoded, brackets dropped."""
    kind, semicolon, rest = value.partition(";")
    address = rest if semicolon else kind
    address = _UNICODE_ESCAPE.sub(_unescaped, address.strip()).strip("<>").strip()
    return address[:400] or None


def _unescaped(match: re.Match[str]) -> str:
    number = int(match.group(1), 16)
    if number > 0x10FFFF or 0xD800 <= number <= 0xDFFF or number < 0x20:
        return match.group(0)
    return chr(number)


def _blocks(text: str) -> list[Fields]:
    parts = re.split(r"\n[ \t]*\n", text.replace("\r\n", "\n").replace("\r", "\n"))
    return [fields for part in parts if (fields := read_fields(part))]


def _one_recipient_each(block: Fields) -> list[Fields]:
    """Some senders leave out the empty line between recipients: a repeated field begins the next one."""
    groups: list[Fields] = [[]]
    for name, value in block:
        if name in {"final-recipient", "original-recipient"} and any(name == seen for seen, _value in groups[-1]):
            groups.append([])
        groups[-1].append((name, value))
    return groups


def _recipient(fields: Fields) -> Recipient | None:
    by_name = dict(reversed(fields))
    final, original = by_name.get("final-recipient"), by_name.get("original-recipient")
    if final is None and original is None:
        return None
    status = STATUS.search(by_name.get("status", ""))
    return Recipient(
        final_recipient=typed_address(final if final is not None else original or ""),
        action=_action(by_name.get("action", ""), status or _code_in(by_name.get("diagnostic-code", ""))),
        status=status.group(0) if status else None,
        diagnostic=by_name.get("diagnostic-code", "")[:1000] or None,
        original_recipient=typed_address(original) if original is not None else None,
    )


def _action(text: str, code: re.Match[str] | None) -> str | None:
    """The action that is named; else what the status or the reply amounts to."""
    word = re.split(r"[^a-z]", text.strip().lower(), maxsplit=1)[0]
    if word in _ACTIONS:
        return word
    if word.startswith("fail"):
        return "failed"
    return {"2": "delivered", "4": "delayed", "5": "failed"}[code.group(1)] if code else None


def _code_in(text: str) -> re.Match[str] | None:
    return STATUS.search(text) or _SMTP_CODE.search(text)
