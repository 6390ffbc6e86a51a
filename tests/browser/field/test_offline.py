"""Twenty labels scanned without internet, the phone killed twice, the session expired, then a network that spoils most
answers: everything arrives, in order, once."""

import pytest
from django.contrib.sessions.models import Session

from tests.browser.field.account import faults
from tests.browser.field.conftest import session_cookies
from tests.browser.field.film import labels
from tests.browser.field.phone import wait_for

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


def _scan_until(phone, count: int) -> None:
    phone.page.click("#camera-switch")
    wait_for(lambda: len(phone.records()) >= count, f"{count} scans", longest=90)


def test_twenty_labels_survive_everything(phone_before, network, technician, site):
    phone = phone_before(labels(20))
    page = phone.open(cookies=session_cookies(technician.user))
    phone.kept_offline()
    wait_for(lambda: page.query_selector(".place"), "the day's sites")
    network.mode = "down"
    phone.choose_site()
    _scan_until(phone, 7)
    phone.kill()

    phone.open()  # no network at all
    assert phone.page.inner_text("#where-code") == site.written_code
    _scan_until(phone, 14)
    phone.kill()

    network.mode = "dead"  # joined to a device's own Wi-Fi
    phone.open()
    _scan_until(phone, 20)
    before = phone.records()
    assert {record["state"] for record in before} == {"waiting"}
    assert {record["content"]["source"] for record in before} == {"camera"}

    Session.objects.all().delete()
    network.mode = "good"
    phone.page.click("#camera-switch")
    phone.nudge()
    wait_for(lambda: "sign in" in phone.page.inner_text("#post-words"), "the page to ask for signing in")
    assert [record["state"] for record in phone.records()] == ["waiting"] * 20

    phone.sign_in(session_cookies(technician.user))
    network.mode = "bad"
    wait_for(
        lambda: (phone.nudge(), all(r["state"] != "waiting" for r in phone.records()))[1], "all to arrive", every=0.4
    )
    assert faults(phone.records(), site, 20) == []
    assert [record["id"] for record in phone.records()] == [record["id"] for record in before]
    assert {"drop", "truncate", "double"} <= set(network.counted)
    assert phone.page.inner_text("#post-words") == "All sent"
