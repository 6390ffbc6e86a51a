"""Acting on several invitations: first what the press will do and to how many, then doing it."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from fleet.models import Member
from fleet.views.staff import staff_page
from onboarding.operations.several_invitations import ACTS, SeveralActedOn, act_on_several, weigh_several
from onboarding.queries.invitation_list import BY_NAME, visible_invitations

MOST_AT_ONCE = 200


@require_POST
@staff_page
def act_on_chosen(request: HttpRequest, member: Member) -> HttpResponse:
    """First what the act will do to the chosen invitations; once that is confirmed, do it."""
    act, show = request.POST.get("act", ""), request.POST.get("show", "")
    if act not in ACTS:
        raise Http404
    show = show if show in BY_NAME else "held"
    back_url = f"{reverse('onboarding:invitations')}?show={show}"
    chosen = _uuids(request.POST.getlist("invitation"))[:MOST_AT_ONCE]
    found = visible_invitations(member).filter(public_id__in=chosen)
    if not chosen:
        messages.warning(request, _("No invitation was chosen, so nothing was done."))
    elif request.POST.get("sure") != "yes":
        pressed = weigh_several(actor=member, act=act, invitations=found)
        context = {"act": act, "show": show, "back_url": back_url, "pressed": pressed} | _words(act, len(pressed.done))
        return render(
            request, "onboarding/staff/act_on_several.html", context | {"skipped": sorted(pressed.skipped.items())}
        )
    else:
        _say(request, act_on_several(actor=member, act=act, invitations=found))
    return HttpResponseRedirect(back_url)


def _words(act: str, n: int) -> dict[str, str]:
    """The question, what will happen and the button, for so many."""
    question, what, button = {
        "remind": (
            _("Remind several owners"),
            ngettext("%(n)d owner gets a reminder.", "%(n)d owners get a reminder each.", n),
            ngettext("Remind %(n)d owner", "Remind %(n)d owners", n),
        ),
        "resend": (
            _("Send several invitations again"),
            ngettext(
                "%(n)d owner gets the invitation again with a new link. The link before is dead from then on.",
                "%(n)d owners get their invitation again with a new link. The links before are dead from then on.",
                n,
            ),
            ngettext("Send %(n)d again", "Send %(n)d again", n),
        ),
        "cancel": (
            _("Call off several invitations"),
            ngettext(
                "%(n)d invitation is called off, and its link is dead. The owner is not told.",
                "%(n)d invitations are called off, and their links are dead. The owners are not told.",
                n,
            ),
            ngettext("Call off %(n)d invitation", "Call off %(n)d invitations", n),
        ),
    }[act]
    return {"question": question, "what": what % {"n": n}, "button": button % {"n": n}}


def _say(request: HttpRequest, several: SeveralActedOn) -> None:
    done = len(several.done)
    if done:
        messages.success(request, ngettext("Done for %(n)d.", "Done for %(n)d.", done) % {"n": done})
    for sentence, number in sorted(several.skipped.items()):
        messages.warning(request, _("Not done for %(n)d: %(why)s") % {"n": number, "why": sentence})


def _uuids(texts: list[str]) -> list[UUID]:
    found = []
    for text in texts:
        try:
            found.append(UUID(text))
        except ValueError:
            continue
    return found
