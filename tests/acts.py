"""Every act at a site, as tests call it: what it is done with, and what a retired site answers.

``ACTS`` names the acts of both packages that concern one site; ``ELSEWHERE`` the others, each with where it acts. A
public function of ``operations`` that takes an actor (or an owner's word) and stands in neither fails the suite.
"""

import inspect
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from importlib import import_module
from pkgutil import iter_modules
from typing import Any
from uuid import uuid4

from django.utils import timezone

import fleet.operations
import onboarding.operations
from fleet.models import Device, Kind, Member, Placement, Role, Site
from fleet.operations import (
    assignments,
    plans,
    scans,
    site_stages,
    sites,
)
from fleet.operations.field_entries import FieldEntry
from onboarding.operations import consents
from onboarding.operations.consents import OwnersWord
from onboarding.operations.owner_facts import facts_of as owner_facts_of
from onboarding.operations.wordings import seed_wordings
from tests.factories import (
    make_capture,
    make_company,
    make_contact_consent,
    make_invitation,
    make_member,
    make_owner,
    make_site,
    make_user,
)

PICTURE = b"\x89PNG\r\n\x1a\n" + bytes(40)


@dataclass
class Scene:
    """A site with two inverters, an owner who may be written to and was invited, and a second site beside it."""

    actor: Member = field(default_factory=lambda: make_member(make_company(), Role.ADMINISTRATOR))

    def __post_init__(self) -> None:
        seed_wordings(self.actor.company)
        self.site, self.other = make_site(self.actor), make_site(self.actor)
        self.placement, self.second = self._standing(self.site), self._standing(self.site)
        self.elsewhere = self._standing(self.other)
        self.colleague = make_member(self.actor.company, Role.FIELD)
        self.owner = make_owner(self.actor, self.site)
        self.invitation, self.token = make_invitation(self.actor, self.site, self.owner)
        self.newcomer = make_owner(self.actor, self.site)
        make_contact_consent(self.actor, self.site, self.newcomer)
        self.attachable = make_owner(self.actor, self.other)
        self.resident = make_owner(self.actor, self.site)
        self.resident.user = make_user()
        self.resident.save()
        self.word = OwnersWord(user=self.resident.user)
        assignments.assign(actor=self.actor, member=self.colleague, site=self.other)
        consents.confirm_consents(
            word=self.word, owner=self.resident, site=self.site, choices={"contact": True, "monitoring": True}
        )
        self.site.refresh_from_db()

    @property
    def device(self) -> Device:
        return self.placement.device

    def entry(self, kind: str, **content: Any) -> FieldEntry:
        """A record of the field page, made just now."""
        return FieldEntry(
            id=uuid4(), kind=kind, member=self.actor.public_id, made_at=timezone.now(), content=content,
            site_code=self.site.code,
        )  # fmt: skip

    def _standing(self, site: Site) -> Placement:
        placement = scans.record_scan(actor=self.actor, capture=make_capture(site)).scan.placement
        Device.objects.filter(pk=placement.device_id).update(kind=Kind.INVERTER)
        return Placement.objects.select_related("device", "site").get(pk=placement.pk)


@dataclass(frozen=True)
class Row:
    """How an act is done in a scene. ``retired`` is empty where a retired site refuses it, or says why it does not."""

    given: Callable[[Scene], dict[str, Any]]
    retired: str = ""
    before: Callable[[Scene], object] | None = None


def _swap(scene: Scene) -> dict[str, Any]:
    return {"old": scene.placement, "capture": make_capture(scene.site, scanned_at=timezone.now())}


def _by_hand(scene: Scene) -> dict[str, Any]:
    capture = make_capture(scene.site, "BY-HAND-1", format="", source="typed")
    return {"capture": capture, "kind": "meter", "position": "in the hall"}


def _confirmed(scene: Scene) -> dict[str, Any]:
    typed = make_capture(scene.site, "TYPED-1", format="", source="typed")
    asked = scans.record_scan(actor=scene.actor, capture=typed).scan
    return {"asked": asked, "capture": replace(typed, id=uuid4(), confirmed=True)}


def _consent(scene: Scene, state: str) -> dict[str, Any]:
    return {"site": scene.site, "owner": scene.newcomer, "purpose": "monitoring", "state": state,
            "how": "staff_statement"}  # fmt: skip


