"""Printing the plate of a site."""

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, PrintedPlate, Site, Stage
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import Conflicting
from fleet.operations.sites import UnknownSite
from fleet.queries.visibility import may_see


class NoPlateForRetired(Conflicting):
    """A retired site gets no plate."""

    code = "no_plate_for_retired"
    sentence = _("This site is retired, so no plate was made for it.")


@transaction.atomic
def print_plate(*, actor: Member, site: Site) -> PrintedPlate:
    """A plate with the site's code goes to print; recorded once, however often it is printed.

    Raises UnknownSite, NoPlateForRetired, NotAllowed.
    """
    require(actor, Act.EDIT_SITE)
    if not may_see(actor, site):
        raise UnknownSite
    if site.stage == Stage.RETIRED:
        raise NoPlateForRetired
    plate, made = PrintedPlate.objects.get_or_create(
        code=site.code, defaults={"company": actor.company, "site": site, "printed_by": actor}
    )
    if made:
        record_act(act="print_plate", company=actor.company, about=site, actor=actor, site=site)
    return plate
