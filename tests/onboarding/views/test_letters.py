"""A printed letter is no proof that its owner answered: whoever printed it knows the code."""

from typing import Any

import pytest
from django.test import Client

from fleet.models import Member, Role, Site, User
from onboarding.models import ConsentEntry, ConsentStanding, Delivery, Invitation, Owner
from onboarding.operations.consents import record_consent
from onboarding.operations.letters import letter_facts
from onboarding.operations.wordings import seed_wordings
from onboarding.queries.consents import allowed
from onboarding.queries.ledger_check import findings
from tests.factories import make_company, make_contact_consent, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db
SECRET = "ochre gate seven quails"
INES = "ines@example.net"
HERE = "http://127.0.0.1:8000"


class Case:
    """An owner with a mailbox, and a member of the office who prints the letter and types its code."""

    def __init__(self, email: str = INES) -> None:
        company = make_company("Bravo Telhados")
        self.office = make_member(company, Role.OFFICE)
        self.office.user.name = "Olga Drucker"
        self.office.user.save()
        seed_wordings(company)
        self.site: Site = make_site(self.office)
        self.owner: Owner = make_owner(self.office, self.site, email=email)
        make_contact_consent(self.office, self.site, self.owner)

    def print(self, member: Member | None = None) -> Any:
        client = Client()
        client.force_login((member or self.office).user)
        return client.post(f"/sites/{self.site.written_code}/owners/{self.owner.public_id}/letter")

    def answer(self) -> Client:
        """Print, type the code in a browser that nobody is signed in to, allow everything."""
        code, browser = self.print().context["code"], Client()
        page = browser.post("/letter", {"code": code}).headers["Location"]
        browser.post(page, {"act": "continue"})
        everything = {"monitoring": "yes", "home_network": "yes", "contact": "yes"}
        assert browser.post(page, {"act": "accept", "password": SECRET, **everything}).status_code == 302
        return browser

    def allowed(self) -> dict[str, bool]:
        return {each: allowed(self.site, self.owner, each) for each in ("monitoring", "home_network", "contact")}

    def mail(self, template: str) -> Any:
        return letter_facts(Delivery.objects.filter(to_address=INES, template=template).latest("id"))


NOTHING = {"monitoring": False, "home_network": False, "contact": False}
EVERYTHING = {"monitoring": True, "home_network": True, "contact": True}


@pytest.fixture
def case() -> Case:
    return Case()


def test_who_prints_a_letter_and_types_its_code_allows_nothing(case: Case):
    case.answer()
    assert case.allowed() == NOTHING
    assert {each.evidence for each in ConsentEntry.objects.filter(user__isnull=False, recorded_by=None)} == {"letter"}


def test_who_came_by_a_letter_reads_the_name_to_sign_in_with(case: Case):
    page = case.answer().get(f"/mine/{case.site.written_code}/").content.decode()
    assert f"You sign in with the name {User.objects.get(owners=case.owner).email}" in page


def test_nor_by_answering_again_on_the_page_or_after_signing_in_anew(case: Case):
    browser = case.answer()
    name = User.objects.get(owners=case.owner).email
    again = Client()
    assert again.post("/accounts/login/", {"login": name, "password": SECRET}).status_code == 302
    for client in (browser, again):
        said = {"purpose": "monitoring", "answer": "allow"}
        assert client.post(f"/mine/{case.site.written_code}/answer", said).status_code == 302
    assert case.allowed() == NOTHING


def test_nor_with_an_account_of_their_own(case: Case):
    case = Case(email="")
    member = Client()
    member.force_login(case.office.user)
    page = member.post("/letter", {"code": case.print().context["code"]}).headers["Location"]
    member.post(page, {"act": "continue"})
    assert member.post(page, {"act": "accept", "monitoring": "yes"}).status_code == 302
    assert case.allowed() == NOTHING


def test_the_ledger_says_who_printed_it_and_when_and_stays_whole(case: Case):
    case.answer()
    entry = ConsentEntry.objects.filter(evidence="letter").latest("position")
    assert f'"printed_by":"{case.office.public_id}"' in entry.canonical
    assert '"printed_at":"' in entry.canonical
    assert list(findings(case.office.company)) == []


