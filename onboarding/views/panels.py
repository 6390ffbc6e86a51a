"""What onboarding shows on a site's page."""

from django.http import HttpRequest
from django.utils.translation import gettext as _

from fleet.acting import acting_member
from fleet.models import Site
from fleet.operations.permissions import Act, may
from fleet.views.panels import HandoverPoint, Panel
from onboarding.models import InvitationState
from onboarding.queries.site_panels import OwnerCard, owner_cards, past_owners
from onboarding.views.marks import permission_words


def site_panels(request: HttpRequest, site: Site) -> list[Panel]:
    """Who owns it (20) and what they allowed (30)."""
    member = acting_member(request)
    cards = owner_cards(site)
    context = {
        "cards": cards,
        "retired": site.retired_at is not None,
        "may_change_owner": may(member, Act.CHANGE_OWNER),
        "may_print_letter": may(member, Act.PRINT_LETTER),
        "may_erase": may(member, Act.ERASE_OWNER),
    }
    return [
        Panel("onboarding/parts/owners.html", context | {"past": past_owners(site)}, order=20),
        Panel("onboarding/parts/permissions.html", context, order=30),
    ]


def handover_points(request: HttpRequest, site: Site) -> list[HandoverPoint]:
    """Who owns it, what each of them allowed, and how far their invitation is."""
    cards = owner_cards(site)
    if not cards:
        return [HandoverPoint(_("Owner"), _("Nobody is recorded as the owner."), True, "owners")]
    return [point for card in cards for point in (_owner_point(card), *_permission_points(card))]


def _owner_point(card: OwnerCard) -> HandoverPoint:
    invitation = card.invitation
    if invitation is None and card.owner.user_id is not None:
        return HandoverPoint(card.owner.name, _("Has an account."), False, "owners")
    if invitation is None:
        return HandoverPoint(card.owner.name, _("Not invited yet."), True, "owners")
    sentence = _("Invitation: %(state)s.") % {"state": invitation.get_state_display()}
    return HandoverPoint(card.owner.name, sentence, invitation.state != InvitationState.ACCEPTED, "owners")


def _permission_points(card: OwnerCard) -> list[HandoverPoint]:
    """One line for each purpose; a no is an answer, and so settled."""
    return [
        HandoverPoint(
            _("%(name)s: %(purpose)s") % {"name": card.owner.name, "purpose": permission.purpose.label},
            permission_words(permission),
            permission.reported or permission.standing is None or permission.standing.state == "requested",
            "permissions",
        )
        for permission in card.permissions
    ]
