"""Lists that a company may begin its catalogue with. They name no maker: what a company installs, it says itself."""

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.models import Company, DeviceModel, Kind, Maker, Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting
from fleet.operations.rollback import unchanged_if_refused

GENERIC = "generic"
STARTER_LISTS = {GENERIC: gettext_lazy("One entry for each usual kind of device, without makers")}

# Where labels are is common practice, no source; a company writes its own makers' places over it.
_GENERIC_MODELS = (
    (Kind.INVERTER, gettext_lazy("Inverter, single-phase"), gettext_lazy("On the side of the housing")),
    (Kind.INVERTER, gettext_lazy("Inverter, three-phase"), gettext_lazy("On the side of the housing")),
    (Kind.BATTERY, gettext_lazy("Battery"), gettext_lazy("On the side of the housing, one on each module of several")),
    (Kind.COMMUNICATION, gettext_lazy("Communication module"), gettext_lazy("On its back or its edge")),
    (Kind.METER, gettext_lazy("Energy meter"), gettext_lazy("On its front")),
    (Kind.BACKUP_SWITCH, gettext_lazy("Backup switch"), gettext_lazy("On the side of the housing")),
    (Kind.OPTIMISER, gettext_lazy("Optimiser"), gettext_lazy("On its face; read it before the panel covers it")),
    (Kind.CHARGE_POINT, gettext_lazy("Charge point"), gettext_lazy("On the side or the underside of the housing")),
)


class NoSuchList(BadInput):
    """There is no starter list of this name."""

    code = "no_such_list"
    sentence = gettext_lazy("There is no starter list of this name. Nothing was added.")


class CatalogueBegun(Conflicting):
    """A starter list is for an empty catalogue."""

    code = "catalogue_begun"
    sentence = gettext_lazy("The catalogue has entries already, so nothing was added.")


@unchanged_if_refused
def take_starter_list(*, actor: Member, name: str) -> int:
    """Begin an empty catalogue with a starter list; gives how many models it brought.

    Raises NoSuchList, CatalogueBegun, NotAllowed.
    """
    require(actor, Act.MANAGE_COMPANY)
    with transaction.atomic():
        company = Company.objects.select_for_update().get(pk=actor.company_id)
        if Maker.objects.filter(company=company).exists():
            raise CatalogueBegun
        return begin_catalogue(company, name, actor)


def begin_catalogue(company: Company, name: str, actor: Member | None = None) -> int:
    """Write a starter list into an empty catalogue, inside the caller's transaction. Raises NoSuchList."""
    if name not in STARTER_LISTS:
        raise NoSuchList(field="name")
    maker = Maker.objects.create(company=company, name=_("Maker not named"))
    made = DeviceModel.objects.bulk_create(
        DeviceModel(company=company, maker=maker, kind=kind, name=str(word), label_hint=str(hint))
        for kind, word, hint in _GENERIC_MODELS
    )
    record_act(act="take_starter_list", company=company, about=maker, actor=actor, after={"list": name})
    return len(made)
