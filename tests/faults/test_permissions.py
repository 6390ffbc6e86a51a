"""A permission stands only as the ledger bears it out; one that ran out is no refusal; what changes nothing says so."""

from collections.abc import Iterator
from datetime import timedelta
from importlib import import_module
from importlib.util import find_spec
from typing import Any

import pytest
from django.core.files import storage
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import Member, Site
from fleet.operations.files import store_file
from onboarding.models import (
    ConsentDetail,
    ConsentEntry,
    ConsentStanding,
    Delivery,
    Invitation,
    Owner,
    Wording,
)
from onboarding.operations import sending
from onboarding.operations.claiming import claim_due
from onboarding.operations.consents import OwnerSaidNo, OwnersWord, confirm_consents, record_consent
from onboarding.operations.endings import end_due_permissions
from onboarding.operations.erasure import erase_owner
from onboarding.operations.invitations import queue_invitation
from onboarding.operations.outcomes import permit
from onboarding.operations.wordings import publish_wording, seed_wordings
from onboarding.queries.ledger_check import findings
from tests.factories import make_member, make_owner, make_site, make_user
from tests.guard_lifting import drop_guards
from tests.servers.smtp import SmtpServer

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
PNG = b"\x89PNG\r\n\x1a\n" + b"a signature" * 20


@pytest.fixture
def server(settings: Any) -> Iterator[SmtpServer]:
    smtp = SmtpServer()
    settings.MAIL_URL = smtp.url
    settings.MAIL_TIMEOUT = 2
    yield smtp
    smtp.stop()


class House:
    """A site and its owner at a company whose permission to write lasts one month."""

    def __init__(self) -> None:
        self.member: Member = make_member(role="administrator")
        seed_wordings(self.member.company)
        for language in ("en", "pt"):
            old = Wording.objects.get(company=self.member.company, purpose="contact", language=language)
            publish_wording(
                actor=self.member,
                purpose="contact",
                language=language,
                text=f"{old.text} For one month.",
                particulars={**old.particulars, "valid_months": 1},
            )
        self.site: Site = make_site(self.member)
        self.owner: Owner = make_owner(self.member, self.site, email="ines@example.net", language="en")

    def said(self, state: str = "given", how: str = "paper_reference", *, days_ago: float = 0) -> ConsentEntry:
        return record_consent(
            actor=self.member,
            site=self.site,
            owner=self.owner,
            purpose="contact",
            state=state,
            how=how,
            reference="folder 7" if how == "paper_reference" else "",
            at=timezone.now() - days_ago * DAY,
        )

    def answers_online(self, *, yes: bool = True) -> None:
        self.owner.user = user = self.owner.user or make_user(self.owner.email)
        self.owner.save()
        confirm_consents(word=OwnersWord(user=user), owner=self.owner, site=self.site, choices={"contact": yes})

    def invite(self) -> Invitation:
        return queue_invitation(actor=self.member, site=self.site, owner=self.owner)

    @property
    def standing(self) -> Any:
        return ConsentStanding.objects.filter(site=self.site, owner=self.owner, purpose="contact")

    def wrong(self) -> list[str]:
        return [finding.what for finding in findings(self.member.company)]

    def state(self) -> tuple[str, str]:
        invitation = Invitation.objects.get()
        return invitation.state, invitation.held_reason


def test_fault_13_a_permission_prolonged_in_the_database_is_found():
    house = House()
    house.said(days_ago=40)
    assert house.wrong() == []
    house.standing.update(ends_at=None)
    assert any("ends_at" in what for what in house.wrong())
    with pytest.raises(CommandError):
        call_command("verify_consents")


def test_fault_13_no_mail_leaves_on_a_prolonged_permission(server):
    house = House()
    house.said(days_ago=40)
    house.standing.update(ends_at=None)
    house.invite()
    sending.sweep_deliveries()
    assert server.sink.mails == []
    assert house.state()[0] == "held"


def test_fault_13_a_mail_that_waits_is_stopped_when_its_permission_is_prolonged(server):
    house = House()
    house.said(days_ago=20)
    house.invite()
    assert house.state() == ("queued", "")
    house.standing.update(ends_at=timezone.now() + 400 * DAY)
    sending.sweep_deliveries()
    assert server.sink.mails == []
    assert house.state()[0] == "held"


@pytest.mark.parametrize(
    "change",
    [
        {"ends_at": None},
        {"ends_at": timezone.now() + 400 * DAY},
        {"at": timezone.now() - 300 * DAY},
        {"strong": False},
        {"state": "renewed"},
    ],
    ids=["without end", "later end", "at", "strong", "state"],
)
def test_fault_13_the_last_leave_derives_the_permission_anew(change):
    house = House()
    house.said(days_ago=20)
    house.invite()
    (claimed,) = claim_due(1)
    house.standing.update(**change)
    assert permit(claimed) is False
    assert Delivery.objects.get().state == "stopped"


