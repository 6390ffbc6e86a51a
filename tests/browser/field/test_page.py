"""The page in a person's hands: readable by machines for the disabled, narrow, and true to whose records it holds."""

import json

import pytest
import qrcode
from django.conf import settings

from fleet.models import ExpectedDevice, HandoverCheck, Role
from onboarding.models import ConsentEntry
from onboarding.operations.wordings import seed_wordings
from tests import rows
from tests.browser.field.conftest import session_cookies
from tests.browser.field.phone import wait_for

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
HOLDER = "(Rooftally.work.holder || {}).member"
SCREENS = ("places", "scan", "checks", "permissions", "fates")
AXE = (settings.PROJECT_DIR / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
RUN_AXE = """axe
  .run(document, { rules: { "target-size": { enabled: true }, "color-contrast-enhanced": { enabled: true } } })
  .then(({ violations }) => violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).join(" | ")}`))"""
SMALL_TARGETS = """[...document.querySelectorAll("button, a, input, select, textarea, summary, .as-button, .choice")]
  .filter((each) => !each.matches(".unseen, .choice input") && each.offsetParent !== null)
  .filter((each) => Math.min(each.getBoundingClientRect().height, each.getBoundingClientRect().width) < 48)
  .map((each) => each.outerHTML.slice(0, 120))"""


@pytest.fixture
def owner(technician, site):
    seed_wordings(technician.company)
    owner = rows.make_owner(technician.company, name="Beatriz Alvorada")
    rows.own(owner, site)
    ExpectedDevice.objects.create(company=site.company, site=site, kind="inverter", serial="SN000001")
    HandoverCheck.objects.create(company=site.company, site=site, title="Insulation measured")
    return owner


@pytest.fixture
def phone(phone_before, technician, site, owner):
    phone = phone_before()
    phone.open(cookies=session_cookies(technician.user))
    phone.choose_site()
    return phone


def _go(page, screen: str) -> None:
    page.evaluate(f"location.hash = '#{screen}'")
    wait_for(lambda: page.is_visible(f"#screen-{screen}"), screen)


def _type(page, text: str) -> None:
    _go(page, "scan")
    if not page.is_visible("#typed"):
        page.click("#type-open")
    page.fill("#typed", text)
    page.press("#typed", "Enter")


def test_nothing_hinders_anybody_in_light_and_dark_at_390_and_320(phone, network):
    page = phone.page
    network.mode = "down"
    _type(page, "AB-12345")
    wait_for(lambda: len(phone.records()) == 1, "the record")
    page.evaluate(AXE)
    for scheme, width in (("light", 390), ("dark", 320)):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 844})
        for screen in SCREENS:
            _go(page, screen)
            assert page.evaluate(RUN_AXE) == [], (scheme, screen)
            assert page.evaluate(SMALL_TARGETS) == [], (scheme, screen)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (width, screen)


def test_what_the_phone_records_beside_scans_arrives(phone, network, owner):
    page = phone.page
    network.mode = "down"
    _go(page, "checks")
    page.click("#check-list button:has-text('Done')")
    _go(page, "permissions")
    page.check("input[name=say_contact][value=given]")
    page.check("input[name=how][value=signature]")
    page.click("#permission-form button[type=submit]")
    assert "signature is missing" in page.inner_text("#permission-say")
    phone.sign()
    page.click("#permission-form button[type=submit]")
    wait_for(lambda: len(phone.records()) == 2, "two records")
    network.mode = "good"
    wait_for(phone.all_answered, "both to arrive")
    assert [record["state"] for record in phone.records()] == ["taken", "taken"]
    assert HandoverCheck.objects.get().finding == "done"
    entry = ConsentEntry.objects.get()
    assert (entry.evidence, entry.owner, entry.purpose) == ("signature", owner, "contact")
    assert entry.wording is not None


def test_a_permission_opens_with_nothing_chosen_not_even_whose(phone, network, owner, site):
    page = phone.page
    rows.own(rows.make_owner(site.company, name="Caetano Serra"), site)
    phone.nudge()
    _go(page, "permissions")
    wait_for(lambda: page.query_selector_all("#owner option")[2:], "two owners and the empty choice")
    assert page.input_value("#owner") == ""
    assert page.query_selector("#purposes input") is None
    page.select_option("#owner", label="Caetano Serra")
    assert len(page.query_selector_all("#permission-form input[type=radio]")) >= 6
    assert page.query_selector("#permission-form input:checked") is None
    network.mode = "down"
    page.click("#permission-form button[type=submit]")
    assert "nothing was kept" in page.inner_text("#permission-say")
    assert phone.records() == []


