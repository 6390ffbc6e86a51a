from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.models import ApiToken, Assignment, Company, Member, MemberInvitation, Role, User
from fleet.operations.assignments import assign, unassign
from fleet.operations.companies import BadCompany, create_company
from fleet.operations.members import (
    AlreadyMember,
    BadMember,
    InvitationOver,
    LastAdministrator,
    SignInFirst,
    UnknownMember,
    accept_member_invitation,
    change_role,
    deactivate_member,
    invite_member,
)
from fleet.operations.refusals import NotAllowed
from fleet.operations.sightings import NothingSighted, sight
from fleet.operations.tokens import BadToken, UnknownToken, issue_token, revoke_token
from fleet.queries.tokens import member_of_token
from fleet.queries.visibility import may_see
from tests.factories import PASSWORD, make_company, make_member, make_site, make_user

pytestmark = pytest.mark.django_db
mails = []


def take_mail(**mail):
    """Stands in for the mail part, which has tests of its own."""
    mails.append(mail)


@pytest.fixture(autouse=True)
def _mail(settings):
    settings.QUEUE_ACCOUNT_MAIL = "tests.fleet.operations.test_people.take_mail"
    settings.ROOT_URLCONF = "tests.fleet.operations.join_urls"
    settings.CONFIRM_ADDRESS = "tests.fleet.operations.test_people.take_mail"
    mails.clear()


@pytest.fixture
def admin():
    return make_member(role=Role.ADMINISTRATOR)


def invited_token():
    return mails[-1]["context"]["link"].rstrip("/").rsplit("/", 1)[-1]


def test_a_company_starts_with_policy_and_administrator():
    company, member = create_company(name="Telhado Claro", admin_email="Admin@example.org")
    assert company.policy.field_sight == "assigned"
    assert member.role == Role.ADMINISTRATOR
    assert not member.user.has_usable_password()


@pytest.mark.parametrize(
    ("name", "email"), [(" ", "a@example.org"), ("x", "not an address"), ("y" * 121, "a@example.org")]
)
def test_a_company_without_name_or_address_is_not_started(name, email):
    with pytest.raises(BadCompany):
        create_company(name=name, admin_email=email)
    assert not Company.objects.exists()


def test_an_invited_person_joins_once(admin):
    invite_member(actor=admin, email="new@example.org", role=Role.FIELD, name="Ana")
    token = invited_token()
    assert token not in str(MemberInvitation.objects.values().get())
    member = accept_member_invitation(token=token, password=PASSWORD)
    assert (member.role, member.user.name, member.user.check_password(PASSWORD)) == ("field", "Ana", True)
    with pytest.raises(InvitationOver):
        accept_member_invitation(token=token, password=PASSWORD)
    assert Member.objects.filter(company=admin.company).count() == 2


def test_a_weak_password_leaves_the_invitation_open(admin):
    invite_member(actor=admin, email="new@example.org", role=Role.FIELD)
    with pytest.raises(BadMember) as refused:
        accept_member_invitation(token=invited_token(), password="short")
    assert refused.value.facts["errors"]["password"]
    assert not User.objects.filter(email="new@example.org").exists()
    assert accept_member_invitation(token=invited_token(), password=PASSWORD)


def test_an_address_with_an_account_signs_in_first_and_keeps_its_password(admin):
    user = make_user("known@example.org", password=PASSWORD)
    invite_member(actor=admin, email="KNOWN@example.org", role=Role.OFFICE)
    with pytest.raises(SignInFirst):
        accept_member_invitation(token=invited_token(), password="another long password here")
    with pytest.raises(InvitationOver):
        accept_member_invitation(token=invited_token(), user=make_user())
    assert accept_member_invitation(token=invited_token(), user=user).user == user
    user.refresh_from_db()
    assert user.check_password(PASSWORD)


def test_an_old_link_is_dead(admin):
    invite_member(actor=admin, email="new@example.org", role=Role.FIELD)
    MemberInvitation.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    with pytest.raises(InvitationOver):
        accept_member_invitation(token=invited_token(), password=PASSWORD)


