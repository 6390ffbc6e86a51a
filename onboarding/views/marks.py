"""How the states of invitations and permissions look (shapes as in templates/components/state.html)."""

from django.utils.translation import gettext as _

from onboarding.queries.consents import Permission

INVITATION_SHAPES = {
    "draft": "open",
    "held": "needs",
    "queued": "waits",
    "sent": "waits",
    "opened": "waits",
    "accepted": "done",
    "bounced": "trouble",
    "complained": "trouble",
    "failed": "trouble",
    "expired": "needs",
    "cancelled": "ended",
    "replaced": "ended",
}
DELIVERY_SHAPES = {
    "queued": "waits",
    "claimed": "waits",
    "transmitting": "waits",
    "sent": "done",
    "failed": "trouble",
    "unknown": "needs",
    "stopped": "ended",
}


def permission_shape(permission: Permission) -> str:
    """The shape of a permission's state."""
    if permission.strong:
        return "done"
    if permission.reported or permission.ran_out:
        return "needs"
    return "open" if permission.standing is None or permission.standing.state == "requested" else "ended"


def permission_words(permission: Permission) -> str:
    """A permission's state in words."""
    if permission.strong:
        return _("Allowed")
    if permission.by_letter:
        return _("By letter, not confirmed")
    if permission.reported:
        return _("Reported by staff")
    if permission.standing is None or permission.standing.state == "requested":
        return _("Not answered")
    if permission.ran_out:
        return _("Ran out: ask again")
    return permission.standing.get_state_display()