def test_field_members_print_none(case: Case):
    field = make_member(case.office.company, Role.FIELD)
    from fleet.operations.assignments import assign

    assign(actor=case.office, member=field, site=case.site)
    assert case.print(field).status_code == 403
    client = Client()
    client.force_login(field.user)
    assert "/letter" not in client.get(f"/sites/{case.site.written_code}/").content.decode()


def test_the_owners_mailbox_confirms_the_answers(case: Case):
    case.answer()
    link = case.mail("address_confirm").link.removeprefix(HERE)
    assert Client().get(link).status_code == 200
    assert case.allowed() == NOTHING
    assert Client().post(link).status_code == 200
    assert case.allowed() == EVERYTHING
    assert User.objects.get(owners=case.owner).email == INES
    assert list(findings(case.office.company)) == []


def test_so_does_a_paper_for_what_it_says(case: Case):
    case.answer()
    record_consent(
        actor=case.office, site=case.site, owner=case.owner, purpose="monitoring", state="given",
        how="paper_reference", reference="folder 7",
    )  # fmt: skip
    assert case.allowed() == NOTHING | {"monitoring": True}


def test_a_mailbox_that_only_the_reader_of_the_letter_named_confirms_nothing():
    case = Case(email="")
    code, browser = case.print().context["code"], Client()
    page = browser.post("/letter", {"code": code}).headers["Location"]
    browser.post(page, {"act": "continue"})
    browser.post(page, {"act": "accept", "password": SECRET, "email": INES, "monitoring": "yes"})
    Client().post(case.mail("address_confirm").link.removeprefix(HERE))
    assert User.objects.get(owners=case.owner).email == INES
    assert case.allowed() == NOTHING
    case.owner.refresh_from_db()
    assert case.owner.email == ""


def test_the_receipt_names_the_letter_and_how_to_object(case: Case):
    case.answer()
    receipt = case.mail("receipt").values
    assert receipt["printed_by"] == "Olga Drucker"
    assert receipt["objection"].startswith(f"{HERE}/objection/")


def test_objecting_makes_the_answers_invalid_and_closes_the_account(case: Case):
    browser = case.answer()
    link = str(case.mail("receipt").values["objection"]).removeprefix(HERE)
    assert Client().get(link).status_code == 200
    assert not ConsentEntry.objects.filter(state="invalidated").exists()
    assert Client().post(link).status_code == 200
    assert set(ConsentStanding.objects.values_list("purpose", "state")) == {
        ("monitoring", "invalidated"), ("home_network", "invalidated"), ("contact", "invalidated"),
    }  # fmt: skip
    assert "/accounts/login/" in browser.get("/mine/").headers["Location"]
    assert Client().post(link).status_code == 404
    assert list(findings(case.office.company)) == []
    case.owner.refresh_from_db()
    assert case.owner.user is None


def test_what_the_mailbox_confirmed_is_the_owners_own_and_the_receipts_link_is_over(case: Case):
    case.answer()
    link = str(case.mail("receipt").values["objection"]).removeprefix(HERE)
    Client().post(case.mail("address_confirm").link.removeprefix(HERE))
    assert Client().post(link).status_code == 404
    assert case.allowed() == EVERYTHING


def test_a_made_up_link_objects_to_nothing(case: Case):
    case.answer()
    assert Client().post("/objection/no-such-name").status_code == 404
    assert not ConsentEntry.objects.filter(state="invalidated").exists()
    assert Invitation.objects.get().state == "accepted"


def test_a_no_that_was_answered_by_letter_is_not_undone_by_a_report(case: Case):
    code, browser = case.print().context["code"], Client()
    page = browser.post("/letter", {"code": code}).headers["Location"]
    browser.post(page, {"act": "continue"})
    browser.post(page, {"act": "accept", "password": SECRET})
    client = Client()
    client.force_login(case.office.user)
    said = {"purpose": "contact", "state": "given", "how": "staff_statement"}
    client.post(f"/sites/{case.site.written_code}/owners/{case.owner.public_id}/consents", said)
    assert ConsentStanding.objects.get(purpose="contact").state == "refused"
