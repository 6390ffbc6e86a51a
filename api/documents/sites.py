"""Sites as the API takes and gives them. Powers in kW and kWp, storage in kWh, degrees north and east."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.pages import PageQuery
from fleet.models import Placement, Site, Stage
from fleet.models.catalogue import Kind
from fleet.models.site import SiteReference, Use


def _amount(help_text: Any) -> serializers.DecimalField:
    return serializers.DecimalField(
        max_digits=9, decimal_places=3, min_value=0, required=False, allow_null=True, coerce_to_string=False,
        help_text=help_text,
    )  # fmt: skip


def _degrees(most: int) -> serializers.DecimalField:
    return serializers.DecimalField(
        max_digits=9, decimal_places=6, min_value=-most, max_value=most, required=False, allow_null=True,
        coerce_to_string=False,
    )  # fmt: skip


def _number(help_text: Any = None) -> serializers.FloatField:
    return serializers.FloatField(allow_null=True, help_text=help_text)


class SiteFields(StrictForm):
    """What people say about a site."""

    street = serializers.CharField(max_length=160)
    house_number = serializers.CharField(max_length=20, required=False, allow_blank=True)
    postcode = serializers.CharField(max_length=16, required=False, allow_blank=True)
    town = serializers.CharField(max_length=100)
    region = serializers.CharField(max_length=100, required=False, allow_blank=True)
    country = serializers.RegexField(r"^[A-Z]{2}$", required=False, help_text=_("ISO 3166-1 alpha-2."))
    name = serializers.CharField(max_length=120, required=False, allow_blank=True)
    latitude = _degrees(90)
    longitude = _degrees(180)
    use = serializers.ChoiceField(choices=Use.choices, required=False)
    installed_kwp = _amount(_("Installed PV, kWp."))
    storage_kwh = _amount(_("Storage, kWh."))
    inverter_ac_kw = _amount(_("Inverter AC, kW."))
    phases = serializers.IntegerField(min_value=1, max_value=3, required=False, allow_null=True)
    export_limit_kw = _amount(_("Export limit, kW."))
    grid_rule = serializers.CharField(max_length=80, required=False, allow_blank=True)
    installed_on = serializers.DateField(required=False, allow_null=True)
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True, trim_whitespace=False)


class NewSite(SiteFields):
    """A site to register."""


class SiteChange(SiteFields):
    """Facts to change; what is left out stays. ``version`` is the one that was read."""

    street = serializers.CharField(max_length=160, required=False)
    town = serializers.CharField(max_length=100, required=False)
    version = serializers.IntegerField(
        min_value=1, max_value=2_000_000_000, help_text=_("As last read; another one is refused with stale_site.")
    )


class SiteQuery(PageQuery):
    """What the list of sites takes."""

    q = serializers.CharField(
        required=False, max_length=200, help_text=_("Words, a code, a serial, an address: ranked, best first.")
    )
    stage = serializers.ChoiceField(choices=Stage.choices, required=False)


class SiteDocument(serializers.Serializer[Any]):
    """One site in a list."""

    code = serializers.CharField(source="written_code", help_text=_("ABCD-EFGH."))
    name = serializers.CharField()
    street = serializers.CharField()
    house_number = serializers.CharField()
    postcode = serializers.CharField()
    town = serializers.CharField()
    region = serializers.CharField()
    country = serializers.CharField()
    latitude = _number()
    longitude = _number()
    time_zone = serializers.CharField()
    use = serializers.ChoiceField(choices=Use.choices)
    installed_kwp = _number(_("Installed PV, kWp."))
    storage_kwh = _number(_("Storage, kWh."))
    inverter_ac_kw = _number(_("Inverter AC, kW."))
    phases = serializers.IntegerField(allow_null=True)
    export_limit_kw = _number(_("Export limit, kW."))
    grid_rule = serializers.CharField()
    stage = serializers.ChoiceField(choices=Stage.choices)
    installed_on = serializers.DateField(allow_null=True)
    handed_over_at = serializers.DateTimeField(allow_null=True)
    retired_at = serializers.DateTimeField(allow_null=True)
    note = serializers.CharField()
    tags = serializers.SerializerMethodField()
    version = serializers.IntegerField()
    created_at = serializers.DateTimeField()
    updated_at = serializers.DateTimeField()

    def get_tags(self, site: Site) -> list[str]:
        """The names of the site's tags."""
        return sorted(tag.name for tag in site.tags.all())


class ReferenceDocument(serializers.Serializer[Any]):
    """A number by which others know the site."""

    kind = serializers.ChoiceField(choices=SiteReference.Kind.choices)
    value = serializers.CharField()


class StandingDevice(serializers.Serializer[Any]):
    """A device that stands at the site now."""

    id = serializers.UUIDField(source="device.public_id")
    kind = serializers.ChoiceField(source="device.kind", choices=Kind.choices)
    serial = serializers.CharField(source="device.serial")
    maker = serializers.CharField(source="device.model.maker.name", default="", read_only=True)
    model = serializers.CharField(source="device.model.name", default="", read_only=True)
    since = serializers.DateTimeField()
    bus_role = serializers.ChoiceField(choices=Placement.BusRole.choices, allow_blank=True)
    position = serializers.CharField()


class OwnerInBrief(serializers.Serializer[Any]):
    """An owner of the site now."""

    id = serializers.UUIDField(source="public_id")
    name = serializers.CharField()
    email = serializers.CharField()
    kind = serializers.CharField()


class SiteCard(SiteDocument):
    """One site with what stands there and who owns it."""

    references = ReferenceDocument(many=True)
    devices = StandingDevice(many=True)
    owners = OwnerInBrief(many=True)


class SitePage(serializers.Serializer[Any]):
    """A page of sites."""

    results = SiteDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))
