"""Changing what the catalogue says of a model: kind, numbers, ratings, firmware, warranty, and where its label is."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from fleet.labels.gs1_values import has_check_digit
from fleet.models import Device, DeviceModel, ExpectedDevice, Kind, Maker, Member, ModelNumber
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused

GTIN_LENGTHS = (8, 12, 13, 14)  # GS1 General Specifications, section 3.3.2: shorter ones are filled with zeros to 14
MOST_NUMBERS = 20
MOST_RATINGS = 20


class UnknownModel(NotThere):
    """No such model in the company's catalogue."""

    code = "unknown_model"


class BadModel(BadInput):
    """Some facts cannot be used; ``facts["errors"]`` maps fields to messages."""

    code = "bad_model"


class ModelKnown(Conflicting):
    """The maker has a model of this name already."""

    code = "model_known"
    sentence = _("This maker has a model of this name already. Nothing was saved; change that one.")


class GtinKnown(Conflicting):
    """Another model bears the GTIN."""

    code = "gtin_known"
    sentence = _("Another model in the catalogue has this GTIN. Nothing was saved; a GTIN names one model.")


class ModelInUse(Conflicting):
    """Devices of the model are in the register."""

    code = "model_in_use"
    sentence = _("Devices of this model are in the register, so it was not removed.")


@dataclass(frozen=True, kw_only=True)
class ModelFacts:
    """What people say about a model. The first GTIN and part number are the usual ones, the others name it too."""

    name: str
    kind: str
    gtins: tuple[str, ...] = ()
    part_numbers: tuple[str, ...] = ()
    ratings: Mapping[str, str] = field(default_factory=dict)
    current_firmware: str = ""
    warranty_months: int | None = None
    label_hint: str = ""


def facts_of_model(model: DeviceModel) -> ModelFacts:
    """What the catalogue says of the model now."""
    numbers = sorted(model.numbers.all(), key=lambda number: number.pk)
    return ModelFacts(
        name=model.name,
        kind=model.kind,
        gtins=_with(model.gtin, [row.value for row in numbers if row.scheme == "gtin"]),
        part_numbers=_with(model.part_number, [row.value for row in numbers if row.scheme == "part_number"]),
        ratings=model.ratings,
        current_firmware=model.current_firmware,
        warranty_months=model.warranty_months,
        label_hint=model.label_hint,
    )


