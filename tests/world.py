"""Two companies with one of everything, for tests that go over every page: who may see it, and what it costs."""

import dataclasses
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property

from django.test import Client
from django.utils import timezone

from fleet.models import (
    AuditDetail,
    AuditEntry,
    Company,
    Device,
    ExpectedDevice,
    HandoverCheck,
    Kind,
    Maker,
    MakerSpelling,
    Member,
    ModelNumber,
    Outcome,
    Placement,
    Role,
    Scan,
    Site,
    SiteReference,
    StoredFile,
    User,
)
from fleet.models.access import ApiToken, MemberInvitation
from fleet.search import reindex
from onboarding.models import Invitation, InvitationEvent, InvitationState, Owner, Purpose, SaleReport
from onboarding.models.delivery import Suppression
from tests import rows

ROLES = ("administrator", "office", "field", "unassigned", "owner", "other_owner", "outsider", "foreign", "anonymous")


@dataclass
class World:
    """Company ``ours`` with a site, and company ``theirs`` with another; ``grow`` multiplies what ours holds.

    ``field`` is assigned to every site of ours, ``unassigned`` to none; ``owner`` owns every site of ours, while
    ``other_owner`` owns one of theirs; ``outsider`` has an account and nothing else; ``foreign`` administers theirs.
    """

    ours: Company = dataclasses.field(default_factory=lambda: rows.make_company("Ours"))
    theirs: Company = dataclasses.field(default_factory=lambda: rows.make_company("Theirs"))
    sites: list[Site] = dataclasses.field(default_factory=list)
    placements: list[Placement] = dataclasses.field(default_factory=list)
    invitations: list[Invitation] = dataclasses.field(default_factory=list)

    def __post_init__(self) -> None:
        self.administrator = rows.make_member(Role.ADMINISTRATOR, self.ours)
        self.office = rows.make_member(Role.OFFICE, self.ours)
        self.field = rows.make_member(Role.FIELD, self.ours)
        self.unassigned = rows.make_member(Role.FIELD, self.ours)
        self.foreign = rows.make_member(Role.ADMINISTRATOR, self.theirs)
        self.outsider = rows.make_user()
        self.their_site = rows.make_site(self.theirs)
        self.owner = rows.make_owner(self.ours, user=rows.make_user())
        self.other_owner = rows.make_owner(self.theirs, user=rows.make_user())
        rows.own(self.other_owner, self.their_site)
        self.model = rows.make_model(self.ours)
        self.grow(1)

    @property
    def site(self) -> Site:
        """Our first site."""
        return self.sites[0]

    @property
    def device(self) -> Device:
        """The first device at it."""
        return self.placements[0].device

    @property
    def invitation(self) -> Invitation:
        """The first invitation."""
        return self.invitations[0]

    @cached_property
    def check(self) -> HandoverCheck:
        """The first handover check."""
        return HandoverCheck.objects.filter(site=self.site).order_by("pk")[0]

    @cached_property
    def file(self) -> StoredFile:
        """The first file."""
        return StoredFile.objects.filter(site=self.site).order_by("pk")[0]

    @cached_property
    def token(self) -> ApiToken:
        """The first API token."""
        return ApiToken.objects.filter(company=self.ours).order_by("pk")[0]

    @cached_property
    def member_invitation(self) -> MemberInvitation:
        """The first invitation of a member."""
        return MemberInvitation.objects.filter(company=self.ours).order_by("pk")[0]

    def client_of(self, role: str) -> Client:
        """A client that is signed in as ``role``, one of ROLES."""
        client = Client(raise_request_exception=False)
        user = self._user(role)
        if user is not None:
            client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return client

    def grow(self, more: int) -> None:
        """``more`` of everything: sites of ours with what hangs on them, and as much again at our first site."""
        for _ in range(more):
            self._add_site()
            self._add_to_first_site()
        reindex([site.pk for site in self.sites])

    def _user(self, role: str) -> User | None:
        person: Member | Owner | User | None = None if role == "anonymous" else getattr(self, role)
        return person.user if isinstance(person, Member | Owner) else person

    def _add_site(self) -> None:
        site = rows.make_site(self.ours)
        self.sites.append(site)
        rows.assign(self.field, site)
        rows.own(self.owner, site)
        rows.make_consent(site, self.owner)
        self._add_device(site)
        self._add_owner(site)

    def _add_to_first_site(self) -> None:
        self._add_device(self.site)
        self._add_owner(self.site)
        rows.make_consent(self.site, self.owner)
        number = HandoverCheck.objects.count()
        HandoverCheck.objects.create(company=self.ours, site=self.site, title=f"check {number}")
        ExpectedDevice.objects.create(
            company=self.ours, site=self.site, kind=Kind.BATTERY, model=self.model, serial=f"PLANNED-{number}"
        )
        maker = Maker.objects.create(company=self.ours, name=f"Maker {number}")
        MakerSpelling.objects.create(company=self.ours, maker=maker, name=f"Maker No. {number}")
        model = rows.make_model(self.ours, maker=maker.name)
        ModelNumber.objects.create(company=self.ours, model=model, scheme="part_number", value=f"P{number}")
        SiteReference.objects.create(company=self.ours, site=self.site, kind="order", value=f"A{number:06d}")
        StoredFile.objects.create(
            company=self.ours,
            site=self.site,
            sha256=f"{number:064x}",
            storage_key=f"none/{number}",
            name=f"photo {number}.jpg",
            content_type="image/jpeg",
            size=1,
        )
        rows.make_member(Role.FIELD, self.ours)
        self._add_access(number)

    def _add_access(self, number: int) -> None:
        ApiToken.objects.create(
            company=self.ours, member=self.administrator, name=f"token {number}", token_hash=f"{number:064x}"
        )
        MemberInvitation.objects.create(
            company=self.ours,
            email=f"newcomer{number}@example.org",
            role=Role.FIELD,
            token_hash=f"{number:064x}",
            invited_by=self.administrator,
            expires_at=timezone.now() + timedelta(days=7),
        )
        Suppression.objects.create(
            company=self.ours, address_mac=f"{number:064x}", address=f"left{number}@example.com", reason="unsubscribed"
        )

    def _add_device(self, site: Site) -> None:
        device = rows.make_device(self.ours, kind=Kind.INVERTER, model=self.model)
        placement = rows.place(device, site, placed_by=self.office)
        self.placements.append(placement)
        Scan.objects.create(
            company=self.ours,
            client_id=rows.make_uuid(),
            fingerprint="",
            user=self.office.user,
            member=self.office,
            site=site,
            payload=device.serial,
            source="typed",
            scanned_at=rows.LONG_AGO,
            outcome=Outcome.LINKED,
            device=device,
            placement=placement,
        )
        entry = AuditEntry.objects.create(
            company=self.ours, act="link_device", user=self.office.user, member=self.office, site=site,
            object_type="device", object_id=str(device.public_id),
        )  # fmt: skip
        AuditDetail.objects.create(entry=entry)

    def _add_owner(self, site: Site) -> None:
        owner = rows.make_owner(self.ours)
        SaleReport.objects.create(company=self.ours, ownership=rows.own(owner, site), sold_on=rows.LONG_AGO.date())
        for purpose in Purpose.values:
            rows.make_consent(site, owner, purpose)
        invitation = rows.make_invitation(site, owner, InvitationState.SENT, invited_by=self.office)
        rows.make_delivery(invitation)
        InvitationEvent.objects.create(company=self.ours, invitation=invitation, what="queued", member=self.office)
        self.invitations.append(invitation)
