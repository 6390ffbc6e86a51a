"""Addresses, return paths, replies and pace."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from onboarding.mail.addresses import BadAddress, usable_address
from onboarding.mail.gone import GONE
from onboarding.mail.pace import after_sending, next_midnight, places_free, quiet_end
from onboarding.mail.replies import TRANSIENT_WAITS, Reply, transient_class, wait_before_retry
from onboarding.mail.return_path import (
    leave_opaque,
    message_id,
    new_return_token,
    read_opaque,
    return_address,
    return_tokens,
)

# Written after RFC 5321 section 4.1.2, RFC 5322 section 3.4.1, RFC 6531 and RFC 5891; the cases are ours.
GOOD = [
    "a@example.com",
    "first.last@example.com",
    "first+tag@example.com",
    "x-_!#$%&'*/=?^`{|}~@example.com",
    "1234567890@example.com",
    "a@sub.sub.example.com",
    "a@xn--strae-oqa.example",
    "inês@example.com",
    "用户@example.com",
    "a@straße.example",
    "a@faß.example",
    "a@例え.example",
    f"{'l' * 64}@example.com",
]
BAD = [
    "", "a", "@example.com", "a@", "a@@example.com", "a@b@example.com", "a b@example.com", ".a@example.com",
    "a.@example.com", "a..b@example.com", "a@-example.com", "a@example-.com", "a@example..com", "a@.example.com",
    "a@example.com.", "a@localhost", "a@[127.0.0.1]", '"a b"@example.com', "a@exa mple.com", "a,b@example.com",
    "a@example.com\r\nBcc: b@example.com", "a\x00@example.com", "<a@example.com>", "Ana <a@example.com>",
    f"{'l' * 65}@example.com", f"a@{'d' * 64}.com", f"a@{'.'.join(['d' * 60] * 5)}.com", "a@example.invalid",
    "a@host.local", "a@host.test",
]  # fmt: skip


@pytest.mark.parametrize("text", GOOD)
def test_an_address_that_mail_can_be_sent_to(text):
    found = usable_address(text)
    found.on_the_wire.rpartition("@")[2].encode("ascii")
    assert usable_address(found.written) == found


@pytest.mark.parametrize("text", BAD)
def test_an_address_that_mail_cannot_be_sent_to(text):
    with pytest.raises(BadAddress):
        usable_address(text)


def test_idna_2008_keeps_the_sharp_s():
    """RFC 5891: ß is a letter of its own; IDNA 2003, which Django 5.2 uses, turns it into ss."""
    assert usable_address("a@straße.example").domain == "xn--strae-oqa.example"


def test_a_return_address_is_read_back_whatever_a_relay_does_to_its_case():
    token = new_return_token()
    address = return_address("bounces@example.org", token)
    assert return_tokens([address.upper(), f"<{address}>"]) == [token]
    assert len(address.partition("@")[0]) <= 64  # RFC 5321 section 4.5.3.1.1
    assert return_tokens(["bounces@example.org", "a+tag@example.org"]) == []


def test_an_opaque_names_one_delivery_and_cannot_be_made_without_the_key():
    named = uuid.uuid4()
    opaque = leave_opaque(named, "key")
    assert read_opaque(opaque, "key") == named
    assert read_opaque(opaque, "other key") is None
    for spoilt in ("", "x", opaque[:-1], "A" * 43, opaque + "A", "ü" * 43):
        assert read_opaque(spoilt, "key") is None


def test_each_send_has_a_message_id_of_its_own():
    reference = uuid.uuid4()
    assert message_id(reference, 1, "example.org") != message_id(reference, 2, "example.org")


@pytest.mark.parametrize(
    ("code", "text", "status", "gone"),
    [
        (550, "5.1.1 <a@example.com> no such user", "5.1.1", True),
        (550, "5.1.2 no such domain", "5.1.2", True),
        (550, "5.1.10 null MX", "5.1.10", True),
        (552, "5.2.2 mailbox full", "5.2.2", False),
        (550, "5.7.1 not wanted", "5.7.1", False),
        (550, "user unknown", "", False),
        (450, "5.1.1 a contradiction", "", False),
        (250, "2.1.5 OK", "2.1.5", False),
    ],
)
def test_enhanced_codes_of_rfc_3463(code, text, status, gone):
    reply = Reply(code, text)
    assert (reply.status, reply.gone) == (status, gone)


def test_only_addressing_codes_mean_that_an_address_is_gone():
    """RFC 3463 section 3.2: subject 1 is about the address; 4.2.2 and 5.2.2, a full mailbox, are not."""
    assert all(code.startswith("5.1.") for code in GONE)


@pytest.mark.parametrize(
    ("code", "text", "expected"),
    [(421, "", "server_busy"), (450, "4.2.1", "try_later"), (451, "", "try_later"), (452, "", "mailbox_full")],
)
def test_classes_of_transient_replies(code, text, expected):
    assert transient_class(Reply(code, text)) == expected


@pytest.mark.parametrize("reply_class", sorted(TRANSIENT_WAITS))
def test_waits_double_up_to_the_longest_with_jitter(reply_class):
    first, longest = TRANSIENT_WAITS[reply_class]
    waits = [wait_before_retry(reply_class, attempt, Random(1)) for attempt in range(1, 40)]
    assert first * 0.75 <= waits[0] <= first * 1.25
    assert waits[-1] <= longest * 1.25
    assert len({wait_before_retry(reply_class, 3, Random(seed)) for seed in range(20)}) > 10


NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)


def test_the_pace_averages_out():
    free_at, sent, now = NOW, 0, NOW
    for _second in range(60):
        mails = places_free(free_at, now, 30)
        free_at = after_sending(free_at, now, 30, mails)
        sent += mails
        now += timedelta(seconds=1)
    assert 30 <= sent <= 36  # a minute's worth, and the burst of ten seconds


LISBON = ZoneInfo("Europe/Lisbon")


@pytest.mark.parametrize(
    ("now", "begins", "ends", "expected"),
    [
        ("2026-06-01T22:30:00Z", time(22), time(8), "2026-06-02T07:00:00Z"),  # 23:30 in Lisbon, until 8 in the morning
        ("2026-06-01T05:00:00Z", time(22), time(8), "2026-06-01T07:00:00Z"),
        ("2026-06-01T07:00:00Z", time(22), time(8), None),
        ("2026-06-01T12:30:00Z", time(13), time(15), "2026-06-01T14:00:00Z"),
        ("2026-06-01T12:30:00Z", None, time(15), None),
        ("2026-06-01T12:30:00Z", time(8), time(8), None),
        ("2026-10-25T00:30:00Z", time(22), time(8), "2026-10-25T08:00:00Z"),  # the clocks go back in this night
    ],
)
def test_quiet_hours_end(now, begins, ends, expected):
    found = quiet_end(datetime.fromisoformat(now), LISBON, begins, ends)
    assert found == (datetime.fromisoformat(expected) if expected else None)


def test_a_day_begins_at_midnight_of_the_zone():
    assert next_midnight(NOW, LISBON) == datetime(2026, 6, 1, 23, 0, tzinfo=UTC)
