"""Saying where owners see what their devices of a maker measure."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import Maker, Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, NotThere
from fleet.operations.rollback import unchanged_if_refused


class UnknownMaker(NotThere):
    """No such maker in the company's catalogue."""

    code = "unknown_maker"


class BadMeasurementPage(BadInput):
    """Not a page that owners can be sent to."""

    code = "bad_measurement_page"
    sentence = _("This is not an address that begins with https:// and names a site. Nothing was saved.")


@unchanged_if_refused
@transaction.atomic
def set_measurement_page(*, actor: Member, maker: str, url: str) -> Maker:
    """Owners with devices of ``maker`` (its name) get a link to ``url``; an empty one takes the link away.

    Raises UnknownMaker, BadMeasurementPage, NotAllowed.
    """
    require(actor, Act.MANAGE_COMPANY)
    found = Maker.objects.filter(company_id=actor.company_id, name__iexact=maker).first()
    if found is None:
        raise UnknownMaker
    before, found.measurements_url = found.measurements_url, url.strip()
    try:
        found.full_clean(validate_unique=False, validate_constraints=True)
    except ValidationError as error:
        raise BadMeasurementPage(field="url") from error
    if found.measurements_url != before:
        found.save(update_fields=["measurements_url"])
        record_act(
            act="set_measurement_page", company=actor.company, about=found, actor=actor,
            before={"url": before}, after={"url": found.measurements_url},
        )  # fmt: skip
    return found