def _on_the_phone(scene: Scene) -> dict[str, Any]:
    said = {"owner": str(scene.newcomer.public_id), "purpose": "monitoring", "state": "given", "how": "staff_statement"}
    return {"entry": scene.entry("consent", **said)}


def _in_the_owners_hands(scene: Scene, **more: Any) -> dict[str, Any]:
    return {"actor": None, "word": scene.word, "owner": scene.resident, "site": scene.site, **more}


ENDS = "it only ends or takes away"

ACTS: dict[str, Row] = {
    "fleet.operations.sites.edit_site": Row(
        lambda s: {"site": s.site, "facts": sites.facts_of(s.site, note="x"), "version": s.site.version}
    ),
    "fleet.operations.sites.tag_site": Row(lambda s: {"site": s.site, "names": ["north"]}),
    "fleet.operations.site_stages.hand_over_site": Row(lambda s: {"site": s.site}),
    "fleet.operations.site_stages.take_back_handover": Row(
        lambda s: {"site": s.site}, before=lambda s: site_stages.hand_over_site(actor=s.actor, site=s.site)
    ),
    "fleet.operations.site_stages.retire_site": Row(
        lambda s: {"site": s.site}, before=lambda s: Placement.objects.filter(site=s.site).update(site=s.other)
    ),
    "fleet.operations.plans.state_plan": Row(lambda s: {"site": s.site, "counts": {"battery": 2, "meter": 0}}),
    "fleet.operations.plans.plan_unit": Row(lambda s: {"site": s.site, "kind": "battery", "serial": "B-1"}),
    "fleet.operations.plans.take_unit_off_plan": Row(
        lambda s: {"site": s.site, "serial": "B-1"},
        before=lambda s: plans.plan_unit(actor=s.actor, site=s.site, kind="battery", serial="B-1"),
    ),
    "fleet.operations.plans.change_plan": Row(lambda s: {"site": s.site, "counts": {"battery": 2}}),
    "fleet.operations.references.state_references": Row(
        lambda s: {"site": s.site, "references": [("order", "A-1")]}
    ),
    "fleet.operations.site_changes.save_site": Row(
        lambda s: {"site": s.site, "facts": sites.facts_of(s.site, note="y"), "version": s.site.version,
                   "references": [("order", "A-2")], "counts": {"battery": 1}}
    ),
    "fleet.operations.plates.print_plate": Row(lambda s: {"site": s.site}),
    "fleet.operations.checks.record_check": Row(lambda s: {"site": s.site, "title": "Labels", "finding": "done"}),
    "fleet.operations.assignments.assign": Row(lambda s: {"site": s.site, "member": s.colleague}),
    "fleet.operations.assignments.unassign": Row(
        lambda s: {"site": s.site, "member": s.colleague}, retired=ENDS,
        before=lambda s: assignments.assign(actor=s.actor, member=s.colleague, site=s.site),
    ),
    "fleet.operations.files.store_file": Row(
        lambda s: {"site": s.site, "name": "roof", "content": PICTURE, "content_type": "image/png"}
    ),
    "fleet.operations.scans.record_scan": Row(
        lambda s: {"capture": make_capture(s.site)}, retired="the scan is kept and answered: refused, site_retired"
    ),
    "fleet.operations.by_hand.place_by_hand": Row(
        _by_hand, retired="the scan is kept and answered: refused, site_retired"
    ),
    "fleet.operations.unit_doubts.confirm_label": Row(
        _confirmed, retired="the scan is kept and answered: refused, site_retired"
    ),
    "fleet.operations.sightings.sight": Row(
        lambda s: {"raw": f"http://127.0.0.1:8000/s/{s.site.code}", "format": "]Q1"},
        retired="it opens the record to read",
    ),
    "fleet.operations.placements.move_device": Row(lambda s: {"device": s.elsewhere.device, "to_site": s.site}),
    "fleet.operations.placements.swap_device": Row(_swap),
    "fleet.operations.placements.undo_placement": Row(lambda s: {"placement": s.placement}),
    "fleet.operations.placements.lead_inverter": Row(lambda s: {"placement": s.placement}),
    "fleet.operations.placements.retire_device": Row(
        lambda s: {"device": s.device}, retired="a device's end is not the site's; nothing stands at a retired one"
    ),
    "fleet.operations.devices.describe_device": Row(
        lambda s: {"placement": s.placement, "kind": "battery", "position": "left"}
    ),
    "fleet.operations.devices.describe_unit": Row(lambda s: {"device": s.device, "kind": "battery"}),
    "fleet.operations.devices.record_firmware": Row(
        lambda s: {"device": s.device, "version": "2.1"}, retired="it is about the device, wherever it is"
    ),
    "fleet.operations.field_kinds.take_scan": Row(
        lambda s: {"entry": s.entry("scan", raw="010952012345678821SN99", format="]d2", source="camera")},
        retired="the scan is kept and answered: refused, site_retired",
    ),
    "fleet.operations.field_kinds.take_sight": Row(
        lambda s: {"entry": s.entry("sight", raw=f"http://127.0.0.1:8000/s/{s.site.code}", source="camera")},
        retired="it opens the record to read",
    ),
    "fleet.operations.field_kinds.take_check": Row(
        lambda s: {"entry": s.entry("check", title="Labels", finding="done")}
    ),
    "fleet.operations.field_kinds.take_file": Row(
        lambda s: {"entry": s.entry("file", name="roof", content_type="image/png", data=_base64(PICTURE))}
    ),
    "fleet.operations.field_records.take_record": Row(
        lambda s: {"entry": s.entry("check", title="Labels", finding="done")}
    ),
    "onboarding.operations.field_consents.take_consent": Row(_on_the_phone),
    "onboarding.operations.owners.register_owner": Row(lambda s: {"site": s.site, "name": "Rita Exemplo"}),
    "onboarding.operations.owners.attach_owner": Row(lambda s: {"site": s.site, "owner": s.attachable}),
    "onboarding.operations.owners.edit_owner": Row(
        lambda s: {"site": s.site, "owner": s.owner, "facts": replace(owner_facts_of(s.owner), email="new@example.net")}
    ),
    "onboarding.operations.owners.end_ownership": Row(lambda s: {"site": s.site, "owner": s.owner}, retired=ENDS),
    "onboarding.operations.erasure.erase_owner": Row(lambda s: {"owner": s.owner}, retired=ENDS),
    "onboarding.operations.consents.record_consent": Row(lambda s: _consent(s, "given")),
    "onboarding.operations.consents.record_consent (a no)": Row(lambda s: _consent(s, "refused"), retired=ENDS),
    "onboarding.operations.consents.confirm_consents": Row(
        lambda s: _in_the_owners_hands(s, choices={"home_network": True})
    ),
    "onboarding.operations.consents.confirm_consents (a no)": Row(
        lambda s: _in_the_owners_hands(s, choices={"home_network": False}), retired=ENDS
    ),
    "onboarding.operations.consents.withdraw_consent": Row(
        lambda s: _in_the_owners_hands(s, purpose="monitoring"), retired=ENDS
    ),
    "onboarding.operations.owners_own.name_second_owner": Row(
        lambda s: _in_the_owners_hands(s, name="Rui Exemplo", email="rui@example.net", language="en")
    ),
    "onboarding.operations.owners_own.edit_own_facts": Row(
        lambda s: {"actor": None, "word": s.word, "owner": s.resident, "phone": "+351 210 000 000",
                   "postal_address": "", "language": "en"},
        retired="what an owner says of themselves is not the site's",
    ),
    "onboarding.operations.invitations.queue_invitation": Row(lambda s: {"site": s.site, "owner": s.newcomer}),
    "onboarding.operations.invitations.resend_invitation": Row(lambda s: {"invitation": s.invitation}),
    "onboarding.operations.invitations.remind": Row(lambda s: {"invitation": s.invitation}),
    "onboarding.operations.invitations.print_letter": Row(lambda s: {"site": s.site, "owner": s.newcomer}),
    "onboarding.operations.invitations.cancel_invitation": Row(lambda s: {"invitation": s.invitation}, retired=ENDS),
}  # fmt: skip

