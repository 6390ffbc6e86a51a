"""The consent ledger of one site."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import SITE_CODE, describe
from api.documents.consents import ConsentDocument, ConsentPage, ConsentQuery, NewConsent, RecordedConsent
from api.endpoint import Endpoint
from api.idempotency import answered_once
from api.paging import page_by_key
from api.reads import entries_at
from api.targets import owner_at, site_named
from fleet.models import Member, Site
from fleet.operations.idempotency import Answer
from onboarding.operations.consents import record_consent
from onboarding.queries.effects import effect_of


class SiteConsents(Endpoint):
    """What the owners of one site agreed to."""

    scopes = {"GET": "sites:read", "POST": "consents:write"}

    @describe(
        _("List the consent entries of a site"), tag="consents", operation_id="list_consents",
        path=(SITE_CODE,), query=ConsentQuery, answers={200: ConsentPage}, problems=(404, 422),
    )  # fmt: skip
    def get(self, request: Request, code: str) -> Response:
        """A page of ledger lines, newest first."""
        asked = self.asked(ConsentQuery, request)
        rows = entries_at(site_named(request, code))
        page = page_by_key(rows, key="entry_id", cursor=asked.get("cursor"), limit=asked["limit"])
        return Response(page.document(request, lambda entry: ConsentDocument(entry).data))

    @describe(
        _("Record what an owner said about one purpose"), tag="consents", operation_id="record_consent",
        path=(SITE_CODE,), request=NewConsent, answers={201: RecordedConsent}, problems=(404,), creates=True,
    )  # fmt: skip
    def post(self, request: Request, code: str) -> Response:
        """The new ledger line; a staff statement permits the invitation only."""
        site = site_named(request, code)
        values = self.parsed(NewConsent, request)
        return answered_once(request, lambda: _recorded(acting(request), site, values))


def _recorded(actor: Member, site: Site, values: dict[str, Any]) -> Answer:
    said = {name: value for name, value in values.items() if name != "owner"}
    entry = record_consent(actor=actor, site=site, owner=owner_at(site, values["owner"]), **said)
    effect = effect_of(entry)
    return Answer(201, {**ConsentDocument(entry).data, "changed": effect.changed, "effect": effect.sentence})