def test_nobody_is_invited_twice_whatever_the_letter_case(admin):
    invite_member(actor=admin, email="new@example.org", role=Role.FIELD)
    with pytest.raises(AlreadyMember):
        invite_member(actor=admin, email="NEW@example.org", role=Role.FIELD)
    with pytest.raises(AlreadyMember):
        invite_member(actor=admin, email=admin.user.email.upper(), role=Role.FIELD)
    assert len(mails) == 1


def test_only_administrators_manage_members(admin):
    office = make_member(admin.company)
    for act in (
        lambda: invite_member(actor=office, email="x@example.org", role=Role.FIELD),
        lambda: change_role(actor=office, member=admin, role=Role.FIELD),
        lambda: deactivate_member(actor=office, member=admin),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_the_last_administrator_stays(admin):
    with pytest.raises(LastAdministrator):
        change_role(actor=admin, member=admin, role=Role.OFFICE)
    with pytest.raises(LastAdministrator):
        deactivate_member(actor=admin, member=admin)
    second = make_member(admin.company, Role.ADMINISTRATOR)
    assert change_role(actor=second, member=admin, role=Role.OFFICE).role == "office"


def test_a_member_of_another_company_is_unknown(admin):
    with pytest.raises(UnknownMember):
        change_role(actor=admin, member=make_member(make_company("Other")), role=Role.FIELD)


def test_who_leaves_loses_sessions_and_tokens_and_hands_over_assignments(admin, client):
    field, other = make_member(admin.company, Role.FIELD), make_member(admin.company, Role.FIELD)
    site, shared = make_site(admin), make_site(admin)
    for member, place in ((field, site), (field, shared), (other, shared)):
        assign(actor=admin, member=member, site=place)
    _token, secret = issue_token(actor=field, name="phone", scopes=["scans:write"])
    client.force_login(field.user, backend="django.contrib.auth.backends.ModelBackend")
    deactivate_member(actor=admin, member=field, hand_to=other)
    assert member_of_token(secret) is None
    assert not Assignment.objects.filter(member=field).exists()
    assert Assignment.objects.filter(member=other).count() == 2


def test_a_token_acts_for_its_member_until_revoked(admin):
    token, secret = issue_token(actor=admin, name="import", scopes=["sites:read"])
    assert member_of_token(secret).member == admin
    assert secret not in str(ApiToken.objects.values().get())
    assert member_of_token(secret + "x") is None
    with pytest.raises(UnknownToken):
        revoke_token(actor=make_member(admin.company), token=token)
    revoke_token(actor=admin, token=token)
    assert member_of_token(secret) is None


@pytest.mark.parametrize(("name", "scopes"), [("", ["sites:read"]), ("x", []), ("x", ["everything"])])
def test_a_token_needs_a_name_and_known_scopes(admin, name, scopes):
    with pytest.raises(BadToken):
        issue_token(actor=admin, name=name, scopes=scopes)


def test_an_assignment_opens_a_site_until_its_day(admin):
    field, site = make_member(admin.company, Role.FIELD), make_site(admin)
    assert not may_see(field, site)
    assign(actor=admin, member=field, site=site, until=timezone.localdate())
    assert may_see(field, site)
    assign(actor=admin, member=field, site=site, until=timezone.localdate() - timedelta(days=1))
    assert not may_see(field, site)
    unassign(actor=admin, member=field, site=site)
    assert not Assignment.objects.exists()


def test_a_camera_reading_of_the_plate_opens_the_site_and_a_typed_one_does_not(admin, settings):
    field, site = make_member(admin.company, Role.FIELD), make_site(admin)
    plate = f"{settings.BASE_URL}/s/{site.written_code}"
    with pytest.raises(NothingSighted):
        sight(actor=field, raw=plate, source="typed")
    assert not may_see(field, site)
    assert sight(actor=field, raw=plate, format="]Q1", source="camera").site == site
    assert may_see(field, site)


def test_a_plate_of_another_company_opens_nothing(admin, settings):
    site = make_site(make_member(make_company("Other")))
    with pytest.raises(NothingSighted):
        sight(actor=admin, raw=f"{settings.BASE_URL}/s/{site.written_code}", format="]Q1")