WITHIN = "within another act, which stands in the table"
COMPANY = "the company as a whole"
ELSEWHERE = {
    "fleet.operations.audit.record_act": WITHIN,
    "onboarding.operations.invitation_batches.weigh": "it only counts; a retired site's owners are not ready",
    "onboarding.operations.invitation_batches.invite_several": "each by queue_invitation",
    "onboarding.operations.invitation_batches.take_back": "it only ends or takes away, at the sites of one press",
    "fleet.operations.device_models.add_model": COMPANY,
    "fleet.operations.device_models.edit_model": COMPANY,
    "fleet.operations.device_models.remove_model": COMPANY,
    "fleet.operations.makers.add_maker": COMPANY,
    "fleet.operations.makers.edit_maker": COMPANY,
    "fleet.operations.makers.merge_makers": COMPANY,
    "fleet.operations.makers.remove_maker": COMPANY,
    "fleet.operations.starter_lists.take_starter_list": COMPANY,
    "fleet.operations.idempotency.answer_once": "whatever it wraps",
    "fleet.operations.idempotency.forget_old_answers": "the member's own answers",
    "fleet.operations.label_forms.switch_form": COMPANY,
    "fleet.operations.label_forms.teach_form": COMPANY,
    "fleet.operations.link_domains.list_domain": COMPANY,
    "fleet.operations.link_domains.unlist_domain": COMPANY,
    "fleet.operations.members.cancel_member_invitation": COMPANY,
    "fleet.operations.members.change_role": COMPANY,
    "fleet.operations.members.deactivate_member": COMPANY,
    "fleet.operations.members.invite_member": COMPANY,
    "fleet.operations.policy.decide_policy": COMPANY,
    "fleet.operations.sites.register_site": "a site that is not there yet",
    "onboarding.operations.registering.register_whole_site": "a site that is not there yet",
    "fleet.operations.tokens.issue_token": COMPANY,
    "fleet.operations.tokens.revoke_token": COMPANY,
    "onboarding.operations.consent_lines.end_by_system": WITHIN,
    "onboarding.operations.consent_lines.write_lines": WITHIN,
    "onboarding.operations.sales.keep_owner": "it only settles a message; nothing is added to the site",
    "onboarding.operations.sales.report_sale": "it tells of an end, which a retired site may see as well",
    "onboarding.operations.sales.settle_sale": WITHIN,
    "onboarding.operations.sales.take_back_sale": "it only takes away what its owner said",
    "onboarding.operations.several_invitations.act_on_several": "each by the act of one, which stands in the table",
    "onboarding.operations.several_invitations.weigh_several": "it rolls back whatever it tried",
    "fleet.operations.field_seals.open_seal": "it only reads a file",
    "fleet.operations.measurement_pages.set_measurement_page": COMPANY,
    "fleet.operations.site_columns.choose_site_columns": "the member's own list",
    "onboarding.operations.consents.record_co_owners_word": WITHIN,
    "onboarding.operations.invitations.replace_invitation": WITHIN,
    "onboarding.operations.owner_facts.audit_owner": WITHIN,
    "onboarding.operations.settling.settle_unknown": "a mail that left before",
    "onboarding.operations.suppressions.lift_suppression": COMPANY,
    "onboarding.operations.suppressions.suppress": COMPANY,
    "onboarding.operations.wordings.publish_wording": COMPANY,
}


