"""Onboarding's append-only tables, handed to the register by ``settings.DATABASE_GUARDS``."""

from fleet.guards import Guard


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
