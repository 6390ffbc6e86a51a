"""Loads Telhado Claro: 3,000 sites with almost 15,000 devices, and owners in every state an invitation can be in."""

from collections.abc import Callable
from datetime import datetime, timedelta
from random import Random

from allauth.account.models import EmailAddress
from django.db import transaction
from django.utils import timezone

from fleet.models import (
    Assignment,
    Company,
    Device,
    ExpectedDevice,
    HandoverCheck,
    Maker,
    Member,
    Placement,
    Site,
    Stage,
    Tag,
    User,
)
from fleet.operations.audit import ActFacts, record_acts
from fleet.operations.measurement_pages import set_measurement_page
from fleet.operations.plates import print_plate
from fleet.search import reindex
from onboarding.addresses import address_key, mailbox_of, new_mac_key
from onboarding.management.demo.everyday import leave_everyday_things
from onboarding.management.demo.mails import links_of, mails_of, receipt_of, trail_of, trail_of_word
from onboarding.management.demo.people import NO_PASSWORD, OWNER, STAFF, SignIn, make_company
from onboarding.management.demo.states import PLAN, REPLACED_AFTER, SENT, SUCCESSOR, Plan
from onboarding.management.synthetic.bulk import quick_writing
from onboarding.management.synthetic.catalogue import invent_catalogue
from onboarding.management.synthetic.fleet import Fleet
from onboarding.models import (
    ConsentEntry,
    Delivery,
    Evidence,
    Invitation,
    InvitationBatch,
    InvitationEvent,
    InvitationLink,
    InvitationState,
    Owner,
    Ownership,
    Stream,
    Suppression,
)
from onboarding.operations.deliveries import queue_delivery
from onboarding.operations.invitation_batches import TAKEN_BACK_FOR
from onboarding.operations.ledger import Line
from onboarding.operations.ledger_batch import append_first_words
from onboarding.queries.wordings import current_wordings

SITES = 3000
SEED = 7
ASSIGNED = 40
PLANNED = 6
PLATES = 40
REINDEXED_AT_ONCE = 500
BY_THE_OFFICE = ("made", "queued", "held", "taken_back", "cancelled", "replaced")
CHECKS = ("Modules and frame", "Insulation measured", "Grid protection tested", "Owner shown how to switch off")
TAGS = ("Warranty year", "Flat roof", "Key at the neighbour's", "Second meter")


def load(sign_ins: dict[str, SignIn], tell: Callable[[str], None], *, sites: int = SITES) -> Company:
    """Load the company; the same every time but for passwords and today's date."""
    company, members = make_company(sign_ins)
    with quick_writing():
        invent_catalogue(company)
        Fleet(company, seed=SEED, taken=set()).load(sites)
    with transaction.atomic():
        Story(company, members[STAFF[1][1]], sign_ins).tell_all()
        _around_sites(company, members[STAFF[2][1]])
        _for_owners(company, members[STAFF[0][1]])
    devices = Device.objects.filter(company=company).count()
    tell(f"{sites:,} sites with {devices:,} devices are registered.")
    tell("Owners, permissions and invitations are in every state there is.")
    ids = list(Site.objects.filter(company=company).order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(ids), REINDEXED_AT_ONCE):
        reindex(ids[start : start + REINDEXED_AT_ONCE])
    tell("Every site can be found.")
    leave_everyday_things(company, administrator=members[STAFF[0][1]], technician=members[STAFF[2][1]])
    return company


def _for_owners(company: Company, administrator: Member) -> None:
    """Where owners see what their devices measure, and plates at the first sites."""
    for maker in Maker.objects.filter(company=company):
        url = f"https://{maker.name.lower().replace(' ', '-')}.example.com/measurements"
        set_measurement_page(actor=administrator, maker=maker.name, url=url)
    for site in Site.objects.filter(company=company).exclude(stage=Stage.RETIRED).order_by("pk")[:PLATES]:
        print_plate(actor=administrator, site=site)


