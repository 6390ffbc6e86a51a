"""Standing before a site: a plate or device that a camera read opens its site to a field member for a while."""

from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.labels.reading import Reading
from fleet.models import Device, Member, Site, SiteCodeAlias, SiteSighting
from fleet.operations.audit import record_act
from fleet.operations.captures import read_codes
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.queries.devices import open_placement, unit_of_reading
from fleet.queries.visibility import may_see


class NothingSighted(NotThere):
    """The label leads to no site that the member may open."""

    code = "nothing_sighted"
    sentence = _("This label leads to no site that you may open. Ask the office to assign the site to you.")


@dataclass(frozen=True)
class Sighted:
    """The site found, and the device by which it was found (None for a plate)."""

    site: Site
    device: Device | None


@unchanged_if_refused
def sight(*, actor: Member, raw: str, format: str = "", source: str = "camera") -> Sighted:  # noqa: A002  # the record's word
    """Find the site of a plate or of a device that stands somewhere.

    Only a structured reading by the camera opens a site that the member could not see; a typed guess opens nothing.
    Raises NothingSighted, NotAllowed.
    """
    require(actor, Act.SCAN)
    understood = read_codes(actor.company, ((raw, format),))
    if not isinstance(understood, Reading):
        raise NothingSighted
    found = _plate(actor, understood) or _device(actor, understood)
    if found is None:
        raise NothingSighted
    if may_see(actor, found.site):
        return found
    if source != "camera" or understood.confirm:
        raise NothingSighted
    with transaction.atomic():
        SiteSighting.objects.update_or_create(
            member=actor, site=found.site, defaults={"company": actor.company, "seen_at": timezone.now()}
        )
        record_act(act="sight_site", company=actor.company, about=found.site, actor=actor, site=found.site)
    return found


def _plate(actor: Member, reading: Reading) -> Sighted | None:
    if not reading.site_code:
        return None
    site = Site.objects.filter(company_id=actor.company_id, code=reading.site_code).first()
    if site is None:
        alias = SiteCodeAlias.objects.filter(company_id=actor.company_id, code=reading.site_code).first()
        site = alias.site if alias else None
    return Sighted(site, None) if site else None


def _device(actor: Member, reading: Reading) -> Sighted | None:
    device = unit_of_reading(actor.company, reading)
    standing = open_placement(device) if device else None
    return Sighted(standing.site, device) if standing else None
