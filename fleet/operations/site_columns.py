"""How a member's own list of sites looks."""

from collections.abc import Iterable

from fleet.models import Member
from fleet.operations.rollback import unchanged_if_refused


@unchanged_if_refused
def choose_site_columns(*, actor: Member, names: Iterable[str]) -> None:
    """The columns that the member's list of sites shows from now on; none for the usual ones.

    It changes nothing that anybody else sees, so the trail does not tell of it.
    """
    actor.site_columns = " ".join(dict.fromkeys(names))
    actor.save(update_fields=["site_columns"])
