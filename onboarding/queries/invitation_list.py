"""The staff's lists of invitations: by state, with counts, and what frees the held ones."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.queries.visibility import visible_sites
from onboarding.models import (
    Delivery,
    DeliveryState,
    Invitation,
    InvitationEvent,
    InvitationState,
)

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

A_PAGE = 50


def _undecided() -> Q:
    unknown = Delivery.objects.filter(invitation=OuterRef("pk"), state=DeliveryState.UNKNOWN)
    return Q(Exists(unknown))


def _not_me() -> Q:
    said = InvitationEvent.objects.filter(invitation=OuterRef("pk"), what="not_me")
    return Q(Exists(said), state=InvitationState.CANCELLED)


def _states(*states: str) -> Callable[[], Q]:
    return lambda: Q(state__in=states)


@dataclass(frozen=True)
class Show:
    """One list: its name in the address, its words, what it holds, and which acts fit several at once."""

    name: str
    title: "StrOrPromise"
    holds: Callable[[], Q]
    acts: tuple[str, ...] = ()


SHOWS = (
    Show("held", _("Held"), _states(InvitationState.DRAFT, InvitationState.HELD), ("cancel",)),
    Show("queued", _("On the way"), _states(InvitationState.QUEUED), ("cancel",)),
    Show("waiting", _("Waiting for the owner"), _states("sent", "opened"), ("remind", "resend", "cancel")),
    Show("not_arrived", _("Did not arrive"), _states("bounced", "failed"), ("resend",)),
    Show("unknown", _("Not known whether it arrived"), _undecided),
    Show("expired", _("Ran out"), _states(InvitationState.EXPIRED), ("resend",)),
    Show("not_me", _("Not for them"), _not_me),
    Show("accepted", _("Accepted"), _states(InvitationState.ACCEPTED)),
    Show("ended", _("Ended otherwise"), _states("cancelled", "complained", "replaced")),
)
BY_NAME = {show.name: show for show in SHOWS}


def visible_invitations(member: Member) -> QuerySet[Invitation]:
    """Invitations to owners of the sites that ``member`` may see, with site and owner."""
    return Invitation.objects.filter(company_id=member.company_id, site__in=visible_sites(member)).select_related(
        "site", "owner"
    )


def successor(invitation: Invitation) -> Invitation | None:
    """The latest invitation of the same owner to the same site that came after this one."""
    later = Invitation.objects.filter(site=invitation.site_id, owner=invitation.owner_id, id__gt=invitation.pk)
    return later.select_related("company__policy", "site__company", "owner__user").order_by("-id").first()


def shown(member: Member, show: Show) -> QuerySet[Invitation]:
    """The invitations of one list, newest first."""
    return visible_invitations(member).filter(show.holds()).order_by("-id")


def counts(member: Member) -> dict[str, int]:
    """How many each list holds, in one query for the states and one for each of the others."""
    by_state = dict(
        Invitation.objects.filter(company_id=member.company_id, site__in=visible_sites(member))
        .values_list("state")
        .annotate(number=Count("id"))
    )
    found = {}
    for show in SHOWS:
        if show.name in ("unknown", "not_me"):
            found[show.name] = shown(member, show).count()
        else:
            found[show.name] = sum(by_state.get(state, 0) for state in _named_states(show))
    return found


def _named_states(show: Show) -> list[str]:
    condition = show.holds()
    return [state for _key, states in condition.children for state in states]  # type: ignore[misc]  # ("state__in", …)


FREEING: dict[str, tuple["StrOrPromise", str]] = {
    "no_consent": (_("Record that the owner may be written to"), "consents"),
    "ran_out": (_("Ask the owner again, and record the answer"), "consents"),
    "ledger_differs": (_("Tell whoever runs this installation: the ledger must be checked"), "consents"),
    "opted_out": (_("Only the owner can allow it again: by signing, or on My site"), "consents"),
    "bad_address": (_("Correct the e-mail address"), "owner"),
    "no_address": (_("Print a letter, or enter an e-mail address"), "letter"),
    "not_ready": (_("Finish the handover checks"), "checks"),
}
"""For each reason of being held: the one act that frees it, and where on the site's page it is done."""
