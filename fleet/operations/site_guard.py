"""What must hold before anything is done at a site: the role, the sight of it, and that it is not retired.

A retired site takes nothing new. What only ends or takes away stays possible there: a withdrawal, the end of an
ownership, an erasure, calling an invitation off, taking somebody off it.
"""

from django.db import connections
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Site, Stage
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import Conflicting, NotThere
from fleet.queries.visibility import may_see


class UnknownSite(NotThere):
    """No such site for this member."""

    code = "unknown_site"
    sentence = _(
        "There is no site with this code that you may see. Check the code, or ask the office to assign the site."
    )


class SiteRetired(Conflicting):
    """The site is retired and takes nothing new."""

    code = "site_retired"
    sentence = _("This site is retired and takes nothing new, so nothing was changed. Its record stays readable.")


def require_at(actor: Member, act: Act, site: Site, *, unknown: type[NotThere] = UnknownSite) -> None:
    """The actor may do ``act`` at the site now. Raises NotAllowed, ``unknown`` or SiteRetired, in this order."""
    require(actor, act)
    if site.company_id != actor.company_id or not may_see(actor, site):
        raise unknown
    refuse_retired(site)


def refuse_retired(site: Site) -> None:
    """Raise SiteRetired where the register has the site as retired, whatever the object in hand says."""
    if is_retired(site):
        raise SiteRetired


def is_retired(site: Site, *, held: bool = True) -> bool:
    """Whether the register has the site as retired now.

    Inside a transaction the row is ``held`` as it is until the end, so that no act slips past a retirement. The order
    is site, then ledger's head: who has the head already, whom a retirement waits for, does not hold the site as well.
    """
    sites = Site.objects.filter(pk=site.pk)
    if held and connections[sites.db].in_atomic_block:
        sites = sites.select_for_update(no_key=True)
    return sites.values_list("stage", flat=True).get() == Stage.RETIRED
