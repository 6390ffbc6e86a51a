"""The link in a receipt by which its reader says that the answers, given with a letter's code, are not theirs."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import translation
from django.views.decorators.http import require_http_methods

from fleet.spoken import spoken
from onboarding.operations.letter_answers import NothingToObjectTo, object_to_letter, receipt_named
from onboarding.views.quiet import blocked, guessing, in_language, secret_page


@require_http_methods(["GET", "HEAD", "POST"])
@secret_page
def objection(request: HttpRequest, name: str) -> HttpResponse:
    """What the answers rest on; a POST makes them invalid. Opening the link changes nothing."""
    try:
        receipt = receipt_named(name)
        if request.method == "POST":
            object_to_letter(receipt=receipt)
    except NothingToObjectTo as refusal:
        if guessing(request):
            return blocked(request)
        return render(request, "fleet/join_over.html", {"sentence": refusal.sentence}, status=404)
    context = {"company": receipt.company, "site": receipt.site, "objected": request.method == "POST"}
    with translation.override(spoken(receipt.language)):
        return in_language(render(request, "onboarding/owner/objection.html", context))
