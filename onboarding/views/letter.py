"""Where the code of a printed letter is typed."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from onboarding.forms.accepting import LetterCodeForm
from onboarding.operations.invitation_links import find_link, typed_code
from onboarding.views.quiet import blocked, guessing, secret_page


@require_http_methods(["GET", "HEAD", "POST"])
@secret_page
def letter(request: HttpRequest) -> HttpResponse:
    """Ask for the code; a right one leads to the same page as a link in a mail."""
    if request.method != "POST":
        return render(request, "onboarding/owner/letter.html", {"form": LetterCodeForm()})
    form = LetterCodeForm(request.POST)
    if form.is_valid():
        code = typed_code(form.cleaned_data["code"])
        if code is not None and find_link(code) is not None:
            return HttpResponseRedirect(reverse("onboarding:welcome", args=[code]))
        if guessing(request):
            return blocked(request)
        form.add_error("code", _("There is no letter with this code. Compare it with the letter, group by group."))
    return render(request, "onboarding/owner/letter.html", {"form": form}, status=422)
