"""Builds incoming mail in the shapes that mail systems, people and forgers send, with what it must be read as."""

import base64
import quopri
from collections.abc import Callable, Iterator
from dataclasses import dataclass

TOKEN = "0123456789abcdef0123456789abcdef"
OURS = f"bounces+{TOKEN}@example.org"
PERMANENT, TRANSIENT = "bounced_permanent", "bounced_transient"
DAEMON = (
    f"From: Mail Delivery Subsystem <MAILER-DAEMON@mx.example>\nTo: {OURS}\nSubject: Undelivered Mail\n"
    "Auto-Submitted: auto-replied\nReturn-Path: <>\n"
)
PERSON = f"From: Ana Exemplo <ana@example.net>\nTo: {OURS}\n"
ORIGINAL = f"Return-Path: <{OURS}>\nFrom: info@example.org\nTo: a@example.net\nSubject: Convite\n\nOla\n"
FIELDS = (
    "Reporting-MTA: dns; mx.example\nArrival-Date: Wed, 1 Jul 2026 10:00:00 +0000\n\nFinal-Recipient: rfc822; "
    "a@example.net\nAction: failed\nStatus: 5.1.1\nDiagnostic-Code: smtp; 550 5.1.1 no such user\n"
)


@dataclass(frozen=True)
class Odd:
    """One message with its reading: the kind, and the outcome word of each recipient."""

    name: str
    raw: bytes
    kind: str
    outcome: tuple[str, ...] = ()


def part(kind: str, body: str, more: str = "") -> str:
    return f"Content-Type: {kind}\n{more}\n{body}"


def multipart(subtype: str, parts: list[str], head: str = "", boundary: str = "=_b", ended: bool = True) -> str:
    body = "".join(f"--{boundary}\n{each}\n" for each in parts) + (f"--{boundary}--\n" if ended else "")
    return f'{head}MIME-Version: 1.0\nContent-Type: multipart/{subtype}; boundary="{boundary}"\n\n{body}'


def report(fields: str = FIELDS, kind: str = "message/delivery-status", more: str = "", **how: object) -> str:
    parts = [part("text/plain; charset=us-ascii", "Sorry."), part(kind, fields, more), part("message/rfc822", ORIGINAL)]
    return multipart("report; report-type=delivery-status", parts, **({"head": DAEMON} | how))  # type: ignore[arg-type]


def in_base64(text: str) -> str:
    return base64.encodebytes(text.encode()).decode()


def quoted(text: str) -> str:
    return quopri.encodestring(text.encode()).decode()


STATUSES = [
    ("failed", "5.1.1", PERMANENT), ("failed", "5.2.2", PERMANENT), ("failed", "5.7.1", PERMANENT),
    ("failed", "4.2.2", TRANSIENT), ("Failed (expired)", "4.4.7 (gave up)", TRANSIENT), ("delayed", "4.4.1", "delayed"),
    ("delivered", "2.1.5", "delivered"), ("relayed", "2.0.0", "relayed"), ("expanded", "2.0.0", "expanded"),
]  # fmt: skip
ENCODINGS: list[tuple[str, str, Callable[[str], str]]] = [
    ("message/delivery-status", "", str),
    ("MESSAGE/Delivery-Status", "Content-Transfer-Encoding: 8bit\n", str),
    ('message/delivery-status; name="details.txt"', "Content-Disposition: attachment\n", str),
    ("message/delivery-status", "Content-Transfer-Encoding: base64\n", in_base64),
    ("message/delivery-status; charset=x-nonsense", "Content-Transfer-Encoding: quoted-printable\n", quoted),
    ("message/global-delivery-status", "Content-Transfer-Encoding: 8bit\n", str),
    ("message/global-delivery-status", "Content-Transfer-Encoding: base64\n", in_base64),
]


def every_status_in_every_encoding() -> Iterator[Odd]:
    for action, status, outcome in STATUSES:
        fields = FIELDS.replace("Action: failed", f"Action: {action}").replace("Status: 5.1.1", f"Status: {status}")
        for number, (kind, more, encode) in enumerate(ENCODINGS):
            raw = report(encode(fields), kind, more)
            for ends, written in (("lf", raw), ("crlf", raw.replace("\n", "\r\n"))):
                yield Odd(f"{action} {status} {number} {ends}", written.encode(), "dsn", (outcome,))


