"""The field page in WebKit, the engine of every browser on iOS: what Chromium shows must hold there too."""

import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session

from fleet.models import HandoverCheck, Member, Site, StoredFile
from onboarding.models import ConsentEntry
from onboarding.operations.wordings import seed_wordings
from tests import rows
from tests.browser.axe import RUN
from tests.browser.field.account import faults
from tests.browser.field.film import KEEP_LABELS, labels
from tests.browser.field.journal import KEPT, WATCH, accepted
from tests.browser.field.phone import wait_for
from tests.browser.field.proxy import Network
from tests.browser.field.webkit import DRIVER, ENTER, WebKitPhone

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(shutil.which(DRIVER) is None, reason="Debian's webkit2gtk-driver is not on this machine"),
]
SHELL_KEPT = "navigator.serviceWorker.getRegistration().then((kept) => Boolean(kept && kept.active))"


@pytest.fixture
def phone(network: Network, technician: Member, site: Site, tmp_path: Path) -> Iterator[WebKitPhone]:
    """A phone on which the technician signed in and whose page is kept."""
    phone = WebKitPhone(tmp_path, network.url)
    try:
        phone.start()
        phone.go("/accounts/login/?next=/field/")
        _sign_in(phone, technician)
        wait_for(lambda: phone.run(SHELL_KEPT), "the service worker")
        yield phone
    finally:
        phone.throw_away()


def _sign_in(phone: WebKitPhone, member: Member) -> None:
    wait_for(lambda: phone.run("Boolean(document.querySelector('[name=password]'))"), "the form")
    phone.write("[name=login]", member.user.email)
    phone.write("[name=password]", rows.PASSWORD + ENTER)
    wait_for(lambda: phone.run("location.pathname") == "/field/", "the field page")
    phone.until_ready()


def _type(phone: WebKitPhone, numbers: range) -> None:
    if not phone.run("document.getElementById('typed').offsetParent"):
        phone.click("#type-open")
    for number in numbers:
        had = len(phone.records())
        phone.write("#typed", f"(01)09520123456788(21)SN{number:06d}{ENTER}")
        _until_kept(phone, had + 1)


def _photograph(phone: WebKitPhone, numbers: range, folder: Path) -> None:
    for label in labels(len(numbers), numbers.start):
        had = len(phone.records())
        picture = folder / f"{label.serial}.jpg"
        label.picture().save(picture)
        phone.write("#photo-label", str(picture))
        _until_kept(phone, had + 1)


def _until_kept(phone: WebKitPhone, count: int) -> None:
    wait_for(lambda: len(phone.records()) == count, f"record {count}")


def test_twenty_labels_typed_and_photographed_survive_two_kills_and_a_bad_network(
    phone: WebKitPhone, network: Network, technician: Member, site: Site, tmp_path: Path
):
    phone.choose_site()
    network.mode = "down"
    phone.run(WATCH)
    _photograph(phone, range(1, 7), tmp_path)
    _type(phone, range(7, 9))
    assert accepted(phone.run("window.journal")) == KEPT * 8
    assert phone.text("#result-word") == "Kept on this phone"
    phone.kill()

    phone.open()  # no network at all
    assert phone.text("#where-code") == site.written_code
    assert len(phone.records()) == 8
    _type(phone, range(9, 15))
    phone.kill()

    network.mode = "dead"  # joined to a device's own Wi-Fi
    phone.open()
    _photograph(phone, range(15, 21), tmp_path)
    before = phone.records()
    assert [record["state"] for record in before] == ["waiting"] * 20

    Session.objects.all().delete()
    network.mode = "good"
    phone.run("void window.dispatchEvent(new Event('online'))")
    wait_for(lambda: "sign in" in phone.text("#post-words"), "the page to ask for signing in")
    assert [record["state"] for record in phone.records()] == ["waiting"] * 20
    phone.click("#post")
    phone.click("#sign-in")
    network.mode = "good"
    _sign_in(phone, technician)
    network.mode = "bad"
    wait_for(phone.all_answered, "all to arrive", longest=90, every=0.4)
    assert faults(phone.records(), site, 20) == []
    assert [record["id"] for record in phone.records()] == [record["id"] for record in before]
    wait_for(lambda: phone.text("#post-words") == "All sent", "the page to say so")


def test_two_hundred_records_from_two_windows(phone: WebKitPhone, network: Network, site: Site):
    phone.choose_site()
    (first,) = phone.windows()
    second = phone.new_window()
    phone.turn_to(second)
    phone.load()
    network.mode = "bad"
    for window, start in ((first, 1), (second, 101)):
        phone.turn_to(window)
        phone.run(f"({KEEP_LABELS})([{start}, 100])")
    wait_for(phone.all_answered, "all to arrive", longest=120, every=0.4)
    assert faults(phone.records(), site, 200) == []
    assert [record["seq"] for record in phone.records()] == list(range(1, 201))


def test_a_signature_a_check_and_a_photo_arrive(phone: WebKitPhone, network: Network, site: Site, tmp_path: Path):
    seed_wordings(site.company)
    owner = rows.make_owner(site.company, name="Beatriz Alvorada")
    rows.own(owner, site)
    HandoverCheck.objects.create(company=site.company, site=site, title="Insulation measured")
    phone.load()
    wait_for(lambda: phone.run("Rooftally.work.sites()[0]?.owners.length") == 1, "the owner")
    phone.choose_site()
    network.mode = "down"
    phone.run("location.hash = '#checks'")
    phone.click("#check-list button")
    picture = tmp_path / "cabinet.jpg"
    labels(1)[0].picture().save(picture)
    phone.write("#photo-file", str(picture))
    wait_for(lambda: len(phone.records()) == 2, "the finding and the photo")
    phone.run("location.hash = '#permissions'")
    phone.click("input[name=say_contact][value=given]")
    phone.click("input[name=how][value=signature]")
    phone.draw_on("#pad")
    phone.click("#permission-form button[type=submit]")
    wait_for(lambda: len(phone.records()) == 3, "the permission")
    network.mode = "good"
    wait_for(phone.all_answered, "all to arrive")
    assert [record["state"] for record in phone.records()] == ["taken"] * 3
    assert HandoverCheck.objects.get().finding == "done"
    assert ConsentEntry.objects.get().evidence == "signature"
    assert sorted(StoredFile.objects.values_list("content_type", flat=True)) == ["image/jpeg", "image/png"]


def test_nothing_hinders_anybody_at_390(phone: WebKitPhone, network: Network):
    phone.choose_site()
    network.mode = "down"
    _type(phone, range(1, 2))
    assert phone.run("innerWidth") == 390
    source = (settings.PROJECT_DIR / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    for screen in ("places", "scan", "checks", "permissions", "fates"):
        phone.run(f"location.hash = '#{screen}'")
        wait_for(partial(phone.run, f"!document.getElementById('screen-{screen}').hidden"), screen)
        assert phone.run("document.documentElement.scrollWidth") == 390, screen
        assert phone.run(f"(() => {{ {source}; return ({RUN})(); }})()") == [], screen
