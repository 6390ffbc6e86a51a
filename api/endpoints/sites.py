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
    ReferenceDocument,
    SiteCard,
    SiteChange,
    SiteDocument,
    SitePage,
    SiteQuery,
    StandingDevice,
)
from api.endpoint import Endpoint, each
from api.idempotency import answered_once
from api.paging import Page, offset_of, page_by_key, ranked_page
from api.reads import owners_of, sites_in_order, standing_at
from api.targets import site_named
from fleet.models import Member, Site
from fleet.operations.idempotency import Answer
from fleet.operations.sites import SiteFacts, edit_site, facts_of, register_site
from fleet.queries.visibility import visible_sites
from fleet.search import SiteFilters, find_sites


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
        facts = SiteFacts(**self.parsed(NewSite, request))
        return answered_once(request, lambda: _registered(acting(request), facts))


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
        return Response(
            {
                **SiteDocument(site).data,
                "references": each(ReferenceDocument, site.references.all()),
                "devices": each(StandingDevice, standing_at(site)),
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
        version = changes.pop("version")
        changed = edit_site(actor=acting(request), site=site, facts=facts_of(site, **changes), version=version)
        return Response(SiteDocument(changed).data)


def _registered(actor: Member, facts: SiteFacts) -> Answer:
    site: Site = register_site(actor=actor, facts=facts)
    return Answer(201, SiteDocument(site).data)
