"""Explaining a label without writing anything."""

from django.conf import settings
from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import OpenApiRequest
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import describe
from api.documents.labels import LabelExplanation, LabelImage, LabelPayload
from api.endpoint import Endpoint
from api.explain import explanation
from api.json_body import JsonBody
from api.pictures import codes_of_picture
from fleet.operations.captures import read_codes


class DecodeLabel(Endpoint):
    """One label, as text or as a picture."""

    parser_classes = [JsonBody, MultiPartParser]
    longest_body = settings.UPLOAD_MAX_BYTES + 100_000

    @describe(
        _("Explain a label; nothing is written"), tag="labels", operation_id="decode_label",
        request={"application/json": LabelPayload, "multipart/form-data": OpenApiRequest(LabelImage)},
        answers={200: LabelExplanation}, problems=(422,),
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """The standard it follows, which element gave which fact, warnings, or where and why reading stopped."""
        codes = self._codes(request)
        return Response(explanation(read_codes(acting(request).company, codes), len(codes)))

    def _codes(self, request: Request) -> tuple[tuple[str, str], ...]:
        if (request.content_type or "").startswith("multipart/"):
            return codes_of_picture(self.parsed(LabelImage, request)["image"])
        values = self.parsed(LabelPayload, request)
        if "codes" in values:
            return tuple((code["raw"], code["format"]) for code in values["codes"])
        return ((values["payload"], values.get("symbology", "")),)
