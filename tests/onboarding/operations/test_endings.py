"""Permissions that end say so in time, once, to those who may be told."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.queries.today import stuck_for
from onboarding.mail.compose import write_letter
from onboarding.models import ConsentStanding, Delivery, EndNotice, Wording
from onboarding.operations.consents import OwnersWord, confirm_consents, record_consent
from onboarding.operations.endings import end_due_permissions, tell_of_endings
from onboarding.operations.letters import letter_facts
from onboarding.operations.owners import end_ownership
from onboarding.operations.suppressions import suppress
from onboarding.operations.wordings import publish_wording, seed_wordings
from onboarding.queries.endings import ending
from onboarding.queries.ledger_check import findings
from tests.factories import make_member, make_owner, make_site, make_user

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


class Standing:
    """A site whose owner has an account and answered each purpose; monitoring lasts a year."""

    def __init__(self, *, months: int = 12, contact: bool = True) -> None:
        self.member = make_member(role="administrator")
        seed_wordings(self.member.company)
        self.months = months
        self.publish("Measurements may be received for a time.")
        self.site = make_site(self.member)
        self.owner = make_owner(self.member, self.site, name="Inês Exemplo", language="en")
        self.user = self.owner.user = make_user(self.owner.email)
        self.owner.save()
        self.answer(contact=contact, monitoring=True)

    def publish(self, text: str) -> Wording:
        particulars = {**Wording.objects.filter(purpose="monitoring", language="en")[0].particulars}
        particulars["valid_months"] = self.months
        return publish_wording(
            actor=self.member, purpose="monitoring", language="en", text=text, particulars=particulars
        )

    def answer(self, **choices: bool) -> None:
        confirm_consents(word=OwnersWord(user=self.user), owner=self.owner, site=self.site, choices=choices)

    def runs_out_in(self, time: timedelta) -> None:
        ConsentStanding.objects.filter(purpose="monitoring").update(ends_at=timezone.now() + time)

    def lists(self) -> dict[str, int]:
        return {name: ending(self.member, name).count() for name in ("ask", "told", "ended")}


def letter_of(delivery: Delivery) -> str:
    letter = write_letter(letter_facts(delivery), timezone.now())
    return f"{letter.subject}\n{letter.text}"


def given_long_ago() -> None:
    ConsentStanding.objects.update(at=timezone.now() - 340 * DAY)


def test_an_owner_who_may_be_written_to_is_told_once_before_the_end():
    here = Standing()
    given_long_ago()
    here.runs_out_in(40 * DAY)
    assert tell_of_endings() == 0
    here.runs_out_in(29 * DAY)
    assert [tell_of_endings(), tell_of_endings()] == [1, 0]
    delivery = Delivery.objects.get(stream="courtesy")
    assert (delivery.to_address, delivery.legal_basis) == (here.owner.email, "consent")
    text = letter_of(delivery)
    assert "Measurements of your system: you allowed this until" in text
    assert "/leave/" in text
    assert here.lists() == {"ask": 0, "told": 1, "ended": 0}


def test_a_permission_for_a_month_is_told_of_a_week_before_not_at_once():
    here = Standing(months=1)
    assert tell_of_endings() == 0
    here.runs_out_in(6 * DAY)
    assert tell_of_endings() == 1


@pytest.mark.parametrize("why", ["no contact", "suppressed", "no address"])
def test_whom_nobody_may_write_to_is_for_the_office_to_ask(why):
    here = Standing(contact=why != "no contact")
    if why == "suppressed":
        suppress(company=here.member.company, address=here.owner.email.upper(), reason="unsubscribed")
    if why == "no address":
        type(here.owner).objects.update(email="")
    given_long_ago()
    here.runs_out_in(10 * DAY)
    assert tell_of_endings() == 1
    assert not Delivery.objects.exists()
    assert here.lists() == {"ask": 1, "told": 0, "ended": 0}
    assert "Permissions that end: ask the owner" in [str(group.title) for group in stuck_for(here.member) if group.ours]


def test_what_staff_report_is_not_enough_to_write_a_courtesy_mail():
    here = Standing(contact=False)
    other = make_owner(here.member, here.site)
    record_consent(actor=here.member, site=here.site, owner=other, purpose="contact", state="given",
                   how="staff_statement")  # fmt: skip
    record_consent(actor=here.member, site=here.site, owner=other, purpose="monitoring", state="given",
                   how="paper_reference", reference="folder 7")  # fmt: skip
    given_long_ago()
    here.runs_out_in(10 * DAY)
    assert tell_of_endings() == 2
    assert not Delivery.objects.exists()


def test_a_new_wording_is_told_once_however_often_it_is_edited_again():
    here = Standing()
    assert tell_of_endings() == 0
    here.publish("Measurements may be received for a time, and looked at.")
    assert tell_of_endings() == 1
    assert "the text has a new version" in letter_of(Delivery.objects.get())
    here.publish("Measurements may be received for a time, and looked at twice.")
    assert tell_of_endings() == 0
    here.answer(monitoring=True)
    assert here.lists()["told"] == 0
    here.publish("Measurements may be received for some time.")
    assert tell_of_endings() == 1
    assert Delivery.objects.count() == 2


def test_the_editor_says_whom_a_new_version_would_concern(client):
    here = Standing()
    client.force_login(here.member.user, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("onboarding:wording", args=["monitoring", "en"])
    form = client.get(url).context["form"]
    typed = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    shown = client.post(url, typed | {"text": "Measurements may be received for longer.", "act": "preview"})
    assert "1 owner has allowed the version in use." in shown.content.decode()


def test_two_reasons_at_one_site_make_one_mail():
    here = Standing()
    given_long_ago()
    here.runs_out_in(10 * DAY)
    here.publish("Measurements may be received for a time, and looked at.")
    assert tell_of_endings() == 2
    assert Delivery.objects.count() == 1
    assert EndNotice.objects.filter(delivery=Delivery.objects.get()).count() == 2


def test_when_the_time_is_over_the_ledger_the_owner_and_the_office_know():
    here = Standing()
    here.runs_out_in(-DAY)
    assert end_due_permissions() == 1
    assert ConsentStanding.objects.get(purpose="monitoring").state == "expired"
    receipt = Delivery.objects.get()
    assert (receipt.stream, receipt.template) == ("receipt", "permissions_ended")
    assert "Measurements of your system: Expired (text 2, en)" in letter_of(receipt).replace("\n  ", " ")
    assert here.lists() == {"ask": 0, "told": 0, "ended": 1}
    assert list(findings(here.member.company)) == []


def test_a_sale_sends_the_former_owner_one_receipt_of_all_that_ended():
    here = Standing()
    end_ownership(actor=here.member, site=here.site, owner=here.owner)
    receipt = Delivery.objects.get()
    assert letter_of(receipt).count("Invalidated") == 2
    assert here.lists() == {"ask": 0, "told": 0, "ended": 0}


def test_the_owner_and_the_office_see_it_on_their_pages(client):
    here = Standing()
    given_long_ago()
    here.runs_out_in(10 * DAY)
    client.force_login(here.owner.user, backend="django.contrib.auth.backends.ModelBackend")
    mine = client.get(reverse("onboarding:my_site", args=[here.site.code])).content.decode()
    assert "This runs out on" in mine
    assert 'aria-label="Yes, I allow it: Measurements of your system"' in mine
    assert 'aria-label="No longer: Measurements of your system"' in mine
    assert 'aria-label="Yes, I allow it: Mail about this site"' not in mine
    client.force_login(here.member.user, backend="django.contrib.auth.backends.ModelBackend")
    assert "It runs out soon" in client.get(reverse("fleet:site", args=[here.site.code])).content.decode()
    tell_of_endings()
    listed = client.get(reverse("onboarding:endings"), {"show": "told"}).content.decode()
    assert "Inês Exemplo" in listed
    assert "runs out on" in listed