class Story:
    """Gives each owner a past: what they allowed, and how far their invitation came."""

    def __init__(self, company: Company, office: Member, sign_ins: dict[str, SignIn]) -> None:
        self._company, self._office, self._sign_ins = company, office, sign_ins
        self._random = Random(SEED)  # noqa: S311  # invented data
        self._now = timezone.now()
        self._wordings = {code: current_wordings(company, code) for code in ("pt", "en")}
        self._lines: list[Line] = []
        self._invitations: list[tuple[Invitation, Plan, datetime]] = []
        self._trail: list[ActFacts] = []

    def tell_all(self) -> None:
        """Write the past of every owner."""
        ownerships = list(
            Ownership.objects.filter(company=self._company).select_related("site__company", "owner").order_by("pk")
        )
        plans = self._random.choices(PLAN, weights=[plan.weight for plan in PLAN], k=len(ownerships))
        plans[: len(PLAN)] = PLAN  # each at least once, and the first few sites show them all
        self._change_owners([each.owner for each in ownerships], plans)
        for ownership, plan in zip(ownerships, plans, strict=True):
            self._plan_one(ownership.site, ownership.owner, plan)
        entries = append_first_words(self._company, self._lines)
        self._trail += [trail_of_word(entry, self._office) for entry in entries]
        self._write_invitations(entries)
        self._suppress()
        record_acts(sorted(self._trail, key=lambda facts: facts.at or self._now))

    def _suppress(self) -> None:
        """The addresses that refused mail or complained, from the moment that each did."""
        made = Suppression.objects.bulk_create(
            Suppression(
                company=self._company,
                address=invitation.owner.email,
                address_mac=address_key(self._company.pk, invitation.owner.email),
                mailbox_mac=address_key(self._company.pk, mailbox_of(invitation.owner.email)),
                mac_key=new_mac_key(),
                reason=invitation.state,
                since=invitation.ended_at or at,
            )
            for invitation, plan, at in self._invitations
            if plan.suppressed
        )
        self._trail += [
            ActFacts(
                act="suppress_address",
                company=self._company,
                about=each,
                after={"reason": each.reason, "address": each.address},
                at=each.since,
            )
            for each in made
        ]

    def _change_owners(self, owners: list[Owner], plans: list[Plan]) -> None:
        users = []
        for owner, plan in zip(owners, plans, strict=True):
            owner.language = "en" if self._random.random() < 0.15 else "pt"
            if plan.address is not None:
                owner.email = plan.address
            if plan.has_account:
                owner.user = User(email=owner.email, name=owner.name, password=NO_PASSWORD, language=owner.language)
                users.append(owner.user)
        self._name_the_demo_owner(next(owner for owner, plan in zip(owners, plans, strict=True) if plan.has_account))
        User.objects.bulk_create(users)
        EmailAddress.objects.bulk_create(
            EmailAddress(user=user, email=user.email.lower(), primary=True, verified=True) for user in users
        )
        changed = ["language", "email", "user", "name", "kind"]  # an upsert: bulk_update is ten times slower
        Owner.objects.bulk_create(owners, update_conflicts=True, unique_fields=["id"], update_fields=changed)

    def _name_the_demo_owner(self, owner: Owner) -> None:
        owner.name, owner.email, _ = OWNER
        owner.kind, owner.language = Owner.Kind.PERSON, "en"
        if owner.user is not None:
            owner.user.name, owner.user.email, owner.user.language = owner.name, owner.email, "en"
            owner.user.set_password(self._sign_ins[owner.email].password)

    def _plan_one(self, site: Site, owner: Owner, plan: Plan) -> None:
        at = self._now - timedelta(days=plan.days_ago, minutes=int(self._random.random() * 1400) + 5)
        for purpose, state in plan.said.items():
            self._lines.append(self._line(site, owner, purpose, state, Evidence.STAFF_STATEMENT, at))
        if plan.state:
            self._invitations.append((self._invitation(site, owner, plan, at), plan, at))
        if plan.state == InvitationState.REPLACED:
            later = at + timedelta(minutes=REPLACED_AFTER)
            self._invitations.append((self._invitation(site, owner, SUCCESSOR, later), SUCCESSOR, later))
        for purpose, state in plan.confirmed.items():
            when = at + timedelta(hours=3, minutes=4)
            self._lines.append(self._line(site, owner, purpose, state, Evidence.OWNER_ONLINE, when))

    def _invitation(self, site: Site, owner: Owner, plan: Plan, at: datetime) -> Invitation:
        """An invitation as the acts left it. One that was taken back has no end any more."""
        batch = None
        if plan.in_batch:
            batch = InvitationBatch.objects.create(
                company=self._company, made_by=self._office, made_at=at, leaves_at=at + TAKEN_BACK_FOR
            )
        return Invitation(
            company=self._company,
            site=site,
            owner=owner,
            state=plan.state,
            held_reason=plan.held_reason,
            send_number=plan.sends,
            batch=batch,
            invited_by=self._office,
            created_at=at,
            expires_at=at + timedelta(days=30) if plan.was_sent or plan.waits else None,
            reminders=plan.reminders,
            sent_at=at + timedelta(minutes=1) if SENT in plan.timeline else None,
            opened_at=at + timedelta(hours=3) if plan.was_opened else None,
            accepted_at=at + timedelta(hours=3, minutes=4) if plan.has_account else None,
            ended_at=at + timedelta(minutes=plan.timeline[-1][0]) if plan.has_ended or plan.has_account else None,
        )

    def _line(self, site: Site, owner: Owner, purpose: str, state: str, evidence: str, at: datetime) -> Line:
        online = evidence == Evidence.OWNER_ONLINE
        return Line(
            site=site,
            owner=owner,
            purpose=purpose,
            state=state,
            evidence=evidence,
            at=at,
            indicated_by="owner",
            wording=self._wordings[owner.language].get(purpose),
            member=None if online else self._office,
            user=owner.user if online else self._office.user,
            role="owner" if online else "",
            on_behalf_of="" if online else str(owner.public_id),
            personal={"name": owner.name, "address": owner.email},
        )

    def _write_invitations(self, entries: list[ConsentEntry]) -> None:
        Invitation.objects.bulk_create([invitation for invitation, _plan, _at in self._invitations])
        own = Evidence.OWNER_ONLINE
        answers: dict[tuple[int, int], list[str]] = {}
        for entry in entries:
            if entry.evidence == own:
                answers.setdefault((entry.site_id, entry.owner_id), []).append(str(entry.entry_id))
        events, links, mails = [], [], []
        for invitation, plan, at in self._invitations:
            sent = mails_of(invitation, plan, at)
            events += self._events(invitation, plan, at)
            links += links_of(invitation, sent, self._random)
            mails += sent
            if plan.has_account:
                mails.append(receipt_of(invitation, answers[invitation.site_id, invitation.owner_id]))
            if plan.waits:
                self._put_off(invitation)
            self._trail += trail_of(invitation, plan, at, self._office, follows=plan is SUCCESSOR)
        InvitationEvent.objects.bulk_create(events)
        InvitationLink.objects.bulk_create(links)
        Delivery.objects.bulk_create(mails)

    def _events(self, invitation: Invitation, plan: Plan, at: datetime) -> list[InvitationEvent]:
        return [
            InvitationEvent(
                company=self._company,
                invitation=invitation,
                what=what,
                at=at + timedelta(minutes=minutes),
                member=self._office if what in BY_THE_OFFICE else None,
                facts={"reason": plan.held_reason} if what == "held" else {},
            )
            for minutes, what in ((0, "made"), *plan.timeline)
        ]

    def _put_off(self, invitation: Invitation) -> None:
        queue_delivery(
            stream=Stream.INVITATION,
            template=Stream.INVITATION,
            to_address=invitation.owner.email,
            language=invitation.owner.language,
            company=self._company,
            invitation=invitation,
            not_before=self._now + timedelta(days=1),
        )


