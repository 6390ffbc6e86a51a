"""Saying what became of a mail when nobody knows: an administrator's word."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused
from onboarding.models import Delivery, DeliveryState
from onboarding.operations.invitation_results import mark_failed, mark_sent


class DeliverySettled(Conflicting):
    """Only a delivery of which it is not known whether it arrived can be settled."""

    code = "delivery_settled"
    sentence = _("What became of this mail is known by now, so there is nothing to settle. Nothing was changed.")


class DeliveryNotThere(NotThere):
    """The delivery is another company's."""

    code = "delivery_not_found"


@unchanged_if_refused
def settle_unknown(*, actor: Member, delivery: Delivery, arrived: bool) -> None:
    """An administrator says whether a mail of unknown fate arrived.

    Raises DeliveryNotThere, NotAllowed or DeliverySettled.
    """
    if delivery.company_id != actor.company_id:
        raise DeliveryNotThere
    require(actor, Act.SETTLE_DELIVERY)
    state = DeliveryState.SENT if arrived else DeliveryState.FAILED
    with transaction.atomic():
        won = Delivery.objects.filter(pk=delivery.pk, state=DeliveryState.UNKNOWN).update(
            state=state, reply_class="settled_by_staff", ended_at=timezone.now()
        )
        if not won:
            raise DeliverySettled
        delivery.refresh_from_db()
        if arrived:
            mark_sent([delivery])
        else:
            mark_failed(delivery=delivery, reason="settled_by_staff")
        record_act(
            act="settle_delivery",
            company=actor.company,
            about=delivery,
            actor=actor,
            before={"state": DeliveryState.UNKNOWN.value},
            after={"state": state.value},
        )
