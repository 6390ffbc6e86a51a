"""A device's page and what is done to one device."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.forms.devices import DescribeForm, FirmwareForm, MoveForm, WhatForm
from fleet.forms.refused import show_refusal
from fleet.models import Device, Member, Placement, Site
from fleet.operations.devices import describe_device, describe_unit, record_firmware
from fleet.operations.permissions import Act, may
from fleet.operations.placements import lead_inverter, move_device, retire_device, undo_placement
from fleet.operations.refusals import ActRefused, BadInput
from fleet.queries.device_page import device_by_id, device_record, placement_by_id
from fleet.queries.sites import site_by_code
from fleet.views.staff import one_act, staff_page


@require_safe
@staff_page
def device_page(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """What the device is, where it stands and stood, what was scanned and seen."""
    return _page(request, member, device_or_404(member, public_id))


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def move(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Move a device from the site where it stands to another."""
    device = device_or_404(member, public_id)
    form = MoveForm(request.POST or None, initial={"to_site": request.GET.get("to", "")[:20]})
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            site = site_by_code(member, form.cleaned_data["to_site"])
            try:
                if site is None:
                    raise UnknownTarget(field="to_site")
                move_device(actor=member, device=device, to_site=site)
            except ActRefused as refusal:
                status = show_refusal(form, refusal)
            else:
                messages.success(
                    request,
                    _("%(serial)s now stands at %(code)s.") % {"serial": device.serial, "code": site.written_code},
                )
                return redirect("fleet:site", site.code)
    record = device_record(member, device)
    return render(request, "fleet/device_move.html", {"form": form, "device": device, "record": record}, status=status)


@require_POST
@staff_page
def retire(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Take a device out of service for good."""
    device = device_or_404(member, public_id)
    done = _("Retired. %(serial)s keeps its history and stands nowhere any more.") % {"serial": device.serial}
    return one_act(request, lambda: retire_device(actor=member, device=device), done=done, then=_address(device))


@require_POST
@staff_page
def firmware(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Record the firmware that a device was seen to run."""
    device = device_or_404(member, public_id)
    version = request.POST.get("version", "")
    return one_act(
        request,
        lambda: record_firmware(actor=member, device=device, version=version),
        done=_("Firmware recorded."),
        then=_address(device),
    )


@require_POST
@staff_page
def describe(request: HttpRequest, member: Member, code: str, public_id: UUID) -> HttpResponse:
    """Say what a placed device is and where it stands."""
    placement = placement_or_404(member, code, public_id)
    form = DescribeForm(request.POST, member=member)
    if not form.is_valid():
        return _page(request, member, placement.device, describing=form, status=422)
    return one_act(
        request,
        lambda: describe_device(actor=member, placement=placement, **form.cleaned_data),
        done=_("Saved."),
        then=_address(placement.device),
    )


@require_POST
@staff_page
def describe_anywhere(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Say what a device is that stands nowhere now."""
    device = device_or_404(member, public_id)
    form = WhatForm(request.POST, member=member)
    if not form.is_valid():
        return _page(request, member, device, describing=form, status=422)
    return one_act(
        request,
        lambda: describe_unit(actor=member, device=device, **form.cleaned_data),
        done=_("Saved."),
        then=_address(device),
    )


@require_POST
@staff_page
def lead(request: HttpRequest, member: Member, code: str, public_id: UUID) -> HttpResponse:
    """This inverter leads; the others at the site follow."""
    placement = placement_or_404(member, code, public_id)
    done = _("%(serial)s leads now; the other inverters here follow.") % {"serial": placement.device.serial}
    return one_act(
        request, lambda: lead_inverter(actor=member, placement=placement), done=done, then=_site(placement.site)
    )


@require_POST
@staff_page
def undo(request: HttpRequest, member: Member, code: str, public_id: UUID) -> HttpResponse:
    """A placement made by mistake."""
    placement = placement_or_404(member, code, public_id)
    done = _("Undone. %(serial)s counts as never having stood here; the scan stays in the timeline.")
    return one_act(
        request,
        lambda: undo_placement(actor=member, placement=placement),
        done=done % {"serial": placement.device.serial},
        then=_site(placement.site),
    )


class UnknownTarget(BadInput):
    """No such site to move to."""

    code = "unknown_site"
    sentence = gettext_lazy(
        "There is no site with this code that you may see. The device stays where it is; check the code."
    )


def device_or_404(member: Member, public_id: UUID) -> Device:
    """The visible device with this public id."""
    device = device_by_id(member, public_id)
    if device is None:
        raise Http404
    return device


def placement_or_404(member: Member, code: str, public_id: UUID) -> Placement:
    """The visible placement with this public id."""
    placement = placement_by_id(member, code, public_id)
    if placement is None:
        raise Http404
    return placement


def _page(
    request: HttpRequest, member: Member, device: Device, *, describing: WhatForm | None = None, status: int = 200
) -> HttpResponse:
    record = device_record(member, device)
    if describing is None:
        known = {"kind": device.kind, "model": device.model.public_id if device.model else None}
        if record.standing:
            describing = DescribeForm(member=member, initial=known | {"position": record.standing.position})
        else:
            describing = WhatForm(member=member, initial=known)
    context = {
        "device": device,
        "record": record,
        "describing": describing,
        "firmware_form": FirmwareForm(),
        "may_retire": may(member, Act.RETIRE),
    }
    return render(request, "fleet/device.html", context, status=status)


def _address(device: Device) -> str:
    return reverse("fleet:device", args=[device.public_id])


def _site(site: Site) -> str:
    return reverse("fleet:site", args=[site.code])