def _around_sites(company: Company, field_member: Member) -> None:
    """What stands around some sites: assignments, handover checks, tags, planned sites."""
    sites = list(Site.objects.filter(company=company).order_by("pk")[:ASSIGNED])
    Assignment.objects.bulk_create(Assignment(company=company, member=field_member, site=site) for site in sites)
    HandoverCheck.objects.bulk_create(
        HandoverCheck(
            company=company,
            site=site,
            title=title,
            finding="done" if found else "open",
            found_by=field_member if found else None,
            found_at=timezone.now() if found else None,
        )
        for number, site in enumerate(sites)
        for order, title in enumerate(CHECKS)
        for found in [(number + order) % 3 != 0 and number < len(sites) - PLANNED]
    )
    tags = Tag.objects.bulk_create(Tag(company=company, name=name) for name in TAGS)
    through = Site.tags.through
    through.objects.bulk_create(
        through(site_id=site.pk, tag_id=tags[number % len(tags)].pk) for number, site in enumerate(sites)
    )
    _plan_only(company, sites[-PLANNED:])


def _plan_only(company: Company, sites: list[Site]) -> None:
    """What was to stand at these sites is only planned: a device that stands there would have made them installed."""
    standing = Placement.objects.filter(site__in=sites)
    devices = list(Device.objects.filter(placements__in=standing))
    ExpectedDevice.objects.bulk_create(
        ExpectedDevice(company=company, site_id=site, kind=kind, model_id=model)
        for site, kind, model in standing.order_by("pk").values_list("site", "device__kind", "device__model")
    )
    standing.delete()
    Device.objects.filter(pk__in=[device.pk for device in devices]).delete()
    Site.objects.filter(pk__in=[site.pk for site in sites]).update(
        stage=Stage.PLANNED, installed_on=None, handed_over_at=None
    )
