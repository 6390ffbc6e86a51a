"""The turning points of a site: handing it over, taking that back, retiring it."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.module_loading import import_string
from django.utils.translation import gettext_lazy as _

from fleet.models import HandoverCheck, Member, Placement, Site, Stage
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, may
from fleet.operations.refusals import Conflicting, NotAllowed
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import require_at
from fleet.queries.handovers import Handover, last_handover
from fleet.search import reindex

TAKEN_BACK_FREELY = timedelta(days=1)
UNDONE = (HandoverCheck.Finding.OPEN, HandoverCheck.Finding.PROBLEM)


class DevicesStillThere(Conflicting):
    """A site is retired only when nothing stands there any more."""

    code = "devices_still_there"
    sentence = _("Devices still stand at this site, so it was not retired. Move or retire them first.")


class WrongStage(Conflicting):
    """The site's stage does not allow it."""

    code = "wrong_stage"
    sentence = _("The site's stage does not allow this. Nothing was changed.")


class NotHandedOver(WrongStage):
    """There is no handover to take back."""

    code = "not_handed_over"
    sentence = _("This site is not handed over now, so there is nothing to take back. Nothing was changed.")


@unchanged_if_refused
@transaction.atomic
def hand_over_site(*, actor: Member, site: Site) -> Site:
    """The site passes to its owner: planned or installed becomes handed over, whatever is still open.

    Raises UnknownSite, SiteRetired, WrongStage, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    undone = HandoverCheck.objects.filter(site=site, finding__in=UNDONE).count()
    _change_stage(
        actor, site, "hand_over_site", (Stage.PLANNED, Stage.INSTALLED), Stage.HANDED_OVER,
        told={"open_checks": undone}, handed_over_at=timezone.now(),
    )  # fmt: skip
    return site


@unchanged_if_refused
@transaction.atomic
def take_back_handover(*, actor: Member, site: Site) -> Site:
    """The site is as far as it was before its handover: within a day by who handed it over, later by administrators.

    Raises UnknownSite, SiteRetired, NotHandedOver, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    handover = last_handover(site)
    if handover is None or not Site.objects.filter(pk=site.pk, stage=Stage.HANDED_OVER).exists():
        raise NotHandedOver
    if not may_take_back(actor, handover):
        raise NotAllowed(
            _(
                "Who handed the site over takes it back within a day; later, and for others, an administrator does. "
                "Nothing was changed."
            )
        )
    _change_stage(actor, site, "take_back_handover", (Stage.HANDED_OVER,), handover.stage_before, handed_over_at=None)
    return site


def may_take_back(actor: Member, handover: Handover) -> bool:
    """Whether this member may still take the handover back."""
    lately = timezone.now() - handover.at <= TAKEN_BACK_FREELY
    return may(actor, Act.UNDO_LATE) or (lately and handover.by == actor)


@unchanged_if_refused
@transaction.atomic
def retire_site(*, actor: Member, site: Site) -> Site:
    """The site leaves service, and nobody is invited to it any more.

    Raises UnknownSite, SiteRetired, DevicesStillThere, NotAllowed.
    """
    require_at(actor, Act.RETIRE, site)
    if Placement.objects.filter(site=site, until__isnull=True).exists():
        raise DevicesStillThere
    _change_stage(
        actor, site, "retire_site", (Stage.PLANNED, Stage.INSTALLED, Stage.HANDED_OVER), Stage.RETIRED,
        retired_at=timezone.now(),
    )  # fmt: skip
    for name in settings.WHEN_A_SITE_RETIRES:
        import_string(name)(site, actor)
    return site


def _change_stage(
    actor: Member,
    site: Site,
    act: str,
    sources: tuple[str, ...],
    target: str,
    *,
    told: dict[str, Any] | None = None,
    **columns: Any,
) -> None:
    before = Site.objects.values_list("stage", flat=True).get(pk=site.pk)
    won = Site.objects.filter(pk=site.pk, stage__in=sources).update(
        stage=target, version=F("version") + 1, updated_at=timezone.now(), **columns
    )
    if not won:
        raise WrongStage
    site.refresh_from_db()
    record_act(
        act=act, company=actor.company, about=site, actor=actor, site=site,
        before={"stage": before}, after={"stage": target, **(told or {})},
    )  # fmt: skip
    reindex([site.pk])
