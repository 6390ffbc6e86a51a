"""A lost or wrong key is never taken for the right one, and people who said no are recognised under every key."""

import os
import subprocess
import sys
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings as installed
from django.core.management import CommandError, call_command
from django.utils import timezone

from fleet.models import Member, Site
from onboarding.models import ConsentEntry, Delivery, Owner, Suppression
from onboarding.operations.erasure import erase_owner
from onboarding.operations.suppressions import lift_by_owner, standing_suppression, suppress
from onboarding.operations.wordings import seed_wordings
from tests.factories import make_contact_consent, make_member, make_owner, make_site

WRONG = "another key of at least thirty-two characters"
SECOND = "a second key of at least thirty-two characters".replace(" ", "-")


@pytest.fixture
def member() -> Member:
    made = make_member(role="administrator")
    seed_wordings(made.company)
    return made


@pytest.fixture
def site(member: Member) -> Site:
    return make_site(member)


# --- the ledger's key -------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_no_entry_is_written_with_another_key(member: Member, site: Site, settings):
    owner = make_owner(member, site)
    make_contact_consent(member, site, owner)
    settings.LEDGER_KEY = WRONG
    with pytest.raises(Exception, match="ledger_key_not_here"):
        make_contact_consent(member, site, owner)
    assert ConsentEntry.objects.count() == 1


@pytest.mark.django_db
def test_readiness_says_that_it_is_another_key(client, member: Member, site: Site, settings):
    make_contact_consent(member, site, make_owner(member, site))
    assert client.get("/readyz").status_code == 200
    settings.LEDGER_KEY = WRONG
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert "ledger key is another" in str(answer.json()["missing"])


@pytest.mark.django_db
def test_a_wrong_key_is_one_sentence_and_not_a_finding_for_each_entry(member: Member, site: Site, settings):
    for _entry in range(30):
        make_contact_consent(member, site, make_owner(member, site))
    settings.LEDGER_KEY = WRONG
    out = StringIO()
    with pytest.raises(CommandError, match="ledger key is another"):
        call_command("verify_consents", stdout=out)
    assert out.getvalue() == ""


@pytest.mark.django_db
def test_a_house_without_fingerprints_is_taken_over_only_by_its_own_key(member: Member, site: Site, settings):
    from onboarding.models import KeyFingerprint

    right = settings.LEDGER_KEY
    owner = make_owner(member, site)
    make_contact_consent(member, site, owner)
    KeyFingerprint.objects.filter(use="ledger").delete()
    settings.LEDGER_KEY = WRONG
    with pytest.raises(Exception, match="ledger_key_not_here"):
        make_contact_consent(member, site, owner)
    settings.LEDGER_KEY = right
    make_contact_consent(member, site, owner)
    assert KeyFingerprint.objects.filter(use="ledger").count() == 1


@pytest.mark.django_db
def test_on_a_page_it_is_a_sentence_and_for_the_api_a_problem(client, member: Member, site: Site, settings):
    owner = make_owner(member, site)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    make_contact_consent(member, site, owner)
    settings.LEDGER_KEY = WRONG
    said = {"purpose": "monitoring", "state": "given", "how": "staff_statement"}
    answer = client.post(f"/sites/{site.code}/owners/{owner.public_id}/consents", said)
    assert answer.status_code == 503
    assert "whoever runs this installation has to put the key back" in answer.content.decode()
    body = {"owner": str(owner.public_id)} | said
    answer = client.post(f"/api/v1/sites/{site.code}/consents", body, "application/json")
    assert (answer.status_code, answer.json()["code"]) == (503, "ledger_key_not_here"), answer.content


# --- a key that is lost from the data folder, by the commands that an operator runs -----------------------------------


class House:
    """An installation of its own in a data folder, run by ``manage.py``."""

    def __init__(self, data: Path) -> None:
        self.data = data

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        kept = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
        environment = kept | {"ROOFTALLY_DATA_DIR": str(self.data)}
        return subprocess.run(
            [sys.executable, "manage.py", *arguments], env=environment, capture_output=True, text=True, check=False
        )

    def shell(self, code: str) -> str:
        ended = self.run("shell", "-v", "0", "-c", code)
        assert ended.returncode == 0, ended.stderr
        return ended.stdout


