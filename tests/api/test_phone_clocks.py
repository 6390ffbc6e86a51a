"""A phone's clock is not believed: what it is off by comes with each record, and acts use the corrected moment."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.models import FieldRecord, Member, Placement, Role, Scan, Site
from onboarding.models import ConsentStanding
from onboarding.operations.consents import record_consent
from onboarding.operations.wordings import seed_wordings
from tests import rows
from tests.api.test_field_records import SIGNED, Phone

pytestmark = pytest.mark.django_db
YEARS = timedelta(days=3 * 365)


@pytest.fixture
def technician() -> Member:
    return rows.make_member(Role.FIELD, rows.make_company("Telhado Claro"))


@pytest.fixture
def site(technician: Member) -> Site:
    site = rows.make_site(technician.company)
    rows.assign(technician, site)
    return site


def _by(clock: timedelta, **more):
    """What a phone whose clock is off by ``clock`` says of a record made now."""
    made_at = timezone.now() + clock
    return {"made_at": made_at.isoformat(), "skew_ms": int(-clock.total_seconds() * 1000), **more}


def _refusal(phone: Phone, site: Site, owner, state="refused", **more):
    content = {
        "owner": str(owner.public_id), "purpose": "contact", "state": state, "how": "signature", "signature": SIGNED,
    }  # fmt: skip
    return phone.record("consent", site, content, **more)


@pytest.mark.parametrize("clock", [-YEARS, YEARS])
def test_a_placement_begins_when_it_was_scanned_by_the_registers_clock(technician, site, clock):
    phone = Phone(technician)
    record = {**phone.scan(site), **_by(clock)}
    (answer,) = phone.answers(record)
    assert answer["result"]["outcome"] == "linked"
    began = Placement.objects.get(site=site).since
    assert abs(began - timezone.now()) < timedelta(minutes=1)
    assert abs(Scan.objects.get().skew + clock) < timedelta(seconds=1)
    assert phone.answers(record)[0]["result"] == answer["result"]


def test_a_refusal_signed_on_a_slow_phone_stands_and_no_mail_would_leave(technician, site):
    phone = Phone(technician)
    seed_wordings(technician.company)
    owner = rows.make_owner(technician.company, email="beatriz@example.org")
    rows.own(owner, site)
    rows.make_consent(site, owner)
    (answer,) = phone.answers({**_refusal(phone, site, owner), **_by(-YEARS)})
    assert answer["result"]["outcome"] == "taken"
    assert ConsentStanding.objects.get(site=site, owner=owner, purpose="contact").state == "refused"
    assert FieldRecord.objects.get().skew is not None


def test_a_moment_is_never_in_the_future_and_a_senseless_skew_is_refused(technician, site):
    phone = Phone(technician)
    (answer,) = phone.answers({**phone.scan(site), **_by(timedelta(0), skew_ms=5 * 86_400_000)})
    assert answer["status"] == 201
    assert Scan.objects.get().scanned_at <= timezone.now()
    for skew in ("1", 1.5, True, 10**15):
        (answer,) = phone.answers({**phone.scan(site), "skew_ms": skew})
        assert (answer["status"], answer["problem"]["code"]) == (422, "bad_record")


def test_what_one_phone_recorded_is_in_the_order_of_its_own_counting(technician, site):
    phone = Phone(technician)
    seed_wordings(technician.company)
    owner = rows.make_owner(technician.company, email="beatriz@example.org")
    rows.own(owner, site)
    given = {**_refusal(phone, site, owner, "given"), **_by(timedelta(hours=-1))}
    refused = {**_refusal(phone, site, owner), **_by(timedelta(0)), "seq": given["seq"] + 1}
    refused |= {"made_at": (timezone.now() - timedelta(hours=5)).isoformat()}  # the clock was set back in between
    phone.answers(given, refused)
    assert _contact(site, owner) == "refused"
    again = {**_refusal(phone, site, owner, "given"), **_by(timedelta(0)), "seq": refused["seq"] + 1}
    phone.answers(again)
    assert _contact(site, owner) == "given"


def test_an_older_no_meets_a_later_yes_and_the_no_stands_until_a_person_settles_it(client, technician, site):
    phone = Phone(technician)
    seed_wordings(technician.company)
    owner = rows.make_owner(technician.company, email="beatriz@example.org")
    rows.own(owner, site)
    office = rows.make_member(Role.OFFICE, technician.company)
    said = {"site": site, "owner": owner, "purpose": "contact", "how": "paper_reference"}
    record_consent(actor=office, **said, state="given", reference="Folder 7")
    earlier = {**_refusal(phone, site, owner), **_by(timedelta(days=-1), skew_ms=0)}
    (answer,) = phone.answers(earlier)
    assert "older no meets a later yes" in answer["result"]["sentence"]
    assert _contact(site, owner) == "refused"
    client.force_login(office.user)
    page = f"/sites/{site.written_code}/"
    assert "A later yes had arrived before this older no" in client.get(page).content.decode()
    record_consent(actor=office, **said, state="given", reference="Folder 8")
    assert _contact(site, owner) == "given"
    assert "A later yes had arrived" not in client.get(page).content.decode()


def test_a_yes_that_arrives_late_changes_nothing_and_says_so(technician, site):
    phone = Phone(technician)
    seed_wordings(technician.company)
    owner = rows.make_owner(technician.company, email="beatriz@example.org")
    rows.own(owner, site)
    office = rows.make_member(Role.OFFICE, technician.company)
    record_consent(
        actor=office, site=site, owner=owner, purpose="contact", state="refused", how="paper_reference", reference="7"
    )
    (answer,) = phone.answers({**_refusal(phone, site, owner, "given"), **_by(timedelta(days=-1), skew_ms=0)})
    assert "changes nothing" in answer["result"]["sentence"]
    assert _contact(site, owner) == "refused"


def _contact(site: Site, owner) -> str:
    return ConsentStanding.objects.get(site=site, owner=owner, purpose="contact").state
