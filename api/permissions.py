"""What an API request needs before its endpoint is asked."""

from django.utils.translation import gettext as _
from rest_framework.exceptions import PermissionDenied
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from api.authentication import member_or_none
from fleet.models import ApiToken


class ActingMember(BasePermission):
    """A signed-in member; a token must hold the scope that the endpoint names for the method in ``scopes``."""

    def has_permission(self, request: Request, view: object) -> bool:
        """False where nobody is signed in; raises PermissionDenied with a code of its own otherwise."""
        if not request.user:
            return False
        if member_or_none(request) is None:
            raise PermissionDenied(_("You are not a member of any company, so there is nothing here."), "not_a_member")
        _require_scope(request, view)
        return True


def _require_scope(request: Request, view: object) -> None:
    scopes: dict[str, str] = getattr(view, "scopes", {})
    method = "GET" if request.method == "HEAD" else str(request.method)
    needed = scopes.get(method)
    if needed and isinstance(request.auth, ApiToken) and needed not in request.auth.scopes:
        raise PermissionDenied(
            _("This token lacks the scope “%(scope)s”. Nothing was changed.") % {"scope": needed}, "scope_missing"
        )