def changed(name: str, old: str, new: str, outcome: str = PERMANENT) -> Odd:
    """The plain report with something replaced."""
    assert old in report(), name
    return Odd(name, report().replace(old, new).encode("utf-8", "surrogateescape"), "dsn", (outcome,))


def one_of_each_oddity() -> Iterator[Odd]:
    one = (PERMANENT,)
    yield changed("no From", "From: Mail Delivery Subsystem <MAILER-DAEMON@mx.example>\n", "")
    yield changed("empty From", "Mail Delivery Subsystem <MAILER-DAEMON@mx.example>", "<>")
    yield changed("no MIME-Version", "MIME-Version: 1.0\n", "")
    yield changed("no report-type", "; report-type=delivery-status", "")
    yield changed("multipart/mixed", "multipart/report; report-type=delivery-status", "multipart/mixed")
    yield changed("a folded type", "Content-Type: message/delivery-status", "Content-Type:\n message/delivery-status")
    yield changed("an unknown charset", "us-ascii", "x-unknown")
    yield changed("Latin-1 that says it is ASCII", "Sorry.", "N\udce3o foi entregue.")
    yield changed("a subject that is not base64", "Undelivered Mail", "=?utf-8?B?Q?=")
    yield changed("a huge header", "Auto-Submitted", f"X-Long: {'z' * 300_000}\nAuto-Submitted")
    yield changed("many headers", "Auto-Submitted", "X-Many: y\n" * 5_000 + "Auto-Submitted")
    yield changed("no empty line before the recipient", "\n\nFinal", "\nFinal")
    yield changed("an empty line with spaces", "\n\nFinal", "\n \t\nFinal")
    yield changed("no action", "Action: failed\n", "")
    status = "Status: 5.1.1\nDiagnostic-Code: smtp; 550 5.1.1"
    yield changed("no status, a reply of 4yz", status, "Diagnostic-Code: smtp; 450", TRANSIENT)
    yield changed("a status in words", "Status: 5.1.1", "Status: five")
    yield Odd("not ended", report(ended=False).encode(), "dsn", one)
    yield Odd("cut off in the diagnostic", report().partition("no such")[0].encode(), "dsn", one)
    yield Odd("cut off before the action", report().partition("Action")[0].encode(), "dsn")
    yield Odd("bytes before it", b"\xef\xbb\xbf\x00\r\n\n" + report().encode(), "dsn", one)
    yield Odd("a store's first line", b"From MAILER-DAEMON Wed Jul  1 10:00:00 2026\n" + report().encode(), "dsn", one)
    yield Odd("ends of lines of another age", report().replace("\n", "\r").encode(), "dsn", one)
    inner = report(head="", boundary="=_in")
    yield Odd("within a mixed", multipart("mixed", [inner, part("text/plain", "footer")], DAEMON).encode(), "dsn", one)
    two = f"{FIELDS}\nFinal-Recipient: rfc822; b@example.net\nAction: delivered\nStatus: 2.0.0\n"
    yield Odd("two recipients", report(two).encode(), "dsn", (PERMANENT, "delivered"))


def told_in_words() -> Iterator[Odd]:
    exim = DAEMON.replace("Undelivered Mail", "Mail delivery failed: returning message to sender") + (
        "\nThis message was created automatically by mail delivery software.\n\nA message that you sent could not be "
        "delivered to one or more of its\nrecipients. This is a permanent error. The following address(es) failed:\n\n"
        "  a@example.net\n    Unrouteable address\n"
    )
    postfix = f"{DAEMON}\nThis is the mail system at host mx.example.\n\n<a@example.net>: host mx2.example said: 550\n"
    warning = (
        "From: MAILER-DAEMON@mx.example\nSubject: Warning: could not send message for past 4 hours\n\n    ** THIS IS A "
        "WARNING MESSAGE ONLY **\n\n   ----- The following addresses had transient non-fatal errors -----\n"
        "<a@example.net>\n"
    )
    yield Odd("exim's words alone", exim.encode(), "dsn", (PERMANENT,))
    yield Odd("postfix's words alone", postfix.encode(), "dsn", (PERMANENT,))
    yield Odd("only a warning", warning.encode(), "dsn", ("delayed",))


