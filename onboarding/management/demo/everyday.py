"""What a week at the office leaves behind, done by the acts themselves: something on every page of the register."""

from datetime import timedelta
from uuid import uuid4

from django.utils import timezone

from fleet.labels.forms import Example
from fleet.models import Company, Member, Role, Scope, Site, Stage
from fleet.operations.captures import Capture
from fleet.operations.checks import record_check
from fleet.operations.files import store_file
from fleet.operations.label_forms import teach_form
from fleet.operations.link_domains import list_domain
from fleet.operations.members import invite_member
from fleet.operations.plans import plan_unit
from fleet.operations.scans import record_scan
from fleet.operations.tokens import issue_token
from onboarding.management.demo.label import label_picture
from onboarding.management.demo.people import OWNER
from onboarding.models import Ownership
from onboarding.operations.consents import OwnersWord
from onboarding.operations.sales import report_sale

NOTHING_BUT_A_SERIAL = "VR-20771"
TAUGHT = Example("TC;00417;BR-5", {"serial": "00417", "part_number": "BR-5"})


def leave_everyday_things(company: Company, *, administrator: Member, technician: Member) -> None:
    """Around the first sites of the technician, and in the company's own lists."""
    standing, other = _sites_of(technician)
    _at_sites(technician, standing, other)
    plan_unit(actor=administrator, site=other, kind="battery", serial="VB-31902", position="beside the inverter")
    _somebody_sells(company)
    teach_form(
        actor=administrator, name="Stores sticker", pattern=r"TC;(?P<serial>\d{5});(?P<part_number>[A-Z]+-\d+)",
        examples=[TAUGHT], counter_examples=["TC;417"],
    )  # fmt: skip
    list_domain(actor=administrator, domain="id.example.com")
    invite_member(actor=administrator, email="rui.valadouro@example.com", role=Role.FIELD, name="Rui Valadouro")
    issue_token(
        actor=administrator,
        name="Order desk",
        scopes=[Scope.SITES_READ],
        expires_at=timezone.now() + timedelta(days=90),
    )


def _sites_of(technician: Member) -> tuple[Site, Site]:
    sites = Site.objects.filter(assignments__member=technician).exclude(stage=Stage.RETIRED).order_by("pk")
    first, second = sites[:2]
    return first, second


def _at_sites(technician: Member, standing: Site, other: Site) -> None:
    record_check(
        actor=technician, site=standing, title="Cable entry sealed", finding="problem", note="Gland is cracked."
    )
    picture = label_picture(gtin="09520001000010", serial="VR-20770", model="Brisalume Ribeira 5")
    store_file(actor=technician, site=standing, name="label.png", content=picture, content_type="image/png")
    capture = Capture(
        id=uuid4(), site_code=other.code, raw=NOTHING_BUT_A_SERIAL, scanned_at=timezone.now(), source="typed"
    )
    record_scan(actor=technician, capture=capture)


def _somebody_sells(company: Company) -> None:
    ownership = (
        Ownership.objects.filter(company=company, until__isnull=True, owner__user__isnull=False)
        .exclude(owner__email=OWNER[1])
        .select_related("owner__user", "site__company")
        .order_by("pk")[0]
    )
    owner, site = ownership.owner, ownership.site
    if owner.user is not None:
        today = timezone.localdate(timezone=site.zone)
        report_sale(word=OwnersWord(user=owner.user), owner=owner, site=site, sold_on=today)
