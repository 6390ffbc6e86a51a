"""Explaining a label without writing anything."""

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import describe
from api.documents.labels import LabelExplanation, LabelPayload
from api.endpoint import Endpoint
from api.explain import explanation
from fleet.operations.captures import read_codes


class DecodeLabel(Endpoint):
    """One label, as text."""

    @describe(
        _("Explain a label; nothing is written"), tag="labels", operation_id="decode_label",
        request=LabelPayload,
        answers={200: LabelExplanation}, problems=(422,),
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """The standard it follows, which element gave which fact, warnings, or where and why reading stopped."""
        codes = self._codes(request)
        return Response(explanation(read_codes(acting(request).company, codes), len(codes)))

    def _codes(self, request: Request) -> tuple[tuple[str, str], ...]:
        values = self.parsed(LabelPayload, request)
        if "codes" in values:
            return tuple((code["raw"], code["format"]) for code in values["codes"])
        return ((values["payload"], values.get("symbology", "")),)
