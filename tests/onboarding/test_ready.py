"""Ready to invite: one definition on Today, in the filter, on the page, in the API and in the bulk act."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import Member, Site
from fleet.operations.site_stages import retire_site
from fleet.queries.today import stuck_for
from fleet.search import SiteFilters, reindex
from fleet.search.choices import count_choices
from onboarding.models import Delivery, Invitation, InvitationBatch, InvitationState, Owner, Ownership
from onboarding.operations.bounces import act_on
from onboarding.operations.consents import record_consent
from onboarding.operations.invitation_batches import invite_several, take_back
from onboarding.operations.invitation_sweep import expire_due
from onboarding.operations.invitations import cancel_invitation, queue_invitation, resend_invitation
from onboarding.operations.suppressions import suppress
from onboarding.queries.ready import never_invited, ran_out
from tests.factories import make_contact_consent, make_invitation, make_member, make_owner, make_site, make_user
from tests.onboarding.mail.test_reports import TOKEN, complaint

pytestmark = pytest.mark.django_db


class Office:
    """A company with an owner in every state that an invitation can be in; only ``Ready One`` was never invited."""

    def __init__(self) -> None:
        self.member: Member = make_member(role="administrator")
        self.ready = self.permitted("Ready One")
        self.owner("Nobody Asked")
        refused = self.owner("Said No")
        self.says(refused, "refused")
        cancel_invitation(actor=self.member, invitation=self.invited("Called Off"))
        self.invited("On The Way")
        self.sent("Was Sent")
        self.complained = self.sent("Complained")
        Delivery.objects.filter(invitation=self.complained).update(return_token=TOKEN)
        from onboarding.mail.reports import read_report

        act_on(read_report(complaint("abuse")))
        self.expired = self.sent("Ran Out")
        Invitation.objects.filter(pk=self.expired.pk).update(expires_at=timezone.now())
        assert expire_due() == 1
        with_account = self.permitted("Has Account")
        with_account.user = make_user(with_account.email)
        with_account.save()
        reindex([self.site_of(with_account).pk])
        gone = self.permitted("Site Retired")
        retire_site(actor=self.member, site=self.site_of(gone))

    def owner(self, name: str, **facts: Any) -> Owner:
        email = f"{name.lower().replace(' ', '.')}@example.net"
        return make_owner(self.member, make_site(self.member), **({"name": name, "email": email} | facts))

    def permitted(self, name: str, **facts: Any) -> Owner:
        owner = self.owner(name, **facts)
        make_contact_consent(self.member, self.site_of(owner), owner)
        return owner

    def says(self, owner: Owner, state: str) -> None:
        record_consent(
            actor=self.member, site=self.site_of(owner), owner=owner, purpose="contact", state=state,
            how="staff_statement",
        )  # fmt: skip

    def invited(self, name: str) -> Invitation:
        owner = self.permitted(name)
        return queue_invitation(actor=self.member, site=self.site_of(owner), owner=owner)

    def sent(self, name: str) -> Invitation:
        owner = self.owner(name)
        return make_invitation(self.member, self.site_of(owner), owner)[0]

    def site_of(self, owner: Owner) -> Site:
        return owner.ownerships.get().site

    def ownership(self, owner: Owner) -> int:
        return owner.ownerships.get().pk

    def client(self) -> Client:
        client = Client()
        client.force_login(self.member.user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    def press(self, *owners: Owner, **more: str) -> Any:
        chosen = {"ownership": [self.ownership(owner) for owner in owners], **more}
        return self.client().post(reverse("onboarding:invite_several"), chosen)

    def names(self) -> list[str]:
        return [row.owner.name for row in never_invited(self.member)]


@pytest.fixture
def office() -> Office:
    return Office()


def test_every_place_says_the_same_and_only_who_was_never_invited(office):
    assert office.names() == ["Ready One"]
    (group,) = [each for each in stuck_for(office.member) if "Ready to invite" in str(each.title)]
    assert group.count == 1
    page = office.client().get(group.url).content.decode()
    assert "1 owner may be written to and was never invited" in page
    listed = office.client().get(reverse("fleet:sites"), {"next_move": "invite"}).content.decode()
    assert office.site_of(office.ready).written_code in listed
    moves = {
        each.value: each.count
        for each in count_choices(member=office.member, text="", filters=SiteFilters())["next_move"]
    }
    assert moves["invite"] == 1
    invitations = office.client().get(reverse("onboarding:invitations")).content.decode()
    assert re.search(r"Ready to invite\s*<b>1</b>", invitations)
    api = office.client().get(reverse("api:ready_owners")).json()["results"]
    assert [row["owner"] for row in api] == [str(office.ready.public_id)]


def test_who_ran_out_stands_apart_with_the_reason(office):
    assert [row.owner.name for row in ran_out(office.member)] == ["Ran Out"]
    page = office.client().get(reverse("onboarding:ready")).content.decode()
    assert page.index("Ready One") < page.index("it ran out") < page.index("Ran Out")
    api = office.client().get(reverse("api:ready_owners"), {"reason": "ran_out"}).json()["results"]
    assert [row["owner"] for row in api] == [str(office.expired.owner.public_id)]


def test_nothing_is_ticked_and_an_empty_press_invites_nobody(office):
    page = office.client().get(reverse("onboarding:ready")).content.decode()
    assert page.count('type="checkbox"') == 2
    assert "checked" not in page
    before = Invitation.objects.count()
    office.press()
    assert Invitation.objects.count() == before


def test_the_press_first_says_what_it_will_do_and_skips_with_reasons(office):
    unreachable = office.permitted("No Address", email="")
    unwanted = office.permitted("Unwanted")
    suppress(company=office.member.company, address=unwanted.email, reason="unsubscribed")
    before = Invitation.objects.count()
    answer = office.press(office.ready, unreachable, unwanted)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "1 owner gets one e-mail" in page
    assert "No e-mail address is known" in page
    assert "The owner opted out" in page
    assert Invitation.objects.count() == before
    answer = office.press(office.ready, unreachable, unwanted, sure="yes")
    assert answer.status_code == 302
    assert Invitation.objects.count() == before + 1
    assert Invitation.objects.get(owner=office.ready).state == "queued"
    assert set(office.names()) == {"No Address", "Unwanted"}


def test_what_has_not_left_is_taken_back_and_is_ready_again(office):
    office.press(office.ready, office.expired.owner, sure="yes")
    batch = InvitationBatch.objects.get()
    assert Delivery.objects.filter(invitation__batch=batch, not_before__gt=timezone.now()).count() == 2
    assert office.names() == []
    page = office.client().get(reverse("onboarding:batch", args=[batch.public_id])).content.decode()
    assert "Take back 2 that have not left" in page
    office.client().post(reverse("onboarding:take_back", args=[batch.public_id]))
    assert set(Delivery.objects.filter(invitation__batch=batch).values_list("state", flat=True)) == {"stopped"}
    assert office.names() == ["Ready One"]
    assert [row.owner.name for row in ran_out(office.member)] == ["Ran Out"]
    office.press(office.ready, office.expired.owner, sure="yes")
    assert Invitation.objects.filter(owner=office.ready).count() == 1
    assert Invitation.objects.get(owner=office.ready).send_number == 2
    assert Delivery.objects.filter(invitation__owner=office.expired.owner, state="queued").count() == 1


def test_what_has_left_is_not_taken_back(office):
    pressed = invite_several(actor=office.member, ownerships=[office.ownership(office.ready)])
    Delivery.objects.filter(invitation__batch=pressed.batch).update(state="transmitting")
    assert pressed.batch is not None
    assert take_back(actor=office.member, batch=pressed.batch) == 0
    assert Invitation.objects.get(owner=office.ready).state == InvitationState.QUEUED


def test_who_is_not_ready_is_not_invited_by_a_made_up_press(office):
    before = Invitation.objects.count()
    everybody = Ownership.objects.exclude(owner=office.ready).exclude(owner=office.expired.owner)
    pressed = invite_several(actor=office.member, ownerships=everybody.values_list("pk", flat=True))
    assert (pressed.batch, pressed.chosen, Invitation.objects.count()) == (None, [], before)


def test_a_second_owner_is_ready_beside_one_who_was_sent_for(office):
    site = Invitation.objects.get(owner__name="Was Sent").site
    second = make_owner(office.member, site, name="Second", email="second@example.net")
    make_contact_consent(office.member, site, second)
    assert "Second" in office.names()
    filtered = {row.site_id for row in never_invited(office.member)}
    assert filtered == set(Site.objects.filter(summary__next_move="invite").values_list("pk", flat=True))


def test_sent_again_is_not_ready(office):
    resend_invitation(actor=office.member, invitation=office.expired)
    assert [row.owner.name for row in ran_out(office.member)] == []
    assert office.names() == ["Ready One"]
