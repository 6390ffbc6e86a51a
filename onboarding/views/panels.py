"""What onboarding shows on a site's page."""

from django.http import HttpRequest

from fleet.acting import acting_member
from fleet.models import Site
from fleet.operations.permissions import Act, may
from fleet.views.panels import Panel
from onboarding.queries.site_panels import owner_cards, past_owners


def site_panels(request: HttpRequest, site: Site) -> list[Panel]:
    """Who owns it (20) and what they allowed (30)."""
    member = acting_member(request)
    cards = owner_cards(site)
    context = {
        "cards": cards,
        "retired": site.retired_at is not None,
        "may_change_owner": may(member, Act.CHANGE_OWNER),
        "may_erase": may(member, Act.ERASE_OWNER),
    }
    return [
        Panel("onboarding/parts/owners.html", context | {"past": past_owners(site)}, order=20),
        Panel("onboarding/parts/permissions.html", context, order=30),
    ]