def test_a_secret_is_kept_nowhere(phone):
    page = phone.page
    _type(page, "WIFI:T:WPA;S:roof;P:hunter22;;")
    wait_for(lambda: page.get_attribute("#result", "data-tone") == "bad", "the refusal")
    assert phone.records() == []
    assert "hunter22" not in page.content()


def test_another_person_sees_and_sends_nothing_of_the_first(phone, network, technician, site):
    page = phone.page
    network.mode = "down"
    _type(page, "FIRST-PERSONS-LABEL")
    wait_for(lambda: len(phone.records()) == 1, "the record")
    colleague = rows.make_member(Role.OFFICE, technician.company)
    phone.sign_in(session_cookies(colleague.user))
    network.mode = "good"
    phone.nudge()
    wait_for(lambda: page.evaluate(HOLDER) == str(colleague.public_id), "the colleague")
    assert phone.records() == []
    _go(page, "fates")
    wait_for(lambda: "1 record of somebody else" in page.inner_text("#fate-list"), "the count")
    assert "FIRST-PERSONS-LABEL" not in page.content()
    phone.sign_in(session_cookies(technician.user))
    phone.nudge()
    wait_for(lambda: page.evaluate(HOLDER) == str(technician.public_id), "the first person")
    wait_for(lambda: phone.records() and phone.all_answered(), "the record to arrive")


def test_signing_out_wipes_the_days_work_and_keeps_what_waits(phone, network, technician):
    page = phone.page
    network.mode = "down"
    _type(page, "AB-12345")
    wait_for(lambda: len(phone.records()) == 1, "the record")
    _go(page, "fates")
    page.click("summary:has-text('This phone')")
    page.click("#sign-out")
    wait_for(lambda: page.evaluate("Rooftally.work.holder") is None, "signing out")
    facts = "Rooftally.store.facts('holder', 'work', 'place')"
    kept = f"{facts}.then((all) => all.filter(Boolean).length)"
    wait_for(lambda: page.evaluate(kept) == 0, "the day's work to be wiped")
    assert page.evaluate(f"Rooftally.store.countWaiting('{technician.public_id}')") == 1


def test_the_emergency_file_holds_what_waits(phone, network):
    page = phone.page
    network.mode = "down"
    _type(page, "AB-12345")
    wait_for(lambda: len(phone.records()) == 1, "the record")
    _go(page, "fates")
    page.click("summary:has-text('In an emergency')")
    page.evaluate("""void (URL.createObjectURL = (blob) => {
      blob.text().then((text) => (document.body.dataset.saved = text));
      return "#";
    })""")
    page.click("#export")
    saved = json.loads(wait_for(lambda: page.evaluate("document.body.dataset.saved"), "the file"))
    assert saved["format"] == "rooftally-field-records"
    assert [record["content"]["raw"] for record in saved["records"]] == ["AB-12345"]
    assert [record["state"] for record in phone.records()] == ["waiting"]


def test_a_decoder_that_cannot_start_is_said_so_and_started_anew(phone, tmp_path):
    page = phone.page
    picture = tmp_path / "label.png"
    qrcode.make("010952012345678821SN000009", box_size=8).save(picture)
    _go(page, "scan")
    page.evaluate("""() => {
      window.parts = Rooftally.facts.decoder_parts;
      Rooftally.facts = { ...Rooftally.facts, decoder_parts: ["/static/missing.js", "/static/missing.wasm"] };
    }""")
    page.set_input_files("#photo-label", picture)
    wait_for(lambda: phone.result()[0] == "bad", "the photo to be refused")
    assert "Codes cannot be read just now" in phone.result()[2]
    page.evaluate("Rooftally.facts = { ...Rooftally.facts, decoder_parts: window.parts }")
    page.set_input_files("#photo-label", [])
    page.set_input_files("#photo-label", picture)
    wait_for(lambda: phone.records(), "the label")
