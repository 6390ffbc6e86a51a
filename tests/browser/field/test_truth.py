"""The phone tells the truth: about its clock, slow networks, what stays on it, who it belongs to, and where it is."""

import json
import time

import pytest
from django.utils import timezone

from fleet.models import Member, Placement, Scan, Site
from fleet.operations.members import deactivate_member
from onboarding.models import ConsentStanding, Owner
from onboarding.operations.wordings import seed_wordings
from tests import rows
from tests.browser.field.conftest import session_cookies
from tests.browser.field.phone import Phone, wait_for
from tests.browser.field.proxy import Network

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
LABEL = "010952012345678821SN000001"
OTHER = "010952012345678821SN000002"
DAY = 86_400_000
STORED = """Promise.all(["records", "facts"].map((name) => Rooftally.store.open().then((database) =>
  database.getAll(name)))).then((all) => JSON.stringify(all))"""
SOUNDS = """(() => {
  window.heard = [];
  for (const name of ["good", "bad", "known", "question"]) {
    const sound = Rooftally.sound[name];
    Rooftally.sound[name] = () => { window.heard.push(name); sound(); };
  }
})()"""
PHOTO = """(bytes) => Rooftally.capture.keep("file", Rooftally.work.place, {
  name: "photo.jpg", content_type: "image/jpeg", data: btoa("\\xff\\xd8\\xff" + "x".repeat(bytes)),
})"""


def _clock(phone: Phone, off: int) -> None:
    """Set the phone's clock off by so many milliseconds, from the next page on."""
    phone.context.add_init_script(
        f"""(() => {{ const Real = Date; const off = {off};
        window.Date = class extends Real {{
          constructor(...given) {{ if (given.length) super(...given); else super(Real.now() + off); }}
          static now() {{ return Real.now() + off; }}
        }}; }})()"""
    )
    phone.load()


def _sign_out(phone: Phone) -> None:
    phone.page.evaluate("location.hash = '#fates'")
    phone.page.click("summary:has-text('This phone')")
    phone.page.click("#sign-out")
    wait_for(lambda: phone.page.evaluate("Rooftally.work.holder") is None, "signing out")


@pytest.mark.parametrize("years", [-3, 3])
def test_a_clock_years_off_is_told_and_corrected(at_site: Phone, site: Site, years: int):
    _clock(at_site, years * 365 * DAY)
    wait_for(lambda: at_site.page.query_selector("#clock-wrong"), "the notice about the clock")
    at_site.page.evaluate(f"Rooftally.work.go('{site.written_code}')")
    began = timezone.now()
    at_site.see(LABEL)
    wait_for(lambda: at_site.records() and at_site.all_answered(), "the record to arrive")
    placement = Placement.objects.get(site=site)
    assert abs((placement.since - began).total_seconds()) < 120
    assert abs((Scan.objects.get().skew.days) - (-years * 365)) <= 1


def test_a_refusal_signed_on_a_phone_with_a_slow_clock_stands(
    at_site: Phone, network: Network, technician: Member, site: Site
):
    page = at_site.page
    seed_wordings(technician.company)
    owner: Owner = rows.make_owner(technician.company, name="Beatriz Alvorada", email="beatriz@example.org")
    rows.own(owner, site)
    rows.make_consent(site, owner)
    _clock(at_site, -3 * 365 * DAY)
    at_site.nudge()
    wait_for(lambda: "Beatriz" in str(at_site.facts("work")), "the owner")
    page.evaluate("location.hash = '#permissions'")
    wait_for(lambda: page.query_selector("input[name=say_contact]"), "the questions")
    page.check("input[name=say_contact][value=refused]")
    page.check("input[name=how][value=signature]")
    at_site.sign()
    page.click("#permission-form button[type=submit]")
    wait_for(lambda: at_site.records() and at_site.all_answered(), "the answer to arrive")
    assert ConsentStanding.objects.get(site=site, owner=owner, purpose="contact").state == "refused"


def test_a_slow_photo_stops_nothing_and_arrives(at_site: Phone, network: Network, site: Site):
    network.bytes_per_second = 50_000
    at_site.page.evaluate(PHOTO, 848_000)
    wait_for(lambda: network.under_way("/records"), "the photo to be on its way")
    began = time.monotonic()
    at_site.see(LABEL)
    wait_for(lambda: Scan.objects.exists(), "the scan to arrive", longest=15)
    assert at_site.records()[0]["state"] == "waiting", "the photo is still on its way"
    wait_for(lambda: at_site.all_answered(), "the photo to arrive", longest=90, every=0.5)
    assert time.monotonic() - began > 15  # longer than the limit that stopped it for good
    assert site.files.count() == 1


