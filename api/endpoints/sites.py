"""Sites: list, find, read, register, change."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import SITE_CODE, describe
from api.documents.sites import (
    NewSite,
    OwnerInBrief,
    PlanChange,
    PlanDocument,
    ReferenceDocument,
    SiteCard,
    SiteChange,
    SiteDocument,
    SitePage,
    SiteQuery,
    StandingDevice,
    UnitForm,
)
from api.endpoint import Endpoint, each
from api.idempotency import answered_once
from api.paging import Page, offset_of, page_by_key, ranked_page
from api.reads import owners_of, sites_in_order, standing_at
from api.targets import model_named, site_named
from fleet.models import Member, Site
from fleet.operations.idempotency import Answer
from fleet.operations.plans import change_plan, plan_unit
from fleet.operations.references import Reference
from fleet.operations.site_changes import save_site
from fleet.operations.sites import SiteFacts, facts_of
from fleet.queries.plans import plan_of
from fleet.queries.visibility import visible_sites
from fleet.search import SiteFilters, find_sites
from onboarding.operations.registering import register_whole_site


class Sites(Endpoint):
    """The sites that the member may see."""

    scopes = {"GET": "sites:read", "POST": "sites:write"}

    @describe(
        _("List sites, or find them by any scrap with q"), tag="sites", operation_id="list_sites",
        query=SiteQuery, answers={200: SitePage}, problems=(422,),
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        """A page of sites: newest first, or best first where ``q`` ranks."""
        asked = self.asked(SiteQuery, request)
        member, limit = acting(request), asked["limit"]
        if "q" in asked:
            page = self._found(member, asked)
        else:
            rows = visible_sites(member).prefetch_related("tags")
            if "stage" in asked:
                rows = rows.filter(stage=asked["stage"])
            page = page_by_key(rows, key="code", cursor=asked.get("cursor"), limit=limit)
        return Response(page.document(request, lambda site: SiteDocument(site).data))

    def _found(self, member: Member, asked: dict[str, Any]) -> Page[Site]:
        offset, limit = offset_of(asked.get("cursor")), asked["limit"]
        filters = SiteFilters(stage=(asked["stage"],) if "stage" in asked else ())
        found = find_sites(member=member, text=asked["q"], filters=filters, limit=limit + 1, offset=offset)
        return ranked_page(sites_in_order([row.site_id for row in found.rows]), offset=offset, limit=limit)

    @describe(
        _("Register a site"), tag="sites", operation_id="register_site",
        request=NewSite, answers={201: SiteDocument}, creates=True,
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """A new planned site with a fresh code."""
        given = self.parsed(NewSite, request)
        return answered_once(request, lambda: _registered(acting(request), given))


class OneSite(Endpoint):
    """One site by its code."""

    scopes = {"GET": "sites:read", "PATCH": "sites:write"}

    @describe(
        _("Read a site with its devices and owners"), tag="sites", operation_id="read_site",
        path=(SITE_CODE,), answers={200: SiteCard}, problems=(404,),
    )  # fmt: skip
    def get(self, request: Request, code: str) -> Response:
        """The site's card."""
        site = site_named(request, code)
        standing = list(standing_at(site))
        return Response(
            {
                **SiteDocument(site).data,
                "references": each(ReferenceDocument, site.references.all()),
                "plan": PlanDocument(plan_of(site, standing)).data,
                "devices": each(StandingDevice, standing),
                "owners": each(OwnerInBrief, owners_of(site)),
            }
        )

    @describe(
        _("Change facts of a site"), tag="sites", operation_id="change_site",
        path=(SITE_CODE,), request=SiteChange, answers={200: SiteDocument}, problems=(404, 409, 422),
    )  # fmt: skip
    def patch(self, request: Request, code: str) -> Response:
        """The changed site; what the request leaves out stays as it is."""
        site = site_named(request, code)
        changes = self.parsed(SiteChange, request)
        version, numbers, counts = changes.pop("version"), _references(changes), changes.pop("expected", None)
        changed = save_site(
            actor=acting(request), site=site, facts=facts_of(site, **changes), version=version,
            references=numbers, counts=counts,
        )  # fmt: skip
        return Response(SiteDocument(changed).data)


class SitePlan(Endpoint):
    """What is planned at one site."""

    scopes = {"GET": "sites:read", "POST": "sites:write", "PATCH": "sites:write"}

    @describe(
        _("Read what is planned at a site"), tag="sites", operation_id="read_plan",
        path=(SITE_CODE,), answers={200: PlanDocument}, problems=(404,),
    )  # fmt: skip
    def get(self, request: Request, code: str) -> Response:
        """Kind by kind, and the single units."""
        return Response(PlanDocument(plan_of(site_named(request, code))).data)

    @describe(
        _("Say how many of a kind will stand at a site, or take a unit off"), tag="sites", operation_id="change_plan",
        path=(SITE_CODE,), request=PlanChange, answers={200: PlanDocument}, problems=(404, 409, 422),
    )  # fmt: skip
    def patch(self, request: Request, code: str) -> Response:
        """The plan as it is now; kinds left out stay."""
        site, change = site_named(request, code), self.parsed(PlanChange, request)
        change_plan(
            actor=acting(request), site=site, counts=change.get("counts", {}), take_off=change.get("take_off", "")
        )
        return Response(PlanDocument(plan_of(site)).data)

    @describe(
        _("Plan one more unit at a site"), tag="sites", operation_id="plan_unit",
        path=(SITE_CODE,), request=UnitForm, answers={201: PlanDocument}, problems=(404,), creates=True,
    )  # fmt: skip
    def post(self, request: Request, code: str) -> Response:
        """The plan with the unit."""
        site, unit = site_named(request, code), self.parsed(UnitForm, request)
        unit["model"] = model_named(request, unit["model"]) if unit.get("model") else None
        unit.setdefault("kind", "")
        return answered_once(request, lambda: _planned(acting(request), site, unit))


def _references(given: dict[str, Any]) -> list[Reference] | None:
    numbers = given.pop("references", None)
    return None if numbers is None else [(number["kind"], number["value"]) for number in numbers]


def _registered(actor: Member, given: dict[str, Any]) -> Answer:
    facts = dict(given)
    numbers, counts = _references(facts) or (), facts.pop("expected", {})
    site = register_whole_site(actor=actor, facts=SiteFacts(**facts), references=numbers, counts=counts)
    return Answer(201, SiteDocument(site).data)


def _planned(actor: Member, site: Site, unit: dict[str, Any]) -> Answer:
    plan_unit(actor=actor, site=site, **unit)
    return Answer(201, PlanDocument(plan_of(site)).data)
