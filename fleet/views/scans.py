"""The plain scan page: hand in one label, see what was read and what came of it, and decide what only a person can."""

from dataclasses import replace
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.field_page import NOTICED_SKEW
from fleet.forms.devices import DescribeForm
from fleet.forms.refused import show_refusal
from fleet.forms.scans import ByHandForm, LabelForm, confirmation_id
from fleet.models import Device, Member, Outcome, Scan, Site
from fleet.operations.by_hand import place_by_hand
from fleet.operations.captures import Capture
from fleet.operations.placements import move_device
from fleet.operations.refusals import ActRefused, NotThere
from fleet.operations.scan_answers import ScanAnswer, candidate_document, reason_sentence
from fleet.operations.scans import RecordMismatch, record_scan
from fleet.operations.unit_doubts import confirm_label
from fleet.queries.catalogue import hints_for
from fleet.queries.device_page import scan_by_id
from fleet.queries.devices import in_doubt
from fleet.views.paths import site_or_404
from fleet.views.readings import facts_read, place_of_refusal, visible, warnings_of
from fleet.views.staff import one_act, staff_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def scan(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Take one label for a site and go to what came of it."""
    site = site_or_404(member, code)
    if request.method != "POST":
        return _scan_page(request, site, LabelForm(company=member.company))
    form = LabelForm(request.POST, request.FILES, company=member.company)
    if not form.is_valid():
        return _scan_page(request, site, form, 422)
    try:
        answer = record_scan(actor=member, capture=form.capture(site))
    except RecordMismatch:
        return _sent_already(request, member, site, form.cleaned_data["record"])
    except ActRefused as refusal:
        return _scan_page(request, site, form, _refused(form, refusal))
    return redirect(_result(answer))


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def by_hand(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Place a device that a person states, and go to what came of it."""
    site = site_or_404(member, code)
    form = ByHandForm(request.POST or None, member=member)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            said = {name: form.cleaned_data[name] for name in ("kind", "model", "position")}
            try:
                answer = place_by_hand(actor=member, capture=form.capture(site), **said)
            except RecordMismatch:
                return _sent_already(request, member, site, form.cleaned_data["record"])
            except ActRefused as refusal:
                status = _refused(form, refusal)
            else:
                return redirect(_result(answer))
    return render(request, "fleet/place_by_hand.html", {"site": site, "form": form}, status=status)


@require_safe
@staff_page
def scan_result(request: HttpRequest, member: Member, code: str, client_id: UUID) -> HttpResponse:
    """What was read of a label, what came of it, and the next step."""
    found = _scan_or_404(member, code, client_id)
    payloads = [found.payload, *(raw for raw, _symbology in found.reading.get("further_codes", []))]
    context = {
        "site": found.site,
        "scan": found,
        "sentence": ScanAnswer(scan=found, repeated=True).document["sentence"],
        "why": reason_sentence(found),
        "facts": facts_read(found.reading),
        "elements": found.reading.get("elements", []),
        "warnings": warnings_of(found.reading),
        "place": place_of_refusal(found.reading, payloads),
        "payloads": [visible(payload) for payload in payloads if payload],
        "single_codes": len(payloads) > 1 and found.outcome == Outcome.REFUSED,
        "asks": found.outcome == Outcome.CONFIRM or in_doubt(found),
        "in_doubt": in_doubt(found),
        "clock_was": found.scanned_at - found.skew if found.skew and abs(found.skew) >= NOTICED_SKEW else None,
        "candidates": _candidates(member, found),
        "other_site": found.answer.get("other_site"),
        "describing": _describing(member, found),
    }
    return render(request, "fleet/scan_result.html", context)


@require_POST
@staff_page
def confirm_scan(request: HttpRequest, member: Member, code: str, client_id: UUID) -> HttpResponse:
    """A person has compared the reading with the label: link it, as a device of its own or as a known one."""
    asked = _scan_or_404(member, code, client_id)
    choice = request.POST.get("device", "")
    try:
        answer = confirm_label(actor=member, asked=asked, capture=_confirmed(asked, choice))
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        messages.error(request, str(refusal.sentence))
        return redirect("fleet:scan_result", asked.site.code, asked.client_id)
    return redirect(_result(answer))


@require_POST
@staff_page
def take_one_code(request: HttpRequest, member: Member, code: str, client_id: UUID) -> HttpResponse:
    """Of a label whose codes contradict each other, take one code alone."""
    asked = _scan_or_404(member, code, client_id)
    codes = [(asked.payload, asked.symbology), *map(tuple, asked.reading.get("further_codes", []))]
    number = request.POST.get("number", "")
    if not number.isdecimal() or not 1 <= int(number) <= len(codes):
        raise Http404
    raw, symbology = codes[int(number) - 1]
    capture = replace(
        _confirmed(asked, f"code {number}"), raw=raw, format=symbology, more=(), confirmed=False, meant_device=None
    )
    try:
        answer = record_scan(actor=member, capture=capture)
    except ActRefused as refusal:
        messages.error(request, str(refusal.sentence))
        return redirect("fleet:scan_result", asked.site.code, asked.client_id)
    return redirect(_result(answer))


@require_POST
@staff_page
def move_here(request: HttpRequest, member: Member, code: str, client_id: UUID) -> HttpResponse:
    """The scanned device really is here: move it from where the register had it."""
    asked = _scan_or_404(member, code, client_id)
    if asked.device is None:
        raise Http404
    device: Device = asked.device
    return one_act(
        request,
        lambda: move_device(actor=member, device=device, to_site=asked.site),
        done=_("%(serial)s now stands here.") % {"serial": device.serial},
        then=reverse("fleet:site", args=[asked.site.code]),
    )


def _confirmed(asked: Scan, choice: str) -> Capture:
    try:
        meant = UUID(choice) if choice else None
    except ValueError:
        meant = None
    return Capture(
        id=confirmation_id(asked.client_id, choice),
        site_code=asked.site.code,
        raw=asked.payload,
        format=asked.symbology,
        more=tuple((raw, symbology) for raw, symbology in asked.reading.get("further_codes", [])),
        scanned_at=asked.scanned_at,
        source=asked.source,
        confirmed=True,
        meant_device=meant,
        another_unit=meant is None and (bool(asked.answer.get("candidates")) or in_doubt(asked)),
    )


def _candidates(member: Member, found: Scan) -> list[dict[str, Any]]:
    """The devices that a person chooses from."""
    if in_doubt(found) and found.device is not None:
        return [candidate_document(member, found.device, "same")]
    candidates: list[dict[str, Any]] = found.answer.get("candidates", [])
    return candidates


def _scan_page(request: HttpRequest, site: Site, form: LabelForm, status: int = 200) -> HttpResponse:
    context = {"site": site, "form": form, "hints": hints_for(site)}
    return render(request, "fleet/scan.html", context, status=status)


def _refused(form: Any, refusal: ActRefused) -> int:
    if isinstance(refusal, NotThere):
        raise Http404 from refusal
    return show_refusal(form, refusal)


def _sent_already(request: HttpRequest, member: Member, site: Site, record: UUID) -> HttpResponse:
    if scan_by_id(member, site.code, record) is None:
        messages.error(request, _("This form was used before, at another site. Nothing was kept; open it afresh."))
        return redirect("fleet:scan", site.code)
    messages.info(request, _("This form had been sent already; here is what came of it."))
    return redirect("fleet:scan_result", site.code, record)


def _result(answer: ScanAnswer) -> str:
    return reverse("fleet:scan_result", args=[answer.scan.site.code, answer.scan.client_id])


def _scan_or_404(member: Member, code: str, client_id: UUID) -> Scan:
    found = scan_by_id(member, code, client_id)
    if found is None:
        raise Http404
    return found


def _describing(member: Member, found: Scan) -> DescribeForm | None:
    """The form that says what a freshly linked device is, where its label did not."""
    device, placement = found.device, found.placement
    if found.outcome != Outcome.LINKED or device is None or placement is None or placement.until is not None:
        return None
    if device.model is not None:
        return None
    return DescribeForm(member=member, initial={"kind": device.kind, "position": placement.position})
