"""How the states of invitations and permissions look (shapes as in templates/components/state.html)."""

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
