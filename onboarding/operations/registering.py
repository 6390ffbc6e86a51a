"""Registering a site with all that is known on the first day: owner, numbers and plan; all of it or nothing."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict

from django.db import transaction

from fleet.models import Member, Site
from fleet.operations.plans import state_plan
from fleet.operations.references import Reference, state_references
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.sites import SiteFacts, register_site
from onboarding.models import Owner
from onboarding.operations.owners import OwnerFacts, attach_owner, register_owner


@unchanged_if_refused
@transaction.atomic
def register_whole_site(
    *,
    actor: Member,
    facts: SiteFacts,
    owner: OwnerFacts | Owner | None = None,
    references: Iterable[Reference] = (),
    counts: Mapping[str, int | None] | None = None,
) -> Site:
    """A new site with its owner (facts of a new one, or one whom the company knows), its numbers and its plan.

    Raises what register_site, register_owner, attach_owner, state_references and state_plan raise.
    """
    site = register_site(actor=actor, facts=facts)
    state_references(actor=actor, site=site, references=references)
    if counts:
        state_plan(actor=actor, site=site, counts=counts)
    if isinstance(owner, Owner):
        attach_owner(actor=actor, site=site, owner=owner)
    elif owner is not None:
        register_owner(actor=actor, site=site, **asdict(owner))
    return site
