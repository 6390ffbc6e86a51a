"""What a field member learns and changes about owners whose sites they do not see: nothing."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from fleet.models import Member, Role, Site
from fleet.operations.assignments import assign
from onboarding.models import Delivery, Owner, Ownership, Suppression
from onboarding.operations.owners import attach_owner
from onboarding.operations.suppressions import suppress
from tests.factories import make_company, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db
HIDDEN = "graca@example.net"


class House:
    """A company with two sites, of which its field member sees the first only."""

    def __init__(self) -> None:
        self.company = make_company()
        self.office = make_member(self.company, Role.ADMINISTRATOR)
        self.field = make_member(self.company, Role.FIELD)
        self.seen, self.unseen = make_site(self.office), make_site(self.office)
        assign(actor=self.office, member=self.field, site=self.seen)
        self.hidden = make_owner(self.office, self.unseen, name="Graça Mondeleira", email=HIDDEN)

    def register(self, member: Member, email: str) -> Any:
        said = {"name": "Somebody", "email": email, "kind": "person", "language": "en"}
        return _as(member).post(f"/sites/{self.seen.written_code}/owners/new", said)

    def edit(self, member: Member, site: Site, owner: Owner, **facts: str) -> Any:
        said = {"name": owner.name, "email": owner.email, "kind": owner.kind, "language": owner.language} | facts
        return _as(member).post(f"/sites/{site.written_code}/owners/{owner.public_id}/", said)

    def attach(self, member: Member, owner: Owner) -> Any:
        return _as(member).post(f"/sites/{self.seen.written_code}/owners/{owner.public_id}/attach")


@pytest.fixture
def house() -> House:
    return House()


def _as(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def _told(answer: Any) -> list[str]:
    """The sentences beside the fields."""
    return [str(each) for errors in answer.context["form"].errors.values() for each in errors]


def test_a_guessed_address_of_a_hidden_owner_is_answered_like_an_impossible_one(house: House):
    taken, impossible = house.register(house.field, HIDDEN), house.register(house.field, "no address")
    assert taken.status_code == impossible.status_code == 422
    assert _told(taken) == _told(impossible)
    page = taken.content.decode()
    assert "Mondeleira" not in page
    assert str(house.hidden.public_id) not in page
    assert Owner.objects.count() == 1


def test_so_it_is_where_an_owner_is_corrected(house: House):
    own = make_owner(house.office, house.seen)
    taken = house.edit(house.field, house.seen, own, email=HIDDEN.upper())
    impossible = house.edit(house.field, house.seen, own, email="no address")
    assert (taken.status_code, _told(taken)) == (impossible.status_code, _told(impossible))
    assert "Mondeleira" not in taken.content.decode()


def test_the_office_is_told_whose_address_it_is_and_attaches_them(house: House):
    answer = house.register(house.office, HIDDEN)
    assert answer.status_code == 409
    assert "Mondeleira" in answer.content.decode()
    assert house.attach(house.office, house.hidden).status_code == 302
    assert Ownership.objects.filter(owner=house.hidden, site=house.seen).exists()


def test_a_hidden_owner_is_not_there_to_attach_whatever_the_id(house: House):
    assert house.attach(house.field, house.hidden).status_code == 404
    assert _as(house.field).post(f"/sites/{house.seen.written_code}/owners/{uuid4()}/attach").status_code == 404
    assert not Ownership.objects.filter(owner=house.hidden, site=house.seen).exists()


def test_attaching_is_the_offices_also_where_the_owner_is_seen(house: House):
    second = make_site(house.office)
    assign(actor=house.office, member=house.field, site=second)
    theirs = make_owner(house.office, second, name="Rui Visto", email="rui@example.net")
    answer = house.register(house.field, "rui@example.net")
    assert answer.status_code == 409
    assert "ask the office" in answer.content.decode()
    assert house.attach(house.field, theirs).status_code == 403
    assert not Ownership.objects.filter(owner=theirs, site=house.seen).exists()


def test_the_address_of_an_owner_with_other_sites_is_changed_by_the_office(house: House):
    attach_owner(actor=house.office, site=house.seen, owner=house.hidden)
    answer = house.edit(house.field, house.seen, house.hidden, email="mine@example.com", phone="+351 900 000 001")
    assert answer.status_code == 403
    assert "the office changes their address" in answer.content.decode()
    house.hidden.refresh_from_db()
    assert (house.hidden.email, house.hidden.phone) == (HIDDEN, "")
    assert house.edit(house.field, house.seen, house.hidden, phone="+351 900 000 001").status_code == 302
    assert house.edit(house.office, house.seen, house.hidden, email="new@example.com").status_code == 302


def test_a_field_member_corrects_the_address_of_who_owns_this_site_alone(house: House):
    own = make_owner(house.office, house.seen)
    assert house.edit(house.field, house.seen, own, email="right@example.com").status_code == 302


def test_both_addresses_hear_of_a_change_and_neither_reads_the_other(house: House):
    own = make_owner(house.office, house.seen, name="Inês Exemplo", email="before@example.net")
    house.edit(house.field, house.seen, own, email="now@example.net")
    mails = {mail.to_address: mail for mail in Delivery.objects.all()}
    assert {address: mail.template for address, mail in mails.items()} == {
        "before@example.net": "owner_address_before",
        "now@example.net": "owner_address_now",
    }
    assert all("example.net" not in str(mail.context) for mail in mails.values())


def test_who_said_that_the_address_is_not_theirs_is_told_nothing_more(house: House):
    own = make_owner(house.office, house.seen, email="before@example.net")
    suppress(company=house.company, address="before@example.net", reason=Suppression.Reason.NOT_ME)
    house.edit(house.office, house.seen, own, email="now@example.net")
    assert [mail.to_address for mail in Delivery.objects.all()] == ["now@example.net"]


def test_a_field_member_sees_the_suppressions_of_their_own_sites(house: House):
    own = make_owner(house.office, house.seen, email="seen@example.net")
    for address in (HIDDEN, "stranger@example.net", own.email):
        suppress(company=house.company, address=address, reason=Suppression.Reason.BOUNCED)
    page = _as(house.field).get("/invitations/addresses/").content.decode()
    assert "seen@example.net" in page
    assert HIDDEN not in page
    assert "stranger@example.net" not in page
    assert HIDDEN in _as(house.office).get("/invitations/addresses/").content.decode()


def test_the_api_and_field_records_answer_nothing_about_a_hidden_owner(house: House):
    client = _as(house.field)
    for owner in (house.hidden.public_id, uuid4()):
        said = {"owner": str(owner), "purpose": "contact", "state": "given", "how": "staff_statement"}
        for path in ("consents", "invitations"):
            body = said if path == "consents" else {"owner": str(owner)}
            answer = client.post(
                f"/api/v1/sites/{house.seen.code}/{path}", body, "application/json",
                headers={"idempotency-key": str(uuid4()), "origin": "http://127.0.0.1:8000"},
            )  # fmt: skip
            assert answer.status_code == 404, answer.content
            assert "Mondeleira" not in answer.content.decode()
