"""The catalogue: makers and models. Everybody of the company reads it, administrators change it."""

from dataclasses import replace
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import PUBLIC_ID, describe
from api.documents.catalogue import (
    CatalogueQuery,
    MakerChange,
    MakerDocument,
    MakerForm,
    MakerPage,
    MergeOrder,
    ModelChange,
    ModelDocument,
    ModelPage,
    NewModel,
)
from api.endpoint import Endpoint
from api.idempotency import answered_once
from api.paging import page_by_key
from api.targets import maker_named, model_named
from fleet.models import Maker, Member
from fleet.operations.device_models import ModelFacts, add_model, edit_model, facts_of_model
from fleet.operations.idempotency import Answer
from fleet.operations.makers import add_maker, edit_maker, merge_makers
from fleet.queries.catalogue import makers_of, models_of


class Makers(Endpoint):
    """The company's makers."""

    scopes = {"GET": "sites:read", "POST": "catalogue:write"}

    @describe(
        _("List makers"), tag="catalogue", operation_id="list_makers",
        query=CatalogueQuery, answers={200: MakerPage}, problems=(422,),
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        """A page of makers, newest first."""
        asked = self.asked(CatalogueQuery, request)
        page = page_by_key(
            makers_of(acting(request)), key="public_id", cursor=asked.get("cursor"), limit=asked["limit"]
        )
        return Response(page.document(request, lambda maker: MakerDocument(maker).data))

    @describe(
        _("Add a maker"), tag="catalogue", operation_id="add_maker",
        request=MakerForm, answers={201: MakerDocument}, creates=True,
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """A new maker."""
        given = self.parsed(MakerForm, request)
        return answered_once(request, lambda: _maker_added(acting(request), given))


class OneMaker(Endpoint):
    """One maker by its id."""

    scopes = {"GET": "sites:read", "PATCH": "catalogue:write"}

    @describe(
        _("Read a maker"), tag="catalogue", operation_id="read_maker",
        path=(PUBLIC_ID,), answers={200: MakerDocument}, problems=(404,),
    )  # fmt: skip
    def get(self, request: Request, public_id: UUID) -> Response:
        """The maker with its spellings."""
        return Response(MakerDocument(maker_named(request, public_id)).data)

    @describe(
        _("Change a maker's name or spellings"), tag="catalogue", operation_id="change_maker",
        path=(PUBLIC_ID,), request=MakerChange, answers={200: MakerDocument}, problems=(404, 409, 422),
    )  # fmt: skip
    def patch(self, request: Request, public_id: UUID) -> Response:
        """The changed maker."""
        maker, change = maker_named(request, public_id), self.parsed(MakerChange, request)
        spellings = change.get("spellings", [each.name for each in maker.spellings.all()])
        changed = edit_maker(
            actor=acting(request), maker=maker, name=change.get("name", maker.name), spellings=spellings
        )
        return Response(MakerDocument(changed).data)


class MakerMerge(Endpoint):
    """Making one of two makers that are written differently."""

    scopes = {"POST": "catalogue:write"}

    @describe(
        _("Make one of two makers; the name of this one stays known as a spelling"),
        tag="catalogue", operation_id="merge_maker",
        path=(PUBLIC_ID,), request=MergeOrder, answers={200: MakerDocument}, problems=(404, 409, 422),
    )  # fmt: skip
    def post(self, request: Request, public_id: UUID) -> Response:
        """The maker that stays."""
        maker, order = maker_named(request, public_id), self.parsed(MergeOrder, request)
        into = maker_named(request, order["into"])
        return Response(MakerDocument(merge_makers(actor=acting(request), maker=maker, into=into)).data)


class Models(Endpoint):
    """The company's models."""

    scopes = {"GET": "sites:read", "POST": "catalogue:write"}

    @describe(
        _("List models"), tag="catalogue", operation_id="list_models",
        query=CatalogueQuery, answers={200: ModelPage}, problems=(422,),
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        """A page of models, newest first."""
        asked = self.asked(CatalogueQuery, request)
        page = page_by_key(
            models_of(acting(request)), key="public_id", cursor=asked.get("cursor"), limit=asked["limit"]
        )
        return Response(page.document(request, lambda model: ModelDocument(model).data))

    @describe(
        _("Add a model"), tag="catalogue", operation_id="add_model",
        request=NewModel, answers={201: ModelDocument}, problems=(404,), creates=True,
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """A new model."""
        given = self.parsed(NewModel, request)
        maker = maker_named(request, given.pop("maker"))
        return answered_once(request, lambda: _model_added(acting(request), maker, given))


class OneModel(Endpoint):
    """One model by its id."""

    scopes = {"GET": "sites:read", "PATCH": "catalogue:write"}

    @describe(
        _("Read a model"), tag="catalogue", operation_id="read_model",
        path=(PUBLIC_ID,), answers={200: ModelDocument}, problems=(404,),
    )  # fmt: skip
    def get(self, request: Request, public_id: UUID) -> Response:
        """The model with its maker."""
        return Response(ModelDocument(model_named(request, public_id)).data)

    @describe(
        _("Change what the catalogue says of a model"), tag="catalogue", operation_id="change_model",
        path=(PUBLIC_ID,), request=ModelChange, answers={200: ModelDocument}, problems=(404, 409, 422),
    )  # fmt: skip
    def patch(self, request: Request, public_id: UUID) -> Response:
        """The changed model; what the request leaves out stays as it is."""
        model = model_named(request, public_id)
        facts = replace(facts_of_model(model), **_as_facts(self.parsed(ModelChange, request)))
        return Response(ModelDocument(edit_model(actor=acting(request), model=model, facts=facts)).data)


def _maker_added(actor: Member, given: dict[str, Any]) -> Answer:
    return Answer(201, MakerDocument(add_maker(actor=actor, **given)).data)


def _model_added(actor: Member, maker: Maker, given: dict[str, Any]) -> Answer:
    return Answer(201, ModelDocument(add_model(actor=actor, maker=maker, facts=ModelFacts(**_as_facts(given)))).data)


def _as_facts(given: dict[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in given.items()}
