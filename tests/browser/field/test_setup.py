"""What the page says about the phone before it is relied on, and where it says nothing."""

import pytest

from tests.browser.field.phone import Phone, wait_for

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
IPHONE = """Object.defineProperty(Navigator.prototype, "userAgent", { get: () =>
  "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko)" })"""
INSTALLED = 'Object.defineProperty(Navigator.prototype, "standalone", { get: () => true })'
NO_STORE = 'IDBFactory.prototype.open = () => { throw new DOMException("private", "SecurityError"); }'
PERSIST = """window.asked = 0;
StorageManager.prototype.persisted = async () => false;
StorageManager.prototype.persist = async () => Boolean((window.asked += 1));"""


def _room(quota: int, usage: int) -> str:
    return f"StorageManager.prototype.estimate = async () => ({{ quota: {quota}, usage: {usage} }})"


def _notices(phone: Phone, *scripts: str) -> list[str]:
    for script in scripts:
        phone.context.add_init_script(script)
    phone.load()
    wait_for(lambda: phone.page.text_content("#space-line"), "the look at the space")
    return [box.get_attribute("id") or "" for box in phone.page.query_selector_all("#notices > *")]


def test_a_phone_with_room_is_told_nothing(at_site: Phone):
    assert _notices(at_site, _room(10**10, 10**6)) == []


def test_on_an_iphone_the_page_is_installed_before_first_use(at_site: Phone):
    assert _notices(at_site, _room(10**10, 10**6), IPHONE) == ["install"]
    assert "starts empty" in at_site.page.inner_text("#install")
    assert _notices(at_site, INSTALLED) == []


def test_little_space_and_private_windows_are_warned_about(at_site: Phone):
    assert _notices(at_site, _room(10**9, 10**9 - 10**6)) == ["little-space"]
    assert _notices(at_site, _room(10**8, 10**6)) == ["little-room"]


def test_space_is_looked_at_after_each_record(at_site: Phone):
    assert _notices(at_site, _room(10**10, 10**6)) == []
    at_site.see("010952012345678821SN000001")
    at_site.page.evaluate(_room(10**9, 10**9 - 10**6))
    at_site.see("010952012345678821SN000002")
    wait_for(lambda: at_site.page.is_visible("#little-space"), "the warning")


def test_a_browser_that_keeps_nothing_is_warned_about_first(at_site: Phone):
    at_site.context.add_init_script(NO_STORE)
    at_site.load()
    assert at_site.page.is_visible("#store-closed")


def test_lasting_storage_is_asked_for_with_the_first_record(at_site: Phone):
    _notices(at_site, PERSIST)
    assert at_site.page.evaluate("window.asked") == 0
    for number in (1, 2):
        at_site.see(f"010952012345678821SN00000{number}")
    wait_for(lambda: at_site.page.evaluate("window.asked") == 1, "the question")
