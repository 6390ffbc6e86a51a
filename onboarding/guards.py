"""Onboarding's append-only tables and search marks, handed to the register by ``settings.DATABASE_GUARDS``."""

from fleet.guards import Guard
from fleet.search.marks import Marks


def append_only_tables() -> list[Guard]:
    """The ledger, the timelines, and every wording that an entry rests on."""
    return [
        Guard("onboarding_consententry"),
        Guard("onboarding_invitationevent"),
        Guard(
            "onboarding_wording",
            only_when="EXISTS (SELECT 1 FROM onboarding_consententry AS used WHERE used.wording_id = OLD.id)",
        ),
    ]


def search_marks() -> list[Marks]:
    """Changes after which a site's owners, invitations or permissions read otherwise in lists and searches."""
    owned = "SELECT site_id FROM onboarding_ownership WHERE owner_id = {row}.id"
    at_site = "SELECT {row}.site_id AS site_id"
    return [
        Marks("onboarding_ownership", at_site, ("site_id", "owner_id", "since", "until")),
        Marks("onboarding_owner", owned, ("name", "email", "phone", "postal_address", "erased_at")),
        Marks("onboarding_invitation", at_site, ("site_id", "owner_id", "state")),
        Marks("onboarding_consentstanding", at_site, ("site_id", "owner_id", "purpose", "state")),
    ]
