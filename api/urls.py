"""URLs of the api package."""

from django.urls import URLPattern, path

from api.endpoints.catalogue import MakerMerge, Makers, Models, OneMaker, OneModel
from api.endpoints.consents import SiteConsents
from api.endpoints.devices import DeviceMoves, Devices, DeviceSwaps, OneDevice
from api.endpoints.field import Records, Session
from api.endpoints.invitations import Invitations, OneInvitation, ReadyOwners, SiteInvitations
from api.endpoints.labels import DecodeLabel
from api.endpoints.me import WhoAmI
from api.endpoints.scans import Scans
from api.endpoints.schema import Schema, reference
from api.endpoints.sightings import Sightings
from api.endpoints.sites import OneSite, SitePlan, Sites
from api.endpoints.unknown import Unknown

app_name = "api"
urlpatterns: list[URLPattern] = [
    path("v1/", reference, name="reference"),
    path("v1/schema", Schema.as_view(), name="schema"),
    path("v1/me", WhoAmI.as_view(), name="me"),
    path("v1/sites", Sites.as_view(), name="sites"),
    path("v1/sites/<str:code>", OneSite.as_view(), name="site"),
    path("v1/sites/<str:code>/plan", SitePlan.as_view(), name="site_plan"),
    path("v1/sites/<str:code>/consents", SiteConsents.as_view(), name="site_consents"),
    path("v1/sites/<str:code>/invitations", SiteInvitations.as_view(), name="site_invitations"),
    path("v1/invitations", Invitations.as_view(), name="invitations"),
    path("v1/invitations/ready", ReadyOwners.as_view(), name="ready_owners"),
    path("v1/invitations/<uuid:public_id>", OneInvitation.as_view(), name="invitation"),
    path("v1/devices", Devices.as_view(), name="devices"),
    path("v1/devices/<uuid:public_id>", OneDevice.as_view(), name="device"),
    path("v1/devices/<uuid:public_id>/moves", DeviceMoves.as_view(), name="device_moves"),
    path("v1/devices/<uuid:public_id>/swaps", DeviceSwaps.as_view(), name="device_swaps"),
    path("v1/catalogue/makers", Makers.as_view(), name="makers"),
    path("v1/catalogue/makers/<uuid:public_id>", OneMaker.as_view(), name="maker"),
    path("v1/catalogue/makers/<uuid:public_id>/merge", MakerMerge.as_view(), name="maker_merge"),
    path("v1/catalogue/models", Models.as_view(), name="models"),
    path("v1/catalogue/models/<uuid:public_id>", OneModel.as_view(), name="model"),
    path("v1/scans", Scans.as_view(), name="scans"),
    path("v1/sightings", Sightings.as_view(), name="sightings"),
    path("v1/labels/decode", DecodeLabel.as_view(), name="decode_label"),
    path("field/session", Session.as_view(), name="field_session"),
    path("field/records", Records.as_view(), name="field_records"),
    path("<path:rest>", Unknown.as_view(), name="unknown"),
]
