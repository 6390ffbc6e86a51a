"""URLs of the fleet package."""

from django.urls import URLPattern, path

from fleet.views import (
    catalogue,
    company,
    devices,
    field,
    field_import,
    handover,
    label_forms,
    makers,
    members,
    plans,
    scans,
    site_page,
    site_parts,
    swaps,
    tokens,
)
from fleet.views.appearance import appearance
from fleet.views.companies import act_for
from fleet.views.join import join
from fleet.views.measurement_pages import measurement_pages
from fleet.views.search import search
from fleet.views.site_forms import change_site, read_pasted_place
from fleet.views.sites import site_columns, site_filters, sites
from fleet.views.today import problems, today, waiting

app_name = "fleet"

SITE = "sites/<site_code:code>/"
SCAN = f"{SITE}scan/<uuid:client_id>/"
PLACEMENT = f"{SITE}placements/<uuid:public_id>/"
DEVICE = "devices/<uuid:public_id>/"
MODEL = "company/catalogue/models/<uuid:public_id>/"
MAKER = "company/catalogue/makers/<uuid:public_id>/"

urlpatterns: list[URLPattern] = [
    path("", today, name="today"),
    path("today/labels", waiting, name="labels_waiting"),
    path("today/problems", problems, name="problems"),
    path("search", search, name="search"),
    path("act-for", act_for, name="act_for"),
    path("appearance", appearance, name="appearance"),
    path("sites/", sites, name="sites"),
    path("sites/filters", site_filters, name="site_filters"),
    path("sites/columns", site_columns, name="site_columns"),
    path("sites/place", read_pasted_place, name="read_place"),
    path(SITE, site_page.site_page, name="site"),
    path(f"{SITE}edit", change_site, name="edit_site"),
    path(f"{SITE}plate", site_page.plate, name="plate"),
    path(f"{SITE}hand-over", handover.hand_over, name="hand_over"),
    path(f"{SITE}hand-over/take-back", handover.take_back, name="take_back_handover"),
    path(f"{SITE}retire", site_page.retire, name="retire_site"),
    path(f"{SITE}tags", site_page.tag, name="tag_site"),
    path(f"{SITE}checks", site_parts.check, name="record_check"),
    path(f"{SITE}assignments", site_parts.assign_to_site, name="assign"),
    path(f"{SITE}assignments/<uuid:public_id>/end", site_parts.unassign_from_site, name="unassign"),
    path(f"{SITE}plan", plans.plan, name="plan"),
    path(f"{SITE}plan/units", plans.add_unit, name="plan_unit"),
    path(f"{SITE}plan/units/take-off", plans.take_off, name="take_unit_off_plan"),
    path(f"{SITE}files", site_parts.add_file, name="add_file"),
    path("files/<uuid:public_id>", site_parts.file, name="file"),
    path(f"{SITE}scan", scans.scan, name="scan"),
    path(f"{SITE}by-hand", scans.by_hand, name="place_by_hand"),
    path(SCAN, scans.scan_result, name="scan_result"),
    path(f"{SCAN}confirm", scans.confirm_scan, name="confirm_scan"),
    path(f"{SCAN}one-code", scans.take_one_code, name="take_one_code"),
    path(f"{SCAN}move-here", scans.move_here, name="move_here"),
    path(f"{PLACEMENT}swap", swaps.swap, name="swap"),
    path(f"{PLACEMENT}lead", devices.lead, name="lead"),
    path(f"{PLACEMENT}describe", devices.describe, name="describe"),
    path(f"{PLACEMENT}undo", devices.undo, name="undo_placement"),
    path(DEVICE, devices.device_page, name="device"),
    path(f"{DEVICE}move", devices.move, name="move"),
    path(f"{DEVICE}retire", devices.retire, name="retire_device"),
    path(f"{DEVICE}describe", devices.describe_anywhere, name="describe_unit"),
    path(f"{DEVICE}firmware", devices.firmware, name="firmware"),
    path("field/", field.page, name="field"),
    path("field/sw.js", field.service_worker, name="field_service_worker"),
    path("field/page.js", field.script, name="field_script"),
    path("field/decoder.js", field.decoder, name="field_decoder"),
    path("field/import", field_import.import_file, name="field_import"),
    path("field/import/record", field_import.import_record, name="field_import_record"),
    path("field/manifest.webmanifest", field.manifest, name="field_manifest"),
    path("members/", members.members, name="members"),
    path("members/<uuid:public_id>/", members.member_page, name="member"),
    path("members/<uuid:public_id>/role", members.role, name="member_role"),
    path("members/<uuid:public_id>/deactivate", members.deactivate, name="deactivate_member"),
    path("members/invitations/<uuid:public_id>/cancel", members.cancel_invitation, name="cancel_member_invitation"),
    path("join/<str:token>", join, name="join"),
    path("tokens/", tokens.tokens, name="tokens"),
    path("tokens/<uuid:public_id>/revoke", tokens.revoke, name="revoke_token"),
    path("company/policy", company.policy, name="policy"),
    path("company/catalogue", catalogue.catalogue, name="catalogue"),
    path("company/catalogue/start", catalogue.start, name="start_catalogue"),
    path("company/catalogue/models/new", catalogue.new_model, name="new_catalogue_model"),
    path(MODEL, catalogue.model_page, name="catalogue_model"),
    path(f"{MODEL}remove", catalogue.remove, name="remove_model"),
    path("company/catalogue/makers/new", makers.new_maker, name="new_maker"),
    path(MAKER, makers.maker_page, name="maker"),
    path(f"{MAKER}merge", makers.merge, name="merge_maker"),
    path(f"{MAKER}remove", makers.remove, name="remove_maker"),
    path("company/measurements", measurement_pages, name="measurement_pages"),
    path("company/link-domains", company.link_domains, name="link_domains"),
    path("company/link-domains/unlist", company.unlist, name="unlist_domain"),
    path("company/label-forms", label_forms.label_forms, name="label_forms"),
    path("company/label-forms/new", label_forms.new_label_form, name="new_label_form"),
    path("company/label-forms/named/<str:name>", label_forms.label_form, name="label_form"),
    path("company/label-forms/named/<str:name>/switch", label_forms.switch, name="switch_label_form"),
]