def every_act() -> dict[str, Callable[..., Any]]:
    """The public functions of both packages' operations that somebody does: a member, or an owner by their word."""
    return {f"{act.__module__}.{act.__name__}": act for act in _public_functions() if _is_an_act(act)}


def act_named(name: str) -> Callable[..., Any]:
    """The act of a row."""
    module, _, function = name.partition(" (")[0].rpartition(".")
    act: Callable[..., Any] = getattr(import_module(module), function)
    return act


def arguments(row: Row, scene: Scene) -> dict[str, Any]:
    """What the act of a row is called with: by the scene's administrator unless it is the owner's own."""
    given = {"actor": scene.actor} | row.given(scene)
    return {name: value for name, value in given.items() if name != "actor" or value is not None}


def _public_functions() -> Iterator[Callable[..., Any]]:
    for package in (fleet.operations, onboarding.operations):
        for found in iter_modules(package.__path__, f"{package.__name__}."):
            module = import_module(found.name)
            for name, function in vars(module).items():
                here = inspect.isfunction(function) and function.__module__ == module.__name__
                if here and not name.startswith("_"):
                    yield function


def _is_an_act(function: Callable[..., Any]) -> bool:
    by_keyword = {
        name for name, each in inspect.signature(function).parameters.items() if each.kind is each.KEYWORD_ONLY
    }
    return bool(by_keyword & {"actor", "word"})


def _base64(content: bytes) -> str:
    import base64

    return base64.b64encode(content).decode()
