"""Taking over what a failing phone saved to a file: each record looked at, and taken by a person."""

from http import HTTPStatus

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.field_file import FieldFileForm, read_filed
from fleet.models import Member
from fleet.operations.field_entries import read_entry
from fleet.operations.field_records import take_record
from fleet.operations.permissions import Act, may
from fleet.operations.refusals import ActRefused
from fleet.views.staff import staff_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def import_file(request: HttpRequest, member: Member) -> HttpResponse:
    """Ask for the file; then show every record in it, none taken yet."""
    if not may(member, Act.IMPORT):
        raise PermissionDenied
    form = FieldFileForm(request.POST or None, request.FILES or None, member=member)
    if request.method != "POST":
        return render(request, "fleet/field/import.html", {"form": FieldFileForm(member=member)})
    if not form.is_valid():
        return render(request, "fleet/field/import.html", {"form": form}, status=HTTPStatus.UNPROCESSABLE_ENTITY)
    return render(
        request,
        "fleet/field/import.html",
        {"form": FieldFileForm(member=member), "records": form.records, "holder": form.holder},
    )


@require_POST
@staff_page
def import_record(request: HttpRequest, member: Member) -> HttpResponse:
    """Take one record; it is marked as coming from a file, and never counts as the owner's own evidence."""
    if not may(member, Act.IMPORT):
        raise PermissionDenied
    try:
        entry = read_entry(read_filed(request.POST.get("record", "")), from_emergency_file=True)
        document = take_record(actor=member, entry=entry).document
        outcome, sentence = document["outcome"], f"{document['sentence']} {document.get('why', '')}".strip()
    except ActRefused as refusal:
        outcome, sentence = "refused", str(refusal.sentence)
    context = {"outcome": outcome, "sentence": sentence, "text": request.POST.get("text", _("Record"))[:200]}
    return render(request, "fleet/field/import_answer.html", context)
