"""Invitations: of one site, and all of them."""

from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import PUBLIC_ID, SITE_CODE, describe
from api.documents.invitations import (
    InvitationDocument,
    InvitationPage,
    InvitationQuery,
    NewInvitation,
    ReadyDocument,
    ReadyPage,
    ReadyQuery,
)
from api.endpoint import Endpoint
from api.idempotency import answered_once
from api.paging import page_by_key
from api.reads import invitations_of
from api.targets import invitation_named, owner_at, site_named
from fleet.models import Member, Site
from fleet.operations.idempotency import Answer
from onboarding.operations.invitations import queue_invitation
from onboarding.queries.ready import never_invited, ran_out


class SiteInvitations(Endpoint):
    """The invitations to the owners of one site."""

    scopes = {"GET": "sites:read", "POST": "invitations:write"}

    @describe(
        _("List the invitations of a site"), tag="invitations", operation_id="list_site_invitations",
        path=(SITE_CODE,), query=InvitationQuery, answers={200: InvitationPage}, problems=(404, 422),
    )  # fmt: skip
    def get(self, request: Request, code: str) -> Response:
        """A page of invitations, newest first."""
        asked = self.asked(InvitationQuery, request)
        rows = invitations_of(acting(request), site=site_named(request, code), state=asked.get("state", ""))
        page = page_by_key(rows, key="public_id", cursor=asked.get("cursor"), limit=asked["limit"])
        return Response(page.document(request, lambda invitation: InvitationDocument(invitation).data))

    @describe(
        _("Invite an owner"), tag="invitations", operation_id="invite_owner",
        path=(SITE_CODE,), request=NewInvitation, answers={201: InvitationDocument}, problems=(404,), creates=True,
    )  # fmt: skip
    def post(self, request: Request, code: str) -> Response:
        """The invitation: queued, or held with the reason, for instance while the permission to write is missing."""
        site = site_named(request, code)
        owner_id = self.parsed(NewInvitation, request)["owner"]
        return answered_once(request, lambda: _invited(acting(request), site, owner_id))


class Invitations(Endpoint):
    """The invitations of all sites that the member may see."""

    scopes = {"GET": "sites:read"}

    @describe(
        _("List invitations"), tag="invitations", operation_id="list_invitations",
        query=InvitationQuery, answers={200: InvitationPage}, problems=(422,),
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        """A page of invitations, newest first."""
        asked = self.asked(InvitationQuery, request)
        rows = invitations_of(acting(request), state=asked.get("state", ""))
        page = page_by_key(rows, key="public_id", cursor=asked.get("cursor"), limit=asked["limit"])
        return Response(page.document(request, lambda invitation: InvitationDocument(invitation).data))


class ReadyOwners(Endpoint):
    """Owners who may be written to and were never invited, or whose invitation ran out: the pages' own list."""

    scopes = {"GET": "sites:read"}

    @describe(
        _("List owners who are ready to be invited"), tag="invitations", operation_id="list_ready_owners",
        query=ReadyQuery, answers={200: ReadyPage}, problems=(422,),
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        """A page of owners with their site, newest first."""
        asked = self.asked(ReadyQuery, request)
        lists = {"never_invited": never_invited, "ran_out": ran_out}
        rows = lists[asked["reason"]](acting(request))
        page = page_by_key(rows, key="pk", cursor=asked.get("cursor"), limit=asked["limit"])
        return Response(page.document(request, lambda ready: ReadyDocument(ready).data))


class OneInvitation(Endpoint):
    """One invitation by its public id."""

    scopes = {"GET": "sites:read"}

    @describe(
        _("Read an invitation"), tag="invitations", operation_id="read_invitation",
        path=(PUBLIC_ID,), answers={200: InvitationDocument}, problems=(404,),
    )  # fmt: skip
    def get(self, request: Request, public_id: UUID) -> Response:
        """The invitation's state and times."""
        return Response(InvitationDocument(invitation_named(request, public_id)).data)


def _invited(actor: Member, site: Site, owner_id: UUID) -> Answer:
    invitation = queue_invitation(actor=actor, site=site, owner=owner_at(site, owner_id))
    return Answer(201, InvitationDocument(invitation).data)