def test_fault_13_the_leave_is_given_where_the_ledger_bears_it_out():
    house = House()
    house.said(days_ago=20)
    house.invite()
    (claimed,) = claim_due(1)
    assert permit(claimed) is True


@pytest.mark.parametrize("column", ["company", "owner", "state", "strong", "entry", "at", "ends_at"])
def test_fault_13_every_column_of_a_standing_is_compared(column):
    house = House()
    first = house.said(days_ago=20)
    house.said(days_ago=10)
    other = House()
    values = {
        "company": other.member.company,
        "owner": make_owner(house.member, house.site),
        "state": "refused",
        "strong": False,
        "entry": first,
        "at": timezone.now(),
        "ends_at": timezone.now() + DAY,
    }
    house.standing.update(**{column: values[column]})
    assert house.wrong() != []


def test_fault_13_a_text_that_was_made_to_last_longer_lets_no_mail_leave(server):
    house = House()
    house.said(days_ago=40)
    drop_guards()
    for wording in Wording.objects.filter(purpose="contact"):
        Wording.objects.filter(pk=wording.pk).update(particulars={**wording.particulars, "valid_months": 0})
    house.standing.update(ends_at=None)
    house.invite()
    sending.sweep_deliveries()
    assert server.sink.mails == []


def test_fault_13_a_refusal_that_was_turned_into_a_yes_lets_no_mail_leave(server):
    house = House()
    house.said("refused")
    drop_guards()
    ConsentEntry.objects.update(state="given")
    house.standing.update(state="given")
    house.invite()
    sending.sweep_deliveries()
    assert server.sink.mails == []


def _signed(house: House) -> ConsentEntry:
    file = store_file(
        actor=house.member, site=house.site, name="s.png", content=PNG, content_type="image/png", purpose="signature"
    )
    return record_consent(
        actor=house.member, site=house.site, owner=house.owner, purpose="contact", state="given", how="signature",
        file=file,
    )  # fmt: skip


@pytest.mark.parametrize("fault", ["altered", "short", "missing", "row gone"])
def test_fault_13_a_signature_that_is_not_the_one_signed_is_found(fault):
    house = House()
    _signed(house)
    assert house.wrong() == []
    file = house.site.files.get()
    if fault == "row gone":
        file.delete()
    elif fault == "missing":
        storage.default_storage.delete(file.storage_key)
    else:
        content = PNG[:-1] + b"!" if fault == "altered" else PNG[:40]
        with open(storage.default_storage.path(file.storage_key), "wb") as stream:
            stream.write(content)
    assert any("signature" in what for what in house.wrong())


def test_fault_13_values_erased_without_an_erasure_are_found():
    house = House()
    entry = house.said()
    detail = ConsentDetail.objects.get(entry=entry)
    detail.erased, detail.values = sorted(detail.values), {}
    detail.erased_at = timezone.now()
    detail.save()
    assert any("reference" in what for what in house.wrong())


def test_fault_13_an_erasure_that_left_something_is_found():
    house = House()
    entry = _signed(house)
    kept = ConsentDetail.objects.get(entry=entry).values
    erase_owner(actor=house.member, owner=house.owner)
    assert house.wrong() == []
    name, pair = next(iter(kept.items()))
    ConsentDetail.objects.filter(entry=entry).update(values={name: pair})
    assert any("erased" in what for what in house.wrong())


def test_fault_13_an_erasure_that_was_only_written_into_the_row_is_found():
    house = House()
    house.said()
    Owner.objects.filter(pk=house.owner.pk).update(erased_at=timezone.now())
    assert house.wrong() != []


def test_fault_14_a_permission_that_ran_out_is_no_refusal():
    house = House()
    house.said(days_ago=40)
    end_due_permissions()
    house.invite()
    state, reason = house.state()
    assert (state, reason) == ("held", "ran_out")
    assert house.standing.get().state == "expired"


def test_fault_14_what_ran_out_before_a_sweep_came_says_so_too():
    house = House()
    house.said(days_ago=40)
    house.invite()
    assert house.state() == ("held", "ran_out")


def test_fault_14_a_mail_whose_permission_ran_out_while_it_waited_says_so(server):
    house = House()
    house.said(days_ago=20)
    house.invite()
    entry = house.standing.get().entry
    drop_guards()
    _made_older(house, entry)
    sending.sweep_deliveries()
    assert server.sink.mails == []
    assert house.state() == ("held", "ran_out")


