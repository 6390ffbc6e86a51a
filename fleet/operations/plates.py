"""Printing the plate of a site."""

from django.db import transaction

from fleet.models import Member, PrintedPlate, Site
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import require_at


@unchanged_if_refused
@transaction.atomic
def print_plate(*, actor: Member, site: Site) -> PrintedPlate:
    """A plate with the site's code goes to print; recorded once, however often it is printed.

    Raises UnknownSite, SiteRetired, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    plate, made = PrintedPlate.objects.get_or_create(
        code=site.code, defaults={"company": actor.company, "site": site, "printed_by": actor}
    )
    if made:
        record_act(act="print_plate", company=actor.company, about=site, actor=actor, site=site)
    return plate
