"""Light or dark pages: as the device says, unless the person chose."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.views.decorators.http import require_POST

from fleet.own_paths import is_own_path

THEME_COOKIE = "rooftally_theme"
THEMES = ("light", "dark")
_A_YEAR = 60 * 60 * 24 * 365


def chosen_theme(request: HttpRequest) -> str:
    """``light``, ``dark``, or empty where the device decides."""
    theme = request.COOKIES.get(THEME_COOKIE, "")
    return theme if theme in THEMES else ""


@require_POST
def appearance(request: HttpRequest) -> HttpResponse:
    """Keep the chosen theme in a cookie and go back to the page it was chosen on."""
    response = HttpResponseRedirect(_way_back(request))
    theme = request.POST.get("theme", "")
    if theme in THEMES:
        response.set_cookie(
            THEME_COOKIE, theme, max_age=_A_YEAR, httponly=True, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
        )
    else:
        response.delete_cookie(THEME_COOKIE, samesite="Lax")
    return response


def _way_back(request: HttpRequest) -> str:
    url = request.POST.get("next", "")
    return url if is_own_path(url) else "/"
