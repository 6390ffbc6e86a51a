"""Reading bounces, complaints, automatic replies and whatever else comes in."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from onboarding.mail.reports import LARGEST, read_report

TOKEN = "0123456789abcdef0123456789abcdef"
OURS = f"bounces+{TOKEN}@example.org"


def dsn(fields: str, *, kind: str = "message/delivery-status", head: str = "", returned: str = "") -> bytes:
    """A report in the shape of RFC 3462/3464 with ``fields`` as its second part."""
    return (
        f"From: MAILER-DAEMON@relay.example\nTo: {OURS}\nSubject: Undeliverable\nMIME-Version: 1.0\n{head}"
        'Content-Type: multipart/report; report-type=delivery-status; boundary="=b="\n\n'
        f"--=b=\nContent-Type: text/plain\n\nIt did not work.\n\n--=b=\nContent-Type: {kind}\n\n{fields}\n"
        f"--=b=\nContent-Type: message/rfc822\n\n{returned}Subject: hello\n\nwords\n--=b=--\n"
    ).encode()


def one(fields: str, **more: str) -> tuple[str | None, str | None, str | None, str]:
    report = read_report(dsn("Reporting-MTA: dns; relay.example\n\n" + fields, **more))
    assert report.kind == "dsn"
    (recipient,) = report.recipients
    return recipient.final_recipient, recipient.action, recipient.status, report.outcome[0]


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        (
            "Final-Recipient: rfc822; a@example.net\nAction: failed\nStatus: 5.1.1\n",
            ("a@example.net", "failed", "5.1.1", "bounced_permanent"),
        ),
        (
            "Final-Recipient: rfc822;a@example.net\nAction: Failed (too old)\nStatus: 4.4.7 (expired)\n",
            ("a@example.net", "failed", "4.4.7", "bounced_transient"),
        ),
        (
            "final-recipient: RFC822 ; <a@example.net>\nACTION:delayed\nstatus: 4.2.0\n",
            ("a@example.net", "delayed", "4.2.0", "delayed"),
        ),
        (
            "Final-Recipient: rfc822; a@example.net\nAction: delivered\nStatus: 2.1.5\n",
            ("a@example.net", "delivered", "2.1.5", "delivered"),
        ),
        (
            "Final-Recipient: rfc822; a@example.net\nAction: relayed\nStatus: 2.0.0\n",
            ("a@example.net", "relayed", "2.0.0", "relayed"),
        ),
        (
            "Final-Recipient: rfc822; list@example.net\nAction: expanded\nStatus: 2.0.0\n",
            ("list@example.net", "expanded", "2.0.0", "expanded"),
        ),
        (  # no Action: the status tells (a breach of RFC 3464 section 2.3.3)
            "Final-Recipient: rfc822; a@example.net\nStatus: 5.7.1\n",
            ("a@example.net", "failed", "5.7.1", "bounced_permanent"),
        ),
        (  # no Status: the reply tells
            "Final-Recipient: rfc822; a@example.net\nAction: failed\nDiagnostic-Code: smtp; 452 full\n",
            ("a@example.net", "failed", None, "bounced_transient"),
        ),
        (  # only an Original-Recipient
            "Original-Recipient: rfc822; a@example.net\nAction: failed\nStatus: 5.1.1\n",
            ("a@example.net", "failed", "5.1.1", "bounced_permanent"),
        ),
        (
            "Final-Recipient: x400; /C=PT/A=X/\nAction: failed\nStatus: 5.0.0\n",
            ("/C=PT/A=X/", "failed", "5.0.0", "bounced_permanent"),
        ),
    ],
)
def test_a_delivery_status_part_says(fields, expected):
    assert one(fields) == expected


def test_a_folded_diagnostic_is_one_line():
    report = read_report(
        dsn(
            "Final-Recipient: rfc822; a@example.net\nAction: failed\nStatus: 5.1.1\n"
            "Diagnostic-Code: smtp;  550 5.1.1\n\t<a@example.net>:\n    no such user\n"
        )
    )
    assert report.recipients[0].diagnostic == "smtp; 550 5.1.1 <a@example.net>: no such user"


def test_recipients_are_kept_apart_with_and_without_the_empty_line_between():
    block = "Final-Recipient: rfc822; {}@example.net\nAction: {}\nStatus: {}\n"
    blocks = [block.format("a", "failed", "5.1.1"), block.format("b", "delayed", "4.0.0")]
    for between in ("\n", ""):
        report = read_report(dsn("Reporting-MTA: dns; x.example\n\n" + between.join(blocks)))
        assert report.outcome == ["bounced_permanent", "delayed"]
        assert [each.final_recipient for each in report.recipients] == ["a@example.net", "b@example.net"]


@pytest.mark.parametrize("encoded", [False, True])
def test_a_global_delivery_status_of_rfc_6533(encoded):
    fields = (
        "Reporting-MTA: dns; relay.example\n\n"
        "Original-Recipient: utf-8; in\\x{EA}s@example.net\n"
        "Final-Recipient: utf-8; inês@example.net\nAction: failed\nStatus: 5.1.1\n"
    )
    kind = "message/global-delivery-status"
    if encoded:
        fields = base64.encodebytes(fields.encode()).decode()
        kind += "\nContent-Transfer-Encoding: base64"
    report = read_report(dsn(fields, kind=kind))
    assert report.kind == "dsn"
    assert report.recipients[0].final_recipient == "inês@example.net"
    assert report.recipients[0].original_recipient == "inês@example.net"


def complaint(feedback_type: str) -> bytes:
    """A report in the shape of RFC 5965."""
    return (
        f"From: <abuse@provider.example>\nTo: {OURS}\nSubject: FW: hello\n"
        'Content-Type: multipart/report; report-type=feedback-report; boundary="=b="\n\n'
        "--=b=\nContent-Type: text/plain\n\nA complaint.\n--=b=\nContent-Type: message/feedback-report\n\n"
        f"Feedback-Type: {feedback_type}\nUser-Agent: Some/1\nVersion: 1\n\n--=b=\nContent-Type: message/rfc822\n\n"
        "Subject: hello\n\nwords\n--=b=--\n"
    ).encode()


@pytest.mark.parametrize(
    ("feedback_type", "outcome"),
    [("abuse", ["complained"]), ("fraud", ["complained"]), ("not-spam", []), ("auth-failure", []), ("", [])],
)
def test_a_feedback_report_says(feedback_type, outcome):
    report = read_report(complaint(feedback_type))
    assert (report.kind, report.outcome, report.recipients) == ("feedback", outcome, [])


def plain(headers: str, body: str) -> bytes:
    return f"{headers}To: {OURS}\n\n{body}".encode()


PERSON = "From: Ana <ana@example.net>\nSubject: Out of office\n"


@pytest.mark.parametrize(
    "headers",
    [
        PERSON,
        "From: ana@example.net\nSubject: hello\nAuto-Submitted: auto-replied (vacation)\n",
        "From: ana@example.net\nSubject: Re: hello\nX-Autoreply: yes\n",
        "From: ana@example.net\nSubject: Re: hello\nPrecedence: auto_reply\n",
        "From: ana@example.net\nReturn-Path: <>\nSubject: =?utf-8?Q?Resposta_autom=C3=A1tica?=\n",
        "From: ana@example.net\nReturn-Path: <>\nAuto-Submitted: auto-replied\nSubject: x\n",
    ],
)
def test_an_automatic_reply_is_told_whatever_it_quotes(headers):
    report = read_report(plain(headers, "550 5.1.1 <a@example.net> user unknown\n"))
    assert (report.kind, report.outcome) == ("auto_reply", [])


@pytest.mark.parametrize(
    "raw",
    [
        plain("From: ana@example.net\nSubject: Re: your bounce\n", "<b@example.net>:\n550 5.1.1 user unknown\n"),
        plain("From: ana@example.net\nSubject: Fwd: Undelivered\n", "This is the mail system at host x\n"),
        plain("From: Postmaster <postmaster@example.net>\nSubject: Hello\n", "We moved our servers last night.\n"),
        plain("From: robot@example.net\nSubject: Please confirm that you are a person\n", "Click here.\n"),
        b"",
        b"\0\xff\xfe",
        b"Content-Type: multipart/report; report-type=disposition-notification; boundary=x\n\n--x\n\nread\n--x--\n",
        # a person forwards a bounce: what it carries is not what it says
        b"From: ana@example.net\nContent-Type: multipart/mixed; boundary=o\n\n--o\nContent-Type: message/rfc822\n\n"
        + dsn("Final-Recipient: rfc822; a@example.net\nAction: failed\nStatus: 5.1.1\n")
        + b"\n--o--\n",
    ],
)
def test_what_is_no_report_is_other(raw):
    report = read_report(raw)
    assert (report.kind, report.outcome, report.recipients) == ("other", [], [])


def test_exim_names_its_recipients_in_a_header():
    raw = plain(
        "From: Mail Delivery System <Mailer-Daemon@mx.example>\nX-Failed-Recipients: a@example.net, b@example.net\n"
        "Auto-Submitted: auto-replied\nSubject: Mail delivery failed: returning message to sender\n",
        "  a@example.net\n    SMTP error from remote mail server after RCPT TO:<a@example.net>:\n"
        "    550 5.1.1 no such mailbox\n  b@example.net\n    452 4.2.2 over quota\n",
    )
    report = read_report(raw)
    assert [(each.final_recipient, each.status) for each in report.recipients] == [
        ("a@example.net", "5.1.1"),
        ("b@example.net", "4.2.2"),
    ]
    assert report.outcome == ["bounced_permanent", "bounced_transient"]


def test_qmails_own_format():
    """QSBMF, https://cr.yp.to/proto/qsbmf.txt: an introduction, then a paragraph a recipient, then a break."""
    raw = plain(
        "From: MAILER-DAEMON@heaven.example\nSubject: failure notice\n",
        "Hi. This is the qmail-send program at heaven.example.\nIt did not work.\n\n"
        "<a@example.net>:\nSorry, no mailbox here by that name. (#5.1.1)\n\n"
        "--- Below this line is a copy of the message.\n\n<c@example.net>:\nnot a recipient (#5.1.1)\n",
    )
    (recipient,) = read_report(raw).recipients
    assert (recipient.final_recipient, recipient.action, recipient.status) == ("a@example.net", "failed", "5.1.1")


