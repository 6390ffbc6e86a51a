"""Letters: their headers, both their parts, and what a person's words cannot do to them."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from email import message_from_bytes, policy
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import settings as tried
from hypothesis import strategies as st

from onboarding.mail.addresses import usable_address
from onboarding.mail.compose import Facts, write_letter
from onboarding.mail.letter import Letter

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
LINK = "https://register.example.org/welcome/" + "t" * 43


def letter(**changed: Any) -> Letter:
    given: dict[str, Any] = {
        "template": "invitation",
        "language": "en",
        "zone": ZoneInfo("Europe/Lisbon"),
        "to": usable_address("ines@example.net"),
        "return_path": "bounces+0@example.org",
        "message_id": "<1.1@example.org>",
        "sender_name": "Telhado Claro",
        "sender_address": "mail@example.org",
        "reply_to": "ola@example.com",
        "leave_url": "https://register.example.org/leave/" + "o" * 43,
        "link": LINK,
        "values": {"owner": "Inês Exemplo", "street": "Rua das Amendoeiras", "town": "Tavira", "expires_at": NOW},
    }
    values = given["values"] | changed.pop("values", {})
    return write_letter(Facts(**(given | changed | {"values": values})), NOW)


def parsed(one: Letter) -> Any:
    return message_from_bytes(one.wire, policy=policy.default)


def test_the_headers_of_an_invitation():
    message = parsed(letter())
    assert message["From"] == "Telhado Claro <mail@example.org>"
    assert message["Reply-To"] == "Telhado Claro <ola@example.com>"
    assert message["To"] == "ines@example.net"
    assert message["Auto-Submitted"] == "auto-generated"  # RFC 3834 section 5
    assert message["List-Unsubscribe"] == f"<https://register.example.org/leave/{'o' * 43}>"
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"  # RFC 8058 section 3.1
    assert message["Message-ID"] == "<1.1@example.org>"
    assert message["Date"].datetime == NOW


def test_every_line_ends_in_crlf_and_is_short_enough():
    wire = letter().wire
    assert wire.replace(b"\r\n", b"").count(b"\n") == 0
    assert wire.replace(b"\r\n", b"").count(b"\r") == 0
    assert max(len(line) for line in wire.split(b"\r\n")) <= 998  # RFC 5322 section 2.1.1
    assert wire.isascii()


def test_long_links_in_headers_stay_whole():
    url = "https://" + "a" * 60 + ".example.org/leave/" + "o" * 43
    assert f"List-Unsubscribe: <{url}>\r\n".encode() in letter(leave_url=url).wire


def test_both_parts_say_the_same_and_need_no_images():
    message = parsed(letter())
    text, html = (" ".join(message.get_body((kind,)).get_content().split()) for kind in ("plain", "html"))
    for words in ("Inês Exemplo", "Rua das Amendoeiras", "Tavira", LINK, "1 Jun 2026", "Telhado Claro"):
        assert words in text
        assert words in html
    assert "<img" not in html
    assert "<style" not in html
    assert 'style="' in html  # inlined: many mail programs drop style sheets
    assert f'href="{LINK}"' in html


def test_a_mail_that_rests_on_no_permission_has_no_way_out_of_it():
    message = parsed(letter(template="password_set", leave_url=""))
    assert message["List-Unsubscribe"] is None
    assert message["List-Unsubscribe-Post"] is None
    assert "leave" not in message.get_body(("plain",)).get_content()


HOSTILE = [
    "x\r\nBcc: victim@example.com",
    "x\nSubject: other",
    "x\r\n\r\nbody",
    "x\u2028Bcc: victim@example.com",
    "x\x85Bcc: victim@example.com",
    "{{ link }}{% load i18n %}",
    "<script>alert(1)</script>",
    '"; <b>',
    "\x00\x1b[2J",
]


@pytest.mark.parametrize("words", HOSTILE)
@pytest.mark.parametrize("place", ["sender_name", "owner", "street", "town"])
def test_a_persons_words_become_no_header_no_template_and_no_markup(words, place):
    one = letter(**({place: words} if place == "sender_name" else {"values": {place: words}}))
    message = parsed(one)
    assert message["Bcc"] is None
    assert len(message.get_all("Subject")) == 1
    assert message["To"] == "ines@example.net"
    html = message.get_body(("html",)).get_content()
    assert "<script" not in html
    assert message.get_body(("plain",)).get_content().count(LINK) == 1
    assert len(re.findall(r"\r\n\r\n", one.wire.decode())) >= 2


def test_a_persons_words_become_no_button():
    other = "https://elsewhere.example/x"
    html = parsed(letter(values={"owner": f"Click here\n\nGo\n{other}\n\n"})).get_body(("html",)).get_content()
    assert f'href="{other}"' not in html


@tried(max_examples=60, deadline=None)
@given(st.text(max_size=60), st.text(max_size=60))
def test_any_name_makes_a_mail_that_reads_back(sender, owner):
    message = parsed(letter(sender_name=sender, values={"owner": owner}))
    assert message["To"] == "ines@example.net"
    assert sorted(set(message.keys())) == sorted(message.keys())


def test_a_sender_in_any_script_reads_back():
    name = "Sol & Söhne “Telhado” 太陽"
    assert parsed(letter(sender_name=name))["From"].addresses[0].display_name == name


def test_times_are_in_the_sites_zone():
    late = datetime(2026, 6, 30, 23, 30, tzinfo=UTC)  # already July in Lisbon
    assert "1 Jul 2026" in " ".join(letter(values={"expires_at": late}).text.split())


def test_smtputf8_only_where_the_local_part_needs_it():
    assert not letter().needs_smtputf8
    one = letter(to=usable_address("inês@example.net"))
    assert one.needs_smtputf8
    assert "To: inês@example.net\r\n".encode() in one.wire


@pytest.mark.parametrize(
    "template",
    [
        "invitation", "reminder", "link_renewed", "receipt", "owner_welcome", "owner_address_before",
        "owner_address_now", "password_set",
        "password_reset", "member_invitation", "account_notice", "address_confirm",
    ],
)  # fmt: skip
def test_every_template_makes_a_letter_with_its_link(template):
    one = letter(
        template=template, values={"inviter": "Rui", "company": "C", "role": "office", "entries": ["a"], "notice": "N."}
    )
    assert one.subject
    assert LINK in one.text
    assert "{" not in one.text
    assert one.text.count("\n\n\n") == 0
