"""The sender under a network that spoils most answers, from two tabs; and senders that are broken on purpose, which
the same account must catch."""

import pytest
from django.contrib.sessions.models import Session

from tests.browser.field.account import faults
from tests.browser.field.conftest import session_cookies
from tests.browser.field.film import KEEP_LABELS
from tests.browser.field.phone import Phone, wait_for

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def phone(phone_before, technician, site):
    """A phone that knows its site."""
    phone = phone_before()
    phone.open(cookies=session_cookies(technician.user))
    phone.choose_site()
    return phone


def _two_tabs(phone: Phone, first: int, each: int) -> None:
    """Keep labels from two tabs at once: ``each`` from the one, as many that follow from the other."""
    second = phone.context.new_page()
    phone.load(second)
    for page, start in ((phone.page, first), (second, first + each)):
        page.evaluate("([keep, given]) => void (window.kept = eval(keep)(given))", [KEEP_LABELS, [start, each]])
    for page in (phone.page, second):
        page.evaluate("window.kept")


def test_two_hundred_records_from_two_tabs_survive_everything(phone, network, technician, site):
    phone.kept_offline()
    network.mode = "down"
    _two_tabs(phone, 1, 35)
    phone.kill()
    phone.open()
    _two_tabs(phone, 71, 35)
    phone.kill()
    network.mode = "dead"  # joined to a device's own Wi-Fi
    phone.open()
    _two_tabs(phone, 141, 30)
    Session.objects.all().delete()
    network.mode = "good"
    phone.nudge()
    wait_for(lambda: "sign in" in phone.page.inner_text("#post-words"), "the page to ask for signing in")
    before = phone.records()
    assert [record["state"] for record in before] == ["waiting"] * 200
    phone.sign_in(session_cookies(technician.user))
    network.mode = "bad"
    second = phone.context.pages[-1]
    wait_for(lambda: phone.nudge(second) or phone.all_answered(), "all to arrive", longest=90, every=0.4)
    assert faults(phone.records(), site, 200) == []
    assert [record["id"] for record in phone.records()] == [record["id"] for record in before]
    assert [record["seq"] for record in phone.records()] == list(range(1, 201))
    assert network.most_at_once == 1  # one sender across both tabs


def test_a_batch_that_one_record_spoils_is_halved_and_the_others_arrive(phone, network, site):
    network.mode = "down"
    phone.page.evaluate(KEEP_LABELS, [1, 10])
    spoiled = phone.records()[4]["id"].encode()
    network.refuse = lambda path, body: 500 if path.endswith("/records") and spoiled in body else 0
    network.mode = "good"
    wait_for(
        lambda: phone.nudge() or sum(record["state"] == "linked" for record in phone.records()) == 9, "nine to arrive"
    )
    (left,) = [record for record in phone.records() if record["state"] == "waiting"]
    assert (left["id"].encode(), left["last_error"]) == (spoiled, "500")


def test_a_wifi_that_answers_for_us_changes_nothing(phone, network):
    network.mode = "captive"
    phone.page.evaluate(KEEP_LABELS, [1, 3])
    phone.nudge()
    wait_for(lambda: "instead of our server" in phone.page.evaluate(
        "document.getElementById('post-detail').textContent"), "the page to notice")  # fmt: skip
    assert [record["state"] for record in phone.records()] == ["waiting"] * 3


NEW_ID_EACH_TIME = (
    b"return { id, kind, seq, installation,",
    b"return { id: R.uuid(), kind, seq, installation,",
)
DONE_TOO_EARLY = (
    b"answer = await R.network.send(R.facts.records,",
    b"for (const each of batch) await R.store.answer(each.id, 'linked', {});\n"
    b"answer = await R.network.send(R.facts.records,",
)
OUT_OF_ORDER = (b"batch.map(wire)", b"[...batch].reverse().map(wire)")


@pytest.mark.parametrize("broken", [NEW_ID_EACH_TIME, DONE_TOO_EARLY, OUT_OF_ORDER], ids=["new-id", "early", "order"])
def test_a_broken_sender_is_caught(phone_before, network, technician, site, broken):
    network.break_page(*broken)
    phone = phone_before()
    page = phone.open(cookies=session_cookies(technician.user))
    phone.choose_site()
    network.mode = "down"
    page.evaluate(KEEP_LABELS, [1, 6])
    turned_away: list[str] = []

    def turn_batches_away(path: str, _body: bytes) -> int:
        if not path.endswith("/records"):
            return 0
        turned_away.append(path)
        return 503

    network.refuse, network.mode = turn_batches_away, "good"  # a whole batch that the register never sees
    wait_for(lambda: (phone.nudge(), turned_away)[1], "a batch to be turned away")
    network.refuse = lambda _path, _body: 0
    network.spoil, network.mode = 100, "bad"
    network.only = "drop"
    for _ in range(6):
        phone.nudge()
        phone.page.wait_for_timeout(250)
    network.mode = "good"
    for _ in range(4):
        phone.nudge()
        phone.page.wait_for_timeout(250)
    assert faults(phone.records(), site, 6) != []