def test_an_empty_sender_stops_nothing():
    """flufl.bounce raises on it; that must not reach us."""
    raw = plain("From: <>\nReturn-Path: <>\nSubject: Delivery failure\n", "Unknown user: a@example.net\n")
    assert read_report(raw).kind in {"dsn", "other"}


def test_the_token_is_found_in_the_address_first_and_else_in_what_is_returned():
    fields = "Final-Recipient: rfc822; a@example.net\nAction: failed\nStatus: 5.1.1\n"
    assert read_report(dsn(fields)).tokens == [TOKEN]
    other = "f" * 32
    returned = f"Return-Path: <bounces+{other}@example.org>\n"
    raw = dsn(fields, returned=returned).replace(OURS.encode(), b"bounces@example.org")
    assert read_report(raw).tokens == [other]
    assert read_report(raw, envelope_to=(OURS.upper(),)).tokens == [TOKEN]


def test_control_characters_do_not_get_through():
    report = read_report(
        dsn("Final-Recipient: rfc822; a\0@example.net\nAction: failed\nStatus: 5.1.1\nDiagnostic-Code: x\x1b[2J\0\n")
    )
    assert "\0" not in json.dumps(report.as_document())
    assert "\\u001b" not in json.dumps(report.as_document())


def test_only_the_beginning_of_a_huge_message_is_looked_at():
    fields = "Final-Recipient: rfc822; a@example.net\nAction: failed\nStatus: 5.1.1\n"
    assert read_report(dsn(fields) + b"x" * (3 * LARGEST)).outcome == ["bounced_permanent"]


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 600))
def test_nothing_a_stranger_sends_stops_the_reading(noise, place):
    raw = dsn("Final-Recipient: rfc822; a@example.net\nAction: failed\nStatus: 5.1.1\n")
    document = read_report(raw[:place] + noise + raw[place:]).as_document()
    assert document["kind"] in {"dsn", "feedback", "auto_reply", "other"}
    json.dumps(document).encode()


def _shared() -> Path | None:
    for folder in Path(__file__).resolve().parents:
        found = folder / "shared" / "mail" / "expected.json"
        if found.is_file():
            return found.parent
    return None


SHARED = _shared()
EXPECTED = json.loads((SHARED / "expected.json").read_text()) if SHARED else {}
KINDS = {"unrecognised": "other", "complaint": "feedback"}


@pytest.mark.skipif(SHARED is None, reason="the RFCs' printed messages lie outside the repository")
@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_the_messages_printed_in_rfc_3464_rfc_3461_and_rfc_5965(name):
    expected = EXPECTED[name]
    assert SHARED is not None
    document = read_report((SHARED / name).read_bytes()).as_document()
    fields = ("final_recipient", "action", "status", "diagnostic")
    assert document == {
        "kind": KINDS.get(expected["kind"], expected["kind"]),
        "recipients": [{field: each[field] for field in fields} for each in expected.get("recipients", [])],
        "outcome": expected["outcome"],
    }
