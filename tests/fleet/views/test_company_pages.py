"""Members, tokens, policy, link domains and label forms, as administrators use them."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from fleet.models import ApiToken, LabelForm, Member, MemberInvitation, Role, User
from fleet.operations.members import token_hash
from fleet.queries.decoding import decode_options
from tests import rows

pytestmark = pytest.mark.django_db

PASSWORD = "seven quiet tiles on a roof"
TAUGHT = {
    "name": "round label",
    "pattern": "NR (?P<serial>[0-9]{6})/(?P<batch>[A-Z])",
    "examples": "NR 123456/B => serial=123456, batch=B",
    "counter_examples": "NR 12345/B",
}


def _administrator() -> Member:
    return rows.make_member(Role.ADMINISTRATOR, rows.make_company())


def _client(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def _invitation(member: Member, email: str = "nova@example.org") -> str:
    MemberInvitation.objects.create(
        company=member.company,
        email=email,
        role=Role.FIELD,
        token_hash=token_hash("the-link"),
        invited_by=member,
        expires_at=timezone.now() + timedelta(days=1),
    )
    return "/join/the-link"


def test_a_newcomer_joins_by_the_link_and_opening_it_changes_nothing():
    member = _administrator()
    link = _invitation(member)
    client = Client()
    for _opening in range(2):
        page = client.get(link)
        assert "no-store" in page.headers["Cache-Control"]
        assert page.headers["Referrer-Policy"] == "no-referrer, strict-origin"
    assert MemberInvitation.objects.get().accepted_at is None
    assert client.post(link, {"name": "Nova", "password": "short"}).status_code == 422
    answer = client.post(link, {"name": "Nova", "password": PASSWORD}, follow=True)
    assert "Welcome to" in answer.content.decode()
    assert Member.objects.get(user__email="nova@example.org").role == Role.FIELD
    assert client.get(link).status_code == 404


def test_an_address_with_an_account_signs_in_instead_of_setting_a_password():
    member = _administrator()
    known = rows.make_user("nova@example.org")
    link = _invitation(member)
    assert "has an account already" in Client().get(link).content.decode()
    Client().post(link, {"name": "x", "password": PASSWORD})
    known.refresh_from_db()
    assert known.check_password(rows.PASSWORD)
    assert User.objects.filter(email="nova@example.org").count() == 1


def test_somebody_else_who_is_signed_in_does_not_join():
    member = _administrator()
    link = _invitation(member)
    stranger = rows.make_member(Role.OFFICE)
    assert "signed in with another address" in _client(stranger).get(link).content.decode()
    _client(stranger).post(link)
    assert not Member.objects.filter(company=member.company, user=stranger.user).exists()


def test_a_token_is_shown_once():
    member = _administrator()
    client = _client(member)
    answer = client.post("/tokens/", {"name": "stock list", "scopes": ["sites:read"]})
    secret = answer.context["secret"]
    assert secret in answer.content.decode()
    assert answer.headers["Cache-Control"].count("no-store")
    assert secret not in client.get("/tokens/").content.decode()
    assert ApiToken.objects.get().token_hash == token_hash(secret)


def test_a_deactivated_member_hands_over_and_is_out_at_once():
    member = _administrator()
    leaving, staying = (rows.make_member(Role.FIELD, member.company) for _ in range(2))
    site = rows.make_site(member.company)
    rows.assign(leaving, site)
    theirs = _client(leaving)
    assert theirs.get("/").status_code == 200
    _client(member).post(f"/members/{leaving.public_id}/deactivate", {"hand_to": str(staying.public_id)})
    assert theirs.get("/").status_code == 302
    assert staying.assignments.get().site == site


def test_the_policy_keeps_what_cannot_be_used_out():
    member = _administrator()
    client = _client(member)
    form = client.get("/company/policy").context["form"]
    given = {name: "" if form[name].value() is None else form[name].value() for name in form.fields}
    given.pop("ready_before_invite")
    assert client.post("/company/policy", given | {"default_time_zone": "Moon/Crater"}).status_code == 422
    member.company.policy.refresh_from_db()
    assert member.company.policy.default_time_zone == "Europe/Lisbon"
    assert client.post("/company/policy", given | {"field_sight": "all"}).status_code == 302
    member.company.policy.refresh_from_db()
    assert member.company.policy.field_sight == "all"


@pytest.mark.parametrize("domain", ["https://id.example.com/x", "localhost", "a b.example", "-x.example", "x" * 255])
def test_what_is_no_domain_name_is_not_listed(domain: str):
    member = _administrator()
    assert _client(member).post("/company/link-domains", {"domain": domain}).status_code == 422
    assert member.company.link_domains.count() == 0


def test_a_taught_form_reads_labels():
    member = _administrator()
    client = _client(member)
    tried = client.post("/company/label-forms/new", TAUGHT | {"try": "yes"})
    assert [trial["problem"] for trial in tried.context["trials"]] == ["", ""]
    assert LabelForm.objects.count() == 0
    assert client.post("/company/label-forms/new", TAUGHT).status_code == 302
    (form,) = decode_options(member.company).label_forms
    assert form.read("NR 654321/C") == {"serial": "654321", "batch": "C"}
    client.post("/company/label-forms/named/round label/switch", {"active": "no"})
    assert decode_options(member.company).label_forms == ()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"examples": "NR 123456/B => serial=999999"}, "examples"),
        ({"counter_examples": "NR 123456/B"}, "counter_examples"),
        ({"pattern": "(?P<serial>[A-Z"}, "pattern"),
        ({"pattern": "(?P<serial>.*)"}, "pattern"),
        ({"examples": "no arrow here"}, "examples"),
        ({"name": "a/b"}, "name"),
    ],
)
def test_a_form_that_does_not_do_what_it_says_is_not_kept(changed: dict[str, str], field: str):
    member = _administrator()
    answer = _client(member).post("/company/label-forms/new", TAUGHT | changed)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert LabelForm.objects.count() == 0
