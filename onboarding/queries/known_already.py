"""What the register knows already of a site that somebody is typing: its address, its owner, its order number."""

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.models import Member, Site, SiteReference
from fleet.queries.visibility import visible_sites
from fleet.search import find_sites
from fleet.search.fold import joined, pieces
from onboarding.models import Ownership

MOST_SHOWN = 3
LOOKED_AT = 40
SHORTEST = 4


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed so far."""

    street: str = ""
    house_number: str = ""
    owner: str = ""
    email: str = ""
    phone: str = ""
    order: str = ""


def sites_at_address(member: Member, typed: Typed) -> list[Site]:
    """Visible sites with this street and number, whatever the town, capitals and marks aside."""
    street, number = pieces(typed.street), joined(typed.house_number)
    if len(joined(typed.street)) < SHORTEST or not number:
        return []
    found = _found(member, f"{typed.street} {typed.house_number}")
    return [site for site in found if pieces(site.street) == street and joined(site.house_number) == number]


def sites_of_owner(member: Member, typed: Typed) -> list[tuple[Site, str]]:
    """Visible sites whose present owner has this e-mail address, telephone or name, each with the owner's name."""
    owners = Ownership.objects.filter(
        company_id=member.company_id, until__isnull=True, site__in=visible_sites(member)
    ).select_related("site", "owner")
    told: dict[int, tuple[Site, str]] = {}
    if "@" in typed.email:
        for each in owners.filter(owner__email__iexact=typed.email.strip())[:MOST_SHOWN]:
            told[each.site_id] = (each.site, each.owner.name)
    name, phone = pieces(typed.owner), joined(typed.phone)
    if len(name) >= 2 or len(phone) >= 6:
        texts = [text for text, long in ((typed.owner, len(name) >= 2), (typed.phone, len(phone) >= 6)) if long]
        ids = {site.pk for text in texts for site in _found(member, text)}
        for each in owners.filter(site__in=ids).order_by("pk"):
            if pieces(each.owner.name) == name or (len(phone) >= 6 and joined(each.owner.phone) == phone):
                told[each.site_id] = (each.site, each.owner.name)
    return list(told.values())[:MOST_SHOWN]


def sites_of_order(member: Member, typed: Typed) -> list[Site]:
    """Visible sites with this order number."""
    numbers = [number.strip() for number in typed.order.split(",") if number.strip()]
    written = {form for number in numbers for form in (number, number.upper(), number.lower())}
    if not written:
        return []
    orders = SiteReference.objects.filter(company_id=member.company_id, kind="order", value__in=written)
    return list(visible_sites(member).filter(pk__in=orders.values("site")).order_by("pk")[:MOST_SHOWN])


def _found(member: Member, text: str) -> Iterable[Site]:
    rows = find_sites(member=member, text=text[:200], limit=LOOKED_AT).rows
    sites = Site.objects.in_bulk([row.site_id for row in rows])
    return [sites[row.site_id] for row in rows if row.site_id in sites]
