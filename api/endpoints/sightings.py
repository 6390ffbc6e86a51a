"""Finding the site of a plate or of a device, by standing before it."""

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import describe
from api.documents.sightings import Sighting, SightingForm
from api.endpoint import Endpoint
from fleet.operations.scan_answers import device_document, site_document
from fleet.operations.sightings import sight


class Sightings(Endpoint):
    """Plates and devices that somebody stands before."""

    scopes = {"POST": "scans:write"}

    @describe(
        _("Find the site of a plate or device; a camera opens it to a field member for 30 days"), tag="scans",
        operation_id="sight_site", request=SightingForm, answers={200: Sighting}, problems=(404, 422),
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """The site that the label leads to."""
        found = sight(actor=acting(request), **self.parsed(SightingForm, request))
        device = device_document(found.device) if found.device else None
        return Response({"site": site_document(found.site), "device": device})
