"""Sites as the API takes and gives them. Powers in kW and kWp, storage in kWh, degrees north and east."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.pages import PageQuery
from fleet.models import ExpectedDevice, Placement, Site, Stage
from fleet.models.catalogue import Kind
from fleet.models.site import SiteReference, Use
from fleet.moments import only_meant
from fleet.operations.plans import MOST_EXPECTED


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


def _expected() -> serializers.IntegerField:
    return serializers.IntegerField(min_value=0, max_value=MOST_EXPECTED, required=False, allow_null=True)


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
    installed_on = serializers.DateField(validators=[only_meant], required=False, allow_null=True)
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True, trim_whitespace=False)


class ReferenceForm(StrictForm):
    """A number by which others know the site."""

    kind = serializers.ChoiceField(choices=SiteReference.Kind.choices)
    value = serializers.CharField(max_length=80)


class ExpectedCounts(StrictForm):
    """How many of each kind will stand at the site: 0 says that none will, null that nobody said."""

    inverter = _expected()
    battery = _expected()
    communication = _expected()
    meter = _expected()
    backup_switch = _expected()
    optimiser = _expected()
    charge_point = _expected()
    other = _expected()


class SiteParts(SiteFields):
    """What people say about a site, with its numbers and what is planned there."""

    references = ReferenceForm(
        many=True, required=False, help_text=_("Order, meter point and the like; the list replaces the one stored.")
    )
    expected = ExpectedCounts(
        required=False, help_text=_("How many of each kind will stand there; kinds left out stay as they are.")
    )


class NewSite(SiteParts):
    """A site to register."""


class SiteChange(SiteParts):
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


class PlannedUnit(serializers.Serializer[Any]):
    """A unit of which a serial, a model or a place is planned."""

    kind = serializers.ChoiceField(choices=Kind.choices)
    maker = serializers.CharField(source="model.maker.name", default="", read_only=True)
    model = serializers.CharField(source="model.name", default="", read_only=True)
    serial = serializers.CharField()
    position = serializers.CharField()
    here = serializers.SerializerMethodField(help_text=_("Whether it was scanned here."))

    def get_here(self, unit: ExpectedDevice) -> bool:
        """Whether something at the site fulfils it."""
        return unit.fulfilled_by_id is not None


class PlanLineDocument(serializers.Serializer[Any]):
    """One kind that somebody spoke of, or of which something stands there."""

    kind = serializers.ChoiceField(choices=Kind.choices)
    expected = serializers.IntegerField(allow_null=True, help_text=_("0: none will; null: nobody said."))
    standing = serializers.IntegerField()


class PlanDocument(serializers.Serializer[Any]):
    """What is planned at a site."""

    lines = PlanLineDocument(many=True)
    units = PlannedUnit(many=True)


class UnitForm(StrictForm):
    """One more unit that will stand at the site."""

    kind = serializers.ChoiceField(choices=Kind.choices, required=False, help_text=_("Needed where no model is given."))
    model = serializers.UUIDField(required=False, allow_null=True, help_text=_("A model of the catalogue."))
    serial = serializers.CharField(max_length=253, required=False, allow_blank=True)
    position = serializers.CharField(max_length=80, required=False, allow_blank=True)


class PlanChange(StrictForm):
    """What changes in a plan."""

    counts = ExpectedCounts(required=False)
    take_off = serializers.CharField(
        max_length=253, required=False, help_text=_("The serial of a unit that is not planned any more.")
    )


class OwnerInBrief(serializers.Serializer[Any]):
    """An owner of the site now."""

    id = serializers.UUIDField(source="public_id")
    name = serializers.CharField()
    email = serializers.CharField()
    kind = serializers.CharField()


class SiteCard(SiteDocument):
    """One site with what stands there and who owns it."""

    references = ReferenceDocument(many=True)
    plan = PlanDocument()
    devices = StandingDevice(many=True)
    owners = OwnerInBrief(many=True)


class SitePage(serializers.Serializer[Any]):
    """A page of sites."""

    results = SiteDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))