def test_signing_out_leaves_nothing_readable(at_site: Phone, network: Network, technician: Member, site: Site):
    at_site.see(OTHER)
    wait_for(lambda: at_site.records() and at_site.all_answered(), "one record to be answered")
    network.mode = "down"
    at_site.see(LABEL)
    wait_for(lambda: len(at_site.records()) == 2, "the second record")
    _sign_out(at_site)
    stored = at_site.page.evaluate(STORED)
    for readable in ("SN000001", "SN000002", site.street, site.written_code):
        assert readable not in stored
    assert at_site.page.evaluate("(id) => Rooftally.store.countWaiting(id)", str(technician.public_id)) == 1

    network.mode = "good"
    other = rows.make_member(company=technician.company)
    at_site.nudge()
    wait_for(lambda: at_site.facts("leaving") == [None], "the server to be told")
    at_site.sign_in(session_cookies(other.user))
    at_site.nudge()
    wait_for(lambda: at_site.page.evaluate("Rooftally.work.holder") is not None, "the next member")
    assert "SN000001" not in at_site.page.evaluate(STORED)
    assert not Scan.objects.filter(payload=LABEL).exists()

    at_site.sign_in(session_cookies(technician.user))
    at_site.nudge()
    wait_for(lambda: Scan.objects.filter(payload=LABEL).exists(), "the record of its own member to arrive")
    assert Scan.objects.get(payload=LABEL).member == technician


def test_answered_records_leave_after_seven_days(at_site: Phone):
    at_site.see(LABEL)
    wait_for(lambda: at_site.records() and at_site.all_answered(), "the record to be answered")
    _clock(at_site, 6 * DAY)
    assert len(at_site.records()) == 1
    _clock(at_site, 2 * DAY)  # on top: eight days
    wait_for(lambda: at_site.records() == [], "the answered record to go")


def test_a_removed_member_is_told_and_the_office_opens_what_was_not_sent(
    at_site: Phone, network: Network, technician: Member, site: Site, client, tmp_path
):
    page = at_site.page
    administrator = rows.make_member(company=technician.company)
    network.mode = "down"
    at_site.see(LABEL)
    wait_for(lambda: at_site.records(), "the record")
    deactivate_member(actor=administrator, member=technician)
    network.mode = "good"
    at_site.nudge()
    wait_for(lambda: page.evaluate("Rooftally.work.isRemoved") is not None, "the phone to learn of it")
    page.evaluate("location.hash = '#fates'")
    wait_for(lambda: "no longer a member" in page.inner_text("#post-sentence"), "the page to say so")
    stored = page.evaluate(STORED)
    assert "SN000001" not in stored
    assert site.street not in stored
    page.click("summary:has-text('In an emergency')")
    with page.expect_download() as saved:
        page.click("#export")
    file = tmp_path / "sealed.json"
    saved.value.save_as(file)
    assert "SN000001" not in file.read_text()
    assert json.loads(file.read_text())["version"] == 2
    client.force_login(administrator.user)
    with file.open("rb") as sealed:
        shown = client.post("/field/import", {"file": sealed})
    assert "SN000001" in shown.content.decode()
    stranger = rows.make_member(company=rows.make_company("Another"))
    client.force_login(stranger.user)
    with file.open("rb") as sealed:
        refused = client.post("/field/import", {"file": sealed})
    assert refused.status_code == 422
    assert "SN000001" not in refused.content.decode()


def test_a_label_that_belongs_elsewhere_is_asked_about_before_anything_is_kept(
    at_site: Phone, network: Network, technician: Member, site: Site
):
    page = at_site.page
    elsewhere = rows.make_site(technician.company, street="Rua da Outra Casa 7")
    rows.assign(technician, elsewhere)
    device = rows.make_device(technician.company, serial="SN000001", issuer_scheme="gs1-gtin", issuer="09520123456788")
    rows.place(device, elsewhere)
    at_site.nudge()
    wait_for(lambda: elsewhere.street in str(at_site.facts("work")), "the other site")
    page.evaluate(f"Rooftally.work.go('{site.written_code}')")
    page.evaluate("location.hash = '#scan'")
    network.mode = "down"
    page.evaluate(SOUNDS)
    at_site.see(LABEL)
    wait_for(lambda: at_site.result()[0] == "ask", "the question")
    assert page.evaluate("window.heard") == ["question"]
    assert at_site.records() == []
    for said in ("SN000001", elsewhere.written_code, elsewhere.street, site.written_code):
        assert said in page.inner_text("#result-facts")
    at_site.see(OTHER)  # a question holds further scanning
    assert at_site.records() == []
    page.set_viewport_size({"width": 320, "height": 640})
    bar = page.locator(".bar").bounding_box()
    answers = [each.bounding_box() for each in page.locator("#result-moves button").all()]
    assert bar
    assert len(answers) == 3
    assert all(box and box["height"] >= 48 and box["y"] + box["height"] <= bar["y"] for box in answers), (answers, bar)
    assert not page.is_visible("#camera-switch")  # it would do nothing now

    page.click("#result-moves button:has-text('keep nothing')")
    assert page.is_visible("#camera-switch")
    assert at_site.records() == []
    at_site.see(LABEL)
    page.click(f"#result-moves button:has-text('I am at {elsewhere.written_code}')")
    wait_for(lambda: at_site.records(), "the record")
    assert [record["site"] for record in at_site.records()] == [elsewhere.written_code]
    at_site.see(LABEL)
    assert page.evaluate("window.heard")[-2:] == ["good", "known"]
