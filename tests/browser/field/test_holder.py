"""Who holds the phone: the day's work is theirs alone and goes when they go; what is unsent stays, whatever happens."""

import pytest

from fleet.models import Member, Site
from onboarding.operations.wordings import seed_wordings
from tests import rows
from tests.browser.field.conftest import session_cookies
from tests.browser.field.phone import Phone, wait_for
from tests.browser.field.proxy import Network

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
DAYS_WORK = ("holder", "work", "place")
LABEL = "010952012345678821SN000001"
DIES_HALFWAY = """(async () => {
  const take = IDBObjectStore.prototype.delete;
  let calls = 0;
  IDBObjectStore.prototype.delete = function (...keys) {
    calls += 1;
    if (calls > 1) throw new DOMException("the phone dies here", "AbortError");
    return take.apply(this, keys);
  };
  await Rooftally.work.forget().catch(() => {});
  IDBObjectStore.prototype.delete = take;
})()"""
GROW_OLD = """Rooftally.store.changeFacts(async (fact) => {
  const work = await fact("work");
  return { work: { ...work, made_at: new Date(Date.now() - (work.kept_hours + 1) * 3600000).toISOString() } };
})"""


def _waiting_of(phone: Phone, member: Member) -> int:
    """How many records of this member the phone holds that the office has not answered."""
    count: int = phone.page.evaluate("(member) => Rooftally.store.countWaiting(member)", str(member.public_id))
    return count


def _sign_out(phone: Phone) -> None:
    phone.page.evaluate("location.hash = '#fates'")
    phone.page.click("summary:has-text('This phone')")
    phone.page.click("#sign-out")
    wait_for(lambda: phone.page.evaluate("Rooftally.work.holder") is None, "signing out")


def test_signing_out_without_a_network_holds_when_the_network_is_back(
    at_site: Phone, network: Network, technician: Member, site: Site
):
    page = at_site.page
    seed_wordings(technician.company)
    rows.own(rows.make_owner(technician.company, name="Beatriz Alvorada"), site)
    at_site.nudge()
    wait_for(lambda: "Beatriz" in str(at_site.facts("work")), "the owner")
    network.mode = "dead"
    at_site.see(LABEL)
    _sign_out(at_site)
    wait_for(lambda: at_site.facts(*DAYS_WORK) == [None] * 3, "the day's work to be wiped")
    for private in ("Beatriz", site.street, "SN000001"):
        assert private not in page.content()
    wait_for(lambda: page.inner_text("#post-words") == "1 waiting: sign in", "the page to own up to what waits")

    network.mode = "good"
    at_site.nudge()
    wait_for(lambda: at_site.facts("leaving") == [None], "the server to be told")
    at_site.load()
    wait_for(lambda: "signed out" in (page.text_content("#post-detail") or ""), "the answer of the session")
    assert at_site.facts(*DAYS_WORK) == [None] * 3
    assert _waiting_of(at_site, technician) == 1

    at_site.sign_in(session_cookies(technician.user))
    at_site.nudge()
    wait_for(lambda: at_site.records() and at_site.all_answered(), "the record to arrive")
    assert [record["state"] for record in at_site.records()] == ["linked"]


def test_a_phone_that_dies_while_it_wipes_holds_all_or_nothing(at_site: Phone):
    before = at_site.facts(*DAYS_WORK)
    assert None not in before
    at_site.page.evaluate(DIES_HALFWAY)
    assert at_site.facts(*DAYS_WORK) == before


def test_old_work_goes_and_unsent_records_stay(at_site: Phone, network: Network, technician: Member):
    network.mode = "down"
    at_site.see(LABEL)
    at_site.page.evaluate(GROW_OLD)
    at_site.load()
    assert at_site.facts("work") == [None]
    at_site.page.evaluate("location.hash = '#places'")
    assert "hours ago and were removed" in at_site.page.inner_text("#place-list")
    assert _waiting_of(at_site, technician) == 1


def test_every_tab_forgets_when_one_signs_out(at_site: Phone, site: Site):
    second = at_site.context.new_page()
    at_site.load(second)
    assert site.street in second.content()
    _sign_out(at_site)
    wait_for(lambda: second.evaluate("Rooftally.work.holder") is None, "the other tab")
    assert site.street not in second.content()


def test_signing_out_of_the_staff_pages_takes_the_work_off_the_phone(
    at_site: Phone, network: Network, technician: Member
):
    network.refuse = lambda path, _body: 503 if path.endswith("/records") else 0
    at_site.see(LABEL)
    staff = at_site.context.new_page()
    staff.goto(f"{network.url}/")
    staff.locator("details.person > summary").first.click()
    staff.locator("details.person button:has-text('Sign out')").first.click()
    staff.wait_for_url(lambda url: "sign" in url or "login" in url)
    wait_for(lambda: at_site.facts(*DAYS_WORK) == [None] * 3, "the day's work to be wiped")
    assert _waiting_of(at_site, technician) == 1


def test_what_one_owner_signed_is_never_kept_as_anothers(at_site: Phone, network: Network, site: Site):
    page = at_site.page
    seed_wordings(site.company)
    for name in ("Beatriz Alvorada", "Caetano Serra"):
        rows.own(rows.make_owner(site.company, name=name), site)
    at_site.nudge()
    page.evaluate("location.hash = '#permissions'")
    wait_for(lambda: page.query_selector_all("#owner option")[1:], "two owners")
    network.mode = "down"
    page.check("input[name=how][value=signature]")
    at_site.sign()
    page.select_option("#owner", label="Caetano Serra")
    page.check("input[name=say_contact][value=given]")
    page.click("#permission-form button[type=submit]")
    assert "signature is missing" in page.inner_text("#permission-say")
    assert at_site.records() == []