SAID_NO = """
from tests.factories import *
from onboarding.operations.suppressions import suppress
from onboarding.operations.wordings import seed_wordings
member = make_member(make_company("Telhado Claro"))
seed_wordings(member.company)
site = make_site(member)
make_contact_consent(member, site, make_owner(member, site))
suppress(company=member.company, address="ana@example.net", reason="unsubscribed")
"""
ASK = """
from fleet.models import Company
from onboarding.operations.suppressions import standing_suppression
print(standing_suppression(company_id=Company.objects.get().pk, address="ana@example.net"))
"""
READY = """
from django.test import Client
print(Client(headers={"host": "localhost"}).get("/readyz").status_code)
"""


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    made = House(tmp_path_factory.mktemp("house"))
    assert made.run("migrate", "-v0").returncode == 0
    made.shell(SAID_NO)
    return made


@pytest.mark.slow
@pytest.mark.parametrize("name", ["ledger-key", "address-keys"])
def test_a_lost_key_is_not_made_anew_once_rows_rest_on_it(house: House, name: str):
    lost = house.data / name
    assert lost.is_file()
    assert lost.stat().st_mode & 0o777 == 0o600
    key = lost.read_text()
    lost.unlink()
    try:
        started = house.run("migrate", "-v0")
        assert started.returncode != 0
        assert "key is missing: put it back" in started.stderr
        assert "Traceback" not in started.stderr
        assert house.shell(READY).strip() == "503"
        assert not lost.exists()
    finally:
        lost.write_text(key)
    assert house.run("migrate", "-v0").returncode == 0
    assert house.shell(READY).strip() == "200"


@pytest.mark.slow
def test_with_a_lost_ledger_key_people_who_said_no_are_still_known(house: House):
    kept = house.data / "ledger-key"
    key = kept.read_text()
    try:
        kept.write_text(WRONG.replace(" ", "-"))
        assert "suppression" in house.shell(ASK)
    finally:
        kept.write_text(key)


# --- the address keys -------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_another_ledger_key_changes_nothing_about_who_said_no(member: Member, settings):
    suppress(company=member.company, address="ana@example.net", reason="unsubscribed")
    settings.LEDGER_KEY = WRONG
    assert standing_suppression(company_id=member.company_id, address="Ana@example.net") is not None


@pytest.mark.django_db
def test_without_a_key_that_addresses_are_known_by_nobody_is_taken_for_willing(client, member: Member, settings):
    suppress(company=member.company, address="ana@example.net", reason="unsubscribed")
    settings.ADDRESS_KEYS = [SECOND]
    with pytest.raises(Exception, match="address_key_not_here"):
        standing_suppression(company_id=member.company_id, address="ana@example.net")
    answer = client.get("/readyz")
    assert answer.status_code == 503
    assert "known by keys that are not here" in str(answer.json()["missing"])


@pytest.fixture
def first_key() -> str:
    from fleet.keys import address_keys

    return address_keys()[0]


@pytest.mark.django_db
def test_addresses_still_there_are_rekeyed_in_batches_and_erased_ones_keep_theirs(
    member: Member, site: Site, settings, first_key: str, monkeypatch
):
    from fleet.keys import ADDRESS, key_id
    from onboarding.operations import rekeying

    monkeypatch.setattr(rekeying, "AT_ONCE", 2)
    gone = make_owner(member, site, email="gone+roof@example.net")
    for address in ("a@example.net", "b@example.net", "c@example.net", "gone+roof@example.net"):
        suppress(company=member.company, address=address, reason="unsubscribed")
    erase_owner(actor=member, owner=gone)
    settings.ADDRESS_KEYS = [SECOND, first_key]
    old, new = key_id(ADDRESS, first_key), key_id(ADDRESS, SECOND)
    out = StringIO()
    call_command("rekey_addresses", stdout=out)
    assert f"Older key {old}: " in out.getvalue()
    assert "so keep it" in out.getvalue()
    assert dict(Suppression.objects.values_list("address", "mac_key")) == {
        "a@example.net": new, "b@example.net": new, "c@example.net": new, "": old,
    }  # fmt: skip
    for address in ("a@example.net", "gone+roof@example.net", "gone@example.net"):
        assert standing_suppression(company_id=member.company_id, address=address) is not None, address
    assert Owner.objects.get(pk=gone.pk).mac_key == old
    settings.ADDRESS_KEYS = [SECOND]  # the erased one still needs the older key
    with pytest.raises(Exception, match="address_key_not_here"):
        standing_suppression(company_id=member.company_id, address="a@example.net")


