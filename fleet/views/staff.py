"""What every staff page needs: somebody signed in, acting for exactly one membership; and acts by one button."""

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect

from fleet.acting import acting_member
from fleet.models import Member
from fleet.operations.refusals import ActRefused, NotAllowed, NotThere

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

P = ParamSpec("P")


def staff_page(
    view: Callable[Concatenate[HttpRequest, Member, P], HttpResponse],
) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
    """Hands the acting member to ``view``; asks strangers to sign in, answers 404 to people who are no member."""

    @wraps(view)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        return view(request, acting_member(request), *args, **kwargs)

    return guarded


def administrators_page(
    view: Callable[Concatenate[HttpRequest, Member, P], HttpResponse],
) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
    """A staff page for administrators; other members get 403."""

    @wraps(view)
    def guarded(request: HttpRequest, member: Member, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if not member.is_administrator:
            raise PermissionDenied
        return view(request, member, *args, **kwargs)

    return staff_page(guarded)


def one_act(
    request: HttpRequest, act: Callable[[], object], *, done: "StrOrPromise", then: str, else_then: str = ""
) -> HttpResponse:
    """Do ``act`` and go to ``then`` with the sentence ``done``; refused, go to ``else_then`` with the reason.

    NotThere answers 404, NotAllowed answers 403.
    """
    try:
        act()
    except NotThere as refusal:
        raise Http404 from refusal
    except NotAllowed as refusal:
        raise PermissionDenied(str(refusal.sentence)) from refusal
    except ActRefused as refusal:
        messages.error(request, str(refusal.sentence))
        return HttpResponseRedirect(else_then or then)
    messages.success(request, done)
    return HttpResponseRedirect(then)