def _made_older(house: House, entry: ConsentEntry) -> None:
    """The only entry of a ledger as it would be had it been said 40 days ago."""
    from onboarding.ledger.chain import canonical_json, entry_mac, parsed, utc_text

    try:
        from fleet.keys import ledger_key
    except ImportError:  # a tree from before
        from django.conf import settings

        def ledger_key() -> str:
            return str(settings.LEDGER_KEY)

    at = timezone.now() - 40 * DAY
    canonical = canonical_json({**parsed(entry.canonical), "at": utc_text(at)})
    mac = entry_mac(ledger_key(), "", canonical)
    ConsentEntry.objects.filter(pk=entry.pk).update(at=at, canonical=canonical, mac=mac)
    house.standing.update(at=at, ends_at=at + 31 * DAY if at.month in (1, 3, 5, 7, 8, 10, 12) else at + 30 * DAY)


@pytest.mark.parametrize("before", ["owner online", "paper_reference"])
def test_fault_14_asked_again_a_spoken_yes_frees_the_invitation(before):
    house = House()
    if before == "owner online":
        house.answers_online()
        house.owner.user = None
        house.owner.save()
        _let_it_run_out(house)
    else:
        house.said(days_ago=40)
    end_due_permissions()
    house.invite()
    assert house.state()[0] == "held"
    house.said(how="staff_statement")
    assert house.state() == ("queued", "")
    assert (house.standing.get().state, house.standing.get().strong) == ("given", False)
    assert house.wrong() == []


def _let_it_run_out(house: House) -> None:
    moved = find_spec("onboarding.operations.consent_lines")  # not in a tree from before
    place = "consent_lines" if moved else "consents"
    import_module(f"onboarding.operations.{place}").end_by_system(
        standing=house.standing.get(), state="expired", reason="time"
    )


def test_fault_14_what_ended_is_ended_before_something_new_is_said():
    house = House()
    house.said(days_ago=40)
    house.said(how="staff_statement")
    states = list(ConsentEntry.objects.order_by("position").values_list("state", flat=True))
    assert states == ["given", "expired", "given"]
    assert house.standing.get().strong is False
    assert house.wrong() == []


def test_fault_14_a_late_record_from_between_still_counts():
    house = House()
    house.said(days_ago=60)
    end_due_permissions()
    house.said(how="staff_statement", days_ago=5)
    assert house.standing.get().state == "given"


def test_fault_14_the_owners_own_no_is_still_no():
    house = House()
    house.answers_online()
    house.answers_online(yes=False)
    with pytest.raises(OwnerSaidNo):
        house.said(how="staff_statement")
    house.owner.user = None
    house.owner.save()
    house.invite()
    assert house.state() == ("held", "opted_out")


def _said_on_page(house: House, **answer: str) -> str:
    client = Client()
    client.force_login(house.member.user, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("onboarding:record_consent", args=[house.site.code, house.owner.public_id])
    return client.post(url, {"purpose": "contact", **answer}, follow=True).content.decode()


@pytest.mark.parametrize(
    ("answer", "instead"),
    [
        ({"state": "given", "how": "staff_statement"}, "yes of"),
        ({"state": "requested", "how": "staff_statement"}, "answer of"),
    ],
)
def test_fault_14_a_statement_that_changes_nothing_says_so(answer, instead):
    house = House()
    house.said(days_ago=3)
    page = _said_on_page(house, **answer)
    assert "changes nothing" in page
    assert instead in page
    assert ConsentEntry.objects.count() == 2


def test_fault_14_a_no_on_paper_is_not_undone_by_a_report_and_the_page_says_so():
    house = House()
    house.said("refused", days_ago=3)
    assert "no of" in _said_on_page(house, state="given", how="staff_statement")


def test_fault_14_a_statement_that_changes_something_says_that():
    house = House()
    page = _said_on_page(house, state="given", how="staff_statement")
    assert "changes nothing" not in page
    assert "Recorded" in page


def test_fault_14_an_older_statement_says_that_a_later_one_stands():
    from onboarding.queries.effects import effect_of

    house = House()
    house.said("refused", days_ago=1)
    late = house.said("given", days_ago=2)
    effect = effect_of(late)
    assert effect.changed is False
    assert "later" in effect.sentence


def test_fault_14_the_site_page_asks_again():
    house = House()
    house.said(days_ago=40)
    end_due_permissions()
    client = Client()
    client.force_login(house.member.user, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("fleet:site", args=[house.site.code])).content.decode()
    assert "Ask again" in page
