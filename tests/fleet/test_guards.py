"""Append-only tables refuse to be changed, on both databases; a missing trigger is told."""

import pytest
from django.db import DatabaseError, connection, transaction

from fleet.guards import apply_guards, check_guards, declared_guards, missing_guards
from fleet.models import AuditEntry
from onboarding.models import ConsentEntry, InvitationEvent, Wording
from tests.factories import make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def rows():
    member = make_member()
    site = make_site(member)
    make_invitation(member, site, make_owner(member, site))


@pytest.mark.parametrize(("model", "column"), [(AuditEntry, "act"), (ConsentEntry, "state"), (InvitationEvent, "what")])
def test_rows_are_neither_changed_nor_removed(rows, model, column):
    assert model.objects.exists()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        model.objects.all().update(**{column: "other"})
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        model.objects.all()._raw_delete("default")


def test_a_wording_is_free_until_it_is_used(rows):
    used = Wording.objects.get(entries__isnull=False)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Wording.objects.filter(pk=used.pk).update(text="Something else altogether")
    assert Wording.objects.exclude(pk=used.pk).update(text="A draft may still be corrected") > 0


def test_a_missing_trigger_is_told_and_put_back(client, rows):
    assert missing_guards(connection) == []
    assert check_guards(databases=["default"]) == []
    with connection.cursor() as cursor:
        suffix = "" if connection.vendor == "sqlite" else " ON fleet_auditentry"
        cursor.execute(f"DROP TRIGGER fleet_auditentry_keep_delete{suffix}")
    assert missing_guards(connection) == ["fleet_auditentry_keep_delete"]
    [error] = check_guards(databases=["default"])
    assert "fleet_auditentry_keep_delete" in error.msg
    answer = client.get("/readyz")
    assert (answer.status_code, answer.json()["missing"]) == (503, ["fleet_auditentry_keep_delete"])
    apply_guards()
    assert client.get("/readyz").status_code == 200


def test_every_declared_table_is_a_table():
    assert {guard.table for guard in declared_guards()} <= set(connection.introspection.table_names())