@unchanged_if_refused
def add_model(*, actor: Member, maker: Maker, facts: ModelFacts) -> DeviceModel:
    """A new model of a maker. Raises UnknownModel (unknown maker), BadModel, ModelKnown, GtinKnown, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    if maker.company_id != actor.company_id:
        raise UnknownModel
    facts = _clean(facts)
    with transaction.atomic():
        model = DeviceModel(company=actor.company, maker=maker)
        _save(model, facts)
        record_act(act="add_model", company=actor.company, about=model, actor=actor, after=asdict(facts))
    return model


@unchanged_if_refused
def edit_model(*, actor: Member, model: DeviceModel, facts: ModelFacts) -> DeviceModel:
    """The catalogue says this of the model from now on; its devices take a changed kind.

    Raises UnknownModel, BadModel, ModelKnown, GtinKnown, NotAllowed.
    """
    _require(actor, model)
    facts = _clean(facts)
    with transaction.atomic():
        row = DeviceModel.objects.select_for_update().get(pk=model.pk)
        before = facts_of_model(row)
        if before == facts:
            return row
        _save(row, facts)
        if before.kind != facts.kind:
            Device.objects.filter(model=row).update(kind=facts.kind)
            ExpectedDevice.objects.filter(model=row).update(kind=facts.kind)
        record_act(
            act="edit_model", company=actor.company, about=row, actor=actor, before=asdict(before), after=asdict(facts)
        )
    return row


@unchanged_if_refused
def remove_model(*, actor: Member, model: DeviceModel) -> None:
    """Take a model that no device is of out of the catalogue. Raises UnknownModel, ModelInUse, NotAllowed."""
    _require(actor, model)
    with transaction.atomic():
        if Device.objects.filter(model=model).exists():
            raise ModelInUse
        record_act(
            act="remove_model", company=actor.company, about=model, actor=actor, before=asdict(facts_of_model(model))
        )
        DeviceModel.objects.filter(pk=model.pk).delete()


def _save(model: DeviceModel, facts: ModelFacts) -> None:
    others = DeviceModel.objects.filter(company_id=model.company_id).exclude(pk=model.pk)
    if (
        others.filter(gtin__in=facts.gtins).exists()
        or ModelNumber.objects.filter(company_id=model.company_id, scheme="gtin", value__in=facts.gtins)
        .exclude(model_id=model.pk)
        .exists()
    ):
        raise GtinKnown(field="gtins")
    if others.filter(maker_id=model.maker_id, name__iexact=facts.name).exists():
        raise ModelKnown(field="name")
    model.name, model.kind, model.ratings = facts.name, facts.kind, dict(facts.ratings)
    model.gtin, model.part_number = next(iter(facts.gtins), ""), next(iter(facts.part_numbers), "")
    model.current_firmware, model.warranty_months = facts.current_firmware, facts.warranty_months
    model.label_hint = facts.label_hint
    further = [("gtin", value) for value in facts.gtins[1:]]
    further += [("part_number", value) for value in facts.part_numbers[1:]]
    try:
        with transaction.atomic():
            model.save()
            ModelNumber.objects.filter(model=model).delete()
            ModelNumber.objects.bulk_create(
                ModelNumber(company_id=model.company_id, model=model, scheme=scheme, value=value)
                for scheme, value in further
            )
    except IntegrityError as error:
        raise ModelKnown(field="name") from error


def _clean(facts: ModelFacts) -> ModelFacts:
    errors: dict[str, object] = {}
    gtins, part_numbers = _each(facts.gtins), _each(facts.part_numbers)
    name, firmware, hint = " ".join(facts.name.split()), facts.current_firmware.strip(), facts.label_hint.strip()
    ratings = {" ".join(key.split()): " ".join(value.split()) for key, value in facts.ratings.items() if value.strip()}
    if not 1 <= len(name) <= 80:
        errors["name"] = _("A model's name takes 1 to 80 characters.")
    if facts.kind not in Kind.values:
        errors["kind"] = _("Choose one of the kinds.")
    if len(gtins) > MOST_NUMBERS or not all(_is_gtin(gtin) for gtin in gtins):
        errors["gtins"] = _("A GTIN has 8, 12, 13 or 14 digits, and its last digit checks the others.")
    if len(part_numbers) > MOST_NUMBERS or any(len(number) > 80 for number in part_numbers):
        errors["part_numbers"] = _("At most 20 part numbers of 80 characters.")
    if len(ratings) > MOST_RATINGS or any(not key or len(key) > 40 or len(ratings[key]) > 80 for key in ratings):
        errors["ratings"] = _("At most 20 ratings, each with a name of 40 and a value of 80 characters.")
    if len(firmware) > 40:
        errors["current_firmware"] = _("A firmware version takes at most 40 characters.")
    if facts.warranty_months is not None and not 0 <= facts.warranty_months <= 600:
        errors["warranty_months"] = _("A warranty lasts 0 to 600 months.")
    if len(hint) > 200:
        errors["label_hint"] = _("At most 200 characters.")
    if errors:
        raise BadModel(errors=errors)
    return ModelFacts(
        name=name, kind=facts.kind, gtins=tuple(dict.fromkeys(gtin.zfill(14) for gtin in gtins)),
        part_numbers=part_numbers, ratings=ratings, current_firmware=firmware,
        warranty_months=facts.warranty_months, label_hint=hint,
    )  # fmt: skip


def _is_gtin(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) in GTIN_LENGTHS and has_check_digit(text)


def _each(values: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(value.strip() for value in values if value.strip()))


def _with(first: str, further: list[str]) -> tuple[str, ...]:
    return (first, *further) if first else tuple(further)


def _require(actor: Member, model: DeviceModel) -> None:
    require(actor, Act.MANAGE_COMPANY)
    if model.company_id != actor.company_id:
        raise UnknownModel
