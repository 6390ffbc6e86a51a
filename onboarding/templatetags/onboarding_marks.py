"""Template tags of onboarding: the states of invitations, mails and permissions."""

from typing import Any

from django import template

from onboarding.models import Delivery, Invitation
from onboarding.queries.consents import Permission
from onboarding.views import said
from onboarding.views.browsers import browser
from onboarding.views.marks import DELIVERY_SHAPES, INVITATION_SHAPES, permission_shape, permission_words

register = template.Library()


@register.inclusion_tag("components/state.html")
def invitation_state(invitation: Invitation) -> dict[str, Any]:
    """The mark of an invitation's state."""
    return {"shape": INVITATION_SHAPES[invitation.state], "word": invitation.get_state_display()}


@register.inclusion_tag("components/state.html")
def delivery_state(delivery: Delivery) -> dict[str, Any]:
    """The mark of a mail's state."""
    return {"shape": DELIVERY_SHAPES[delivery.state], "word": delivery.get_state_display()}


@register.inclusion_tag("components/state.html")
def permission_state(permission: Permission) -> dict[str, Any]:
    """The mark of a permission: strong, reported, refused or not asked."""
    return {"shape": permission_shape(permission), "word": permission_words(permission)}


register.filter(said.answer_now)
register.filter(said.you_said)
register.filter(said.short_answer)
register.filter(said.how_answered)
register.filter(browser)
