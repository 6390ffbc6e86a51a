"""What every page of an owner needs: somebody signed in who owns the site."""

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import translation

from fleet.models import User
from fleet.spoken import spoken
from onboarding.models import Ownership
from onboarding.operations.consents import OwnersWord
from onboarding.queries.mine import my_ownership, my_past_ownership
from onboarding.views.quiet import in_language

P = ParamSpec("P")


def owners_page(
    view: Callable[Concatenate[HttpRequest, Ownership, P], HttpResponse], *, former: bool = False
) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
    """Hands the signed-in person's own ownership to ``view``; strangers sign in, anybody else gets 404.

    With ``former`` an ownership that has ended is handed over as well.
    """

    @wraps(view)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        code = str(kwargs.pop("code", ""))  # the URL hands it by name
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        ownership = my_ownership(request.user, code)
        if ownership is None and former:
            ownership = my_past_ownership(request.user, code)
        if ownership is None:
            raise Http404
        with translation.override(spoken(ownership.owner.language)):
            response = in_language(view(request, ownership, *args, **kwargs))
        response.headers["Cache-Control"] = "no-store"
        return response

    return guarded


def present_or_former(
    view: Callable[Concatenate[HttpRequest, Ownership, P], HttpResponse],
) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
    """As ``owners_page``, and for who owned the site before as well: for what stays theirs."""
    return owners_page(view, former=True)


def owners_word(request: HttpRequest) -> OwnersWord:
    """The act of the signed-in person, from this session."""
    session = hashlib.sha256(str(request.session.session_key).encode()).hexdigest()[:16]
    return OwnersWord(user=cast(User, request.user), session=session)