@pytest.mark.django_db
def test_an_older_key_that_no_row_needs_may_go(member: Member, settings, first_key: str):
    suppress(company=member.company, address="ana@example.net", reason="by_staff")
    settings.ADDRESS_KEYS = [SECOND, first_key]
    out = StringIO()
    call_command("rekey_addresses", stdout=out)
    assert "so remove it" in out.getvalue()
    settings.ADDRESS_KEYS = [SECOND]
    assert standing_suppression(company_id=member.company_id, address="ana@example.net") is not None
    assert "0 rows are" in _printed("rekey_addresses")


def _printed(command: str) -> str:
    out = StringIO()
    call_command(command, stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_a_mail_queued_under_the_older_key_is_held_by_an_entry_under_the_newer(
    member: Member, site: Site, settings, first_key: str
):
    from onboarding.operations.claiming import claim_due

    owner, mail = _invited(member, site)
    settings.ADDRESS_KEYS = [SECOND, first_key]
    suppress(company=member.company, address=owner.email, reason="by_staff")
    assert claim_due(5) == []
    mail.refresh_from_db()
    assert mail.state == "stopped"


@pytest.mark.django_db
def test_a_mail_queued_under_the_newer_key_is_held_by_an_erased_entry_under_the_older(
    member: Member, site: Site, settings, first_key: str
):
    from onboarding.operations.claiming import claim_due
    from onboarding.operations.deliveries import queue_delivery

    gone = make_owner(member, site, email="gone@example.net")
    suppress(company=member.company, address="gone@example.net", reason="not_me")
    erase_owner(actor=member, owner=gone)
    settings.ADDRESS_KEYS = [SECOND, first_key]
    owner = make_owner(member, site, email="gone@example.net")
    make_contact_consent(member, site, owner)
    mail = queue_delivery(
        stream="receipt", template="consent_receipt", to_address=owner.email, language="en", company=member.company,
        owner=owner, site=site, not_before=timezone.now() - timedelta(minutes=1),
    )  # fmt: skip
    assert claim_due(5) == []
    mail.refresh_from_db()
    assert mail.state == "stopped"


def _invited(member: Member, site: Site) -> tuple[Owner, Delivery]:
    from onboarding.operations.invitations import queue_invitation

    owner = make_owner(member, site)
    make_contact_consent(member, site, owner)
    invitation = queue_invitation(actor=member, site=site, owner=owner)
    Delivery.objects.update(not_before=timezone.now() - timedelta(minutes=1))
    return owner, invitation.deliveries.get()


@pytest.mark.django_db
def test_an_owner_allows_mail_again_whatever_key_the_entry_has(member: Member, settings, first_key: str):
    suppress(company=member.company, address="ana@example.net", reason="unsubscribed")
    settings.ADDRESS_KEYS = [SECOND, first_key]
    lift_by_owner(company=member.company, address="ana@example.net")
    assert standing_suppression(company_id=member.company_id, address="ana@example.net") is None


@pytest.mark.django_db
def test_a_house_that_had_one_key_for_both_goes_on_with_it(member: Member, settings, tmp_path: Path):
    import importlib

    from django.apps import apps

    from fleet.keys import ADDRESS, address_keys, key_id
    from onboarding.models import KeyFingerprint
    from onboarding.operations.keys import settle_keys

    KeyFingerprint.objects.all().delete()
    settings.ADDRESS_KEYS = [settings.LEDGER_KEY]
    suppress(company=member.company, address="ana@example.net", reason="unsubscribed")
    Suppression.objects.update(mac_key="")
    KeyFingerprint.objects.all().delete()
    settings.DATA_DIR, settings.ADDRESS_KEYS = tmp_path, []
    importlib.import_module("onboarding.migrations.0010_first_key").name_the_first_key(apps, None)
    assert settle_keys() == []
    assert address_keys() == [installed.LEDGER_KEY]
    assert Suppression.objects.get().mac_key == key_id(ADDRESS, installed.LEDGER_KEY)
    assert standing_suppression(company_id=member.company_id, address="ana@example.net") is not None


@pytest.mark.django_db
def test_the_migration_stops_where_the_key_is_another(member: Member, settings):
    import importlib

    from django.apps import apps

    from fleet.config.environment import BadSetting
    from onboarding.models import KeyFingerprint

    KeyFingerprint.objects.all().delete()
    settings.ADDRESS_KEYS = [settings.LEDGER_KEY]
    suppress(company=member.company, address="ana@example.net", reason="unsubscribed")
    Suppression.objects.update(mac_key="")
    for key in ("", WRONG):
        settings.LEDGER_KEY = key
        with pytest.raises(BadSetting, match="put that one back"):
            importlib.import_module("onboarding.migrations.0010_first_key").name_the_first_key(apps, None)
    assert Suppression.objects.get().mac_key == ""
