"""Nobody sees or hears that a label was kept before it is durable; and what the camera alone may not decide."""

import pytest

from tests.browser.field.conftest import session_cookies
from tests.browser.field.film import labels
from tests.browser.field.journal import KEPT, WATCH, accepted
from tests.browser.field.phone import Phone, wait_for
from tests.browser.field.proxy import Network

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
NO_ROOM = """void (IDBObjectStore.prototype.add = () => {
  throw new DOMException("no room", "QuotaExceededError");
})"""
AGREEING = """([sights]) => {
  const before = new Map();
  return sights.map(([at, ...codes]) =>
    Rooftally.camera.agreeing(before, codes.map(([raw, format]) => ({ raw, format })), at).sure.map((c) => c.raw));
}"""
LINEAR, MATRIX = ["SN000001", "]C0"], ["SN000001 in a matrix", "]d2"]


def _journal(phone: Phone, lines: int) -> list[str]:
    wait_for(lambda: len(accepted(phone.page.evaluate("window.journal"))) >= lines, "the answer")
    return accepted(phone.page.evaluate("window.journal"))


def test_a_label_is_durable_before_it_is_shown_and_heard(at_site: Phone, network: Network, tmp_path):
    page = at_site.page
    network.mode = "down"
    page.evaluate(WATCH)
    for label in labels(3):  # one of each kind of code
        picture = tmp_path / f"{label.kind}.jpg"
        label.picture().save(picture)
        page.set_input_files("#photo-label", picture)
        wait_for(lambda: at_site.result()[0] == "good", f"a photo of {label.kind}")
        page.evaluate("document.getElementById('result').dataset.tone = 'idle'")
    page.click("#type-open")
    page.fill("#typed", "SN000099")
    page.press("#typed", "Enter")
    assert _journal(at_site, 12) == KEPT * 4
    contents = [record["content"] for record in at_site.records()]
    assert [content["source"] for content in contents] == ["photo", "photo", "photo", "typed"]
    assert contents[0]["raw"] == labels(1)[0].payload


def test_what_cannot_be_stored_is_not_accepted(at_site: Phone):
    at_site.page.evaluate(WATCH)
    at_site.page.evaluate(NO_ROOM)
    at_site.see("010952012345678821SN000001")
    assert _journal(at_site, 2) == ["shown bad", "heard bad"]
    assert at_site.result()[1].startswith("Not kept")
    assert at_site.records() == []


def test_a_page_that_accepts_too_early_is_caught(phone_before, network: Network, technician, site):
    was = b'const record = await keep("scan", place, content);'
    becomes = b'const record = keep("scan", place, content); show("good", R.say("kept"), "");'
    network.break_page(was, becomes)
    phone = phone_before()
    phone.open(cookies=session_cookies(technician.user))
    phone.choose_site()
    phone.page.evaluate(WATCH)
    phone.see("010952012345678821SN000001")
    assert _journal(phone, 3) != KEPT


def test_a_linear_code_counts_from_its_second_frame(at_site: Phone):
    sights = [[0, LINEAR], [40, LINEAR], [4000, LINEAR], [8000, MATRIX]]
    assert at_site.page.evaluate(AGREEING, [sights]) == [[], [LINEAR[0]], [], [MATRIX[0]]]


def test_a_camera_without_a_torch_offers_none(phone_before, technician, site):
    phone = phone_before(labels(1))
    page = phone.open(cookies=session_cookies(technician.user))
    phone.choose_site()
    page.click("#camera-switch")
    wait_for(lambda: page.get_attribute("#eye", "data-state") == "on", "the camera")
    assert not page.is_visible("#torch")
