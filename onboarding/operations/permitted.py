"""What must hold for a mail to go on: a permission that the ledger bears out, and no suppression."""

from collections.abc import Iterable

from django.db.models import Exists, OuterRef, Q

from onboarding.models import ConsentStanding, Delivery, Purpose, Stream, Suppression
from onboarding.operations.deliveries import BY_PERMISSION
from onboarding.queries.consents import yes_now
from onboarding.queries.derived_standing import COLUMNS, borne_out


def permitted(stream: str) -> Q:
    """What must hold, in the very statement that lets a mail of ``stream`` go on: the owner's permission where the
    stream rests on it, and no suppression.
    """
    suppressed = Suppression.objects.filter(
        company=OuterRef("company"), address_mac=OuterRef("address_mac"), lifted_at__isnull=True
    )
    if stream == Stream.RECEIPT:
        return ~Q(Exists(suppressed.filter(reason__in=(Suppression.Reason.BOUNCED, Suppression.Reason.NOT_ME))))
    if stream not in BY_PERMISSION:
        return Q()
    standing = ConsentStanding.objects.filter(
        yes_now(), site=OuterRef("site"), owner=OuterRef("owner"), purpose=Purpose.CONTACT
    )
    if stream == Stream.COURTESY:  # what staff reported permits the invitation only
        standing = standing.filter(strong=True)
    return Q(Exists(standing)) & ~Q(Exists(suppressed))


def borne_out_by_ledger(delivery: Delivery, standing: ConsentStanding | None) -> Q:
    """For the statement that lets ``delivery`` go on: its permission's row is still the one derived from the ledger."""
    if delivery.stream not in BY_PERMISSION:
        return Q()
    if standing is None:
        return Q(pk__in=())
    derived = {column: getattr(standing, column) for column in COLUMNS}
    if (ends_at := derived.pop("ends_at")) is None:
        derived["ends_at__isnull"] = True
    else:
        derived["ends_at"] = ends_at
    return Q(Exists(ConsentStanding.objects.filter(**derived)))


def derived_standings(deliveries: Iterable[Delivery]) -> dict[tuple[int | None, int | None], ConsentStanding]:
    """The permissions that mails rest on, by site and owner, where they follow from the ledger."""
    resting = [each for each in deliveries if each.stream in BY_PERMISSION]
    found = borne_out((each.site_id, each.owner_id) for each in resting if each.site_id and each.owner_id)
    return {(site, owner): standing for (site, owner), standing in found.items()}


def permitted_whatever_stream(streams: Iterable[str]) -> Q:
    """``permitted`` for mails of any of ``streams``."""
    condition = Q(pk__in=())
    for stream in sorted(set(streams)):
        condition |= Q(stream=stream) & permitted(stream)
    return condition


def sound(deliveries: Iterable[Delivery]) -> list[int]:
    """The keys of those mails that need no permission, or whose permission follows from the ledger."""
    deliveries = list(deliveries)
    derived = derived_standings(deliveries)
    return [
        each.pk for each in deliveries if each.stream not in BY_PERMISSION or (each.site_id, each.owner_id) in derived
    ]