def complaints() -> Iterator[Odd]:
    words = {"abuse": 1, "FRAUD": 1, "virus": 1, "opt-out": 1, "other": 1, "not-spam": 0, "auth-failure": 0, "dmarc": 0}
    for word, counts in words.items():
        fields = f"Feedback-Type: {word}\nUser-Agent: S/1\nVersion: 1\n"
        for more, written in (("", fields), ("Content-Transfer-Encoding: base64\n", in_base64(fields))):
            parts = [part("message/feedback-report", written, more), part("text/rfc822-headers", ORIGINAL)]
            raw = multipart("report; report-type=feedback-report", parts, f"From: fbl@provider.example\nTo: {OURS}\n")
            yield Odd(f"complaint {word} {more[-7:-1]}", raw.encode(), "feedback", ("complained",) * counts)


def answers_by_machines() -> Iterator[Odd]:
    body = "\nVolto em breve.\n\n<b@example.net>:\n550 5.1.1 user unknown\n"
    for header in (
        "Auto-Submitted: auto-replied", "Auto-Submitted:\n auto-generated (vacation)", "X-Autoreply: yes",
        "X-Autorespond: x", "Precedence: auto_reply", "X-Auto-Reply: 1\nPrecedence: bulk",
        "X-POST-MessageClass: 9; Autoresponder", "Delivered-To: Autoresponder",
    ):  # fmt: skip
        yield Odd(header, f"{PERSON}{header}\nSubject: Re: Convite\n{body}".encode(), "auto_reply")
    for subject in (
        "Out of Office: Convite", "Automatic reply: x", "Resposta automática: x",
        "=?iso-8859-1?Q?R=E9ponse_automatique?=",
        "Abwesenheitsnotiz: x", "Urlaub bis Montag", "Fuera de la oficina", "Afwezig", "Férias até dia 20",
        "I am away from my mail",
    ):  # fmt: skip
        yield Odd(subject, f"{PERSON}Return-Path: <>\nSubject: {subject}\n{body}".encode(), "auto_reply")
    challenge = "From: Guard <confirm@guard.example>\nAuto-Submitted: auto-replied (challenge)\nSubject: Confirm\n"
    yield Odd("a challenge", f"{challenge}To: {OURS}\n\nClick to be let in.\n".encode(), "auto_reply")


def no_reports() -> Iterator[Odd]:
    quoting = "\n> <b@example.net>: host mx said: 550 5.1.1 User unknown\n"
    mdn = "Final-Recipient: rfc822; a@example.net\nDisposition: automatic-action/MDN-sent-automatically; failed\n"
    parts = [part("text/plain", "x"), part("message/disposition-notification", mdn + "Failure: 550 5.1.1 unknown\n")]
    texts = {
        "a person": f"{PERSON}Subject: Re: Convite\n\nObrigada! Aceito.\n",
        "a person who quotes a bounce": f"{PERSON}Subject: Re: Undelivered Mail\n{quoting}",
        "a person who forwards one": multipart(
            "mixed", [part("message/rfc822", report())], f"{PERSON}Subject: Fwd\n", "=_o"
        ),
        "a forged header": f"X-Failed-Recipients: a@example.net\n{PERSON}Subject: Cheap\n\nbuy\n",
        "a list": f"From: list@lists.example\nTo: {OURS}\nList-Id: <x.example>\nPrecedence: list\n{quoting}",
        "a read receipt": multipart("report; report-type=disposition-notification", parts, DAEMON),
        "a challenge": f"From: confirm@guard.example\nTo: {OURS}\nSubject: Please confirm\n\nHeld for a@example.net.\n",
        "encrypted": f"{PERSON}Content-Type: application/pkcs7-mime\nContent-Transfer-Encoding: base64\n\n!!!!\n",
        "a report without a boundary": "Content-Type: multipart/report\n\nnothing\n",
        "parts in parts without an end": "--x\nContent-Type: multipart/mixed; boundary=x\n\n" * 2_000,
        "nothing": "",
        "no header": "\n\n:::\n\n\0\0",
    }
    for name, text in texts.items():
        yield Odd(name, text.encode(), "other")


ODD_MAIL = [
    *every_status_in_every_encoding(), *one_of_each_oddity(), *told_in_words(), *complaints(), *answers_by_machines(),
    *no_reports(),
]  # fmt: skip
