"""Saving all that a site's form holds at once: its facts, its numbers, and what is planned there."""

from collections.abc import Iterable, Mapping

from django.db import transaction

from fleet.models import Member, Site
from fleet.operations.plans import state_plan
from fleet.operations.references import Reference, state_references
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.sites import SiteFacts, edit_site


@unchanged_if_refused
@transaction.atomic
def save_site(
    *,
    actor: Member,
    site: Site,
    facts: SiteFacts,
    version: int,
    references: Iterable[Reference] | None = None,
    counts: Mapping[str, int | None] | None = None,
) -> Site:
    """Save facts, numbers and plan, or nothing; what is None stays. ``references`` replace those that are there.

    Raises what edit_site, state_references and state_plan raise.
    """
    edit_site(actor=actor, site=site, facts=facts, version=version)
    if references is not None:
        state_references(actor=actor, site=site, references=references)
    if counts is not None:
        state_plan(actor=actor, site=site, counts=counts)
    return site
