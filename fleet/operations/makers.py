"""Changing who makes what: adding, renaming, removing makers, and making one of two that are written differently."""

from collections.abc import Iterable, Mapping

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Device, DeviceModel, ExpectedDevice, Maker, MakerSpelling, Member, ModelNumber
from fleet.operations.audit import record_act
from fleet.operations.catalogue import maker_named
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused

MOST_SPELLINGS = 20


class UnknownMaker(NotThere):
    """No such maker in the company's catalogue."""

    code = "unknown_maker"


class BadMaker(BadInput):
    """The name or a spelling cannot be used."""

    code = "bad_maker"


class MakerKnown(Conflicting):
    """The name is that of another maker, or one of its spellings; ``facts["maker"]`` is its public id."""

    code = "maker_known"
    sentence = _("The catalogue has a maker of this name. Nothing was saved; merge the two if they are the same.")


class MakerInUse(Conflicting):
    """The maker still has models."""

    code = "maker_in_use"
    sentence = _("This maker still has models in the catalogue, so it was not removed. Remove or merge them first.")


@unchanged_if_refused
def add_maker(*, actor: Member, name: str, spellings: Iterable[str] = ()) -> Maker:
    """A new maker. Raises BadMaker, MakerKnown, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    name, others = _clean(name, spellings)
    with transaction.atomic():
        _refuse_known(actor.company, None, [name, *others])
        maker = _saved(Maker(company=actor.company, name=name))
        _spell(maker, others)
        _record(actor, "add_maker", maker, {}, {"name": name, "spellings": others})
    return maker


@unchanged_if_refused
def edit_maker(*, actor: Member, maker: Maker, name: str, spellings: Iterable[str]) -> Maker:
    """The maker has this name and exactly these other spellings. Raises UnknownMaker, BadMaker, MakerKnown, NotAllowed.

    Sites where its devices stand are found by the new name as soon as the search has caught up.
    """
    _require(actor, maker)
    name, others = _clean(name, spellings)
    with transaction.atomic():
        row = Maker.objects.select_for_update().get(pk=maker.pk)
        before = {"name": row.name, "spellings": _spellings_of(row)}
        _refuse_known(actor.company, row, [name, *others])
        row.name = name
        _saved(row)
        MakerSpelling.objects.filter(maker=row).delete()
        _spell(row, others)
        _record(actor, "edit_maker", row, before, {"name": name, "spellings": others})
    return row


@unchanged_if_refused
def remove_maker(*, actor: Member, maker: Maker) -> None:
    """Take a maker without models out of the catalogue. Raises UnknownMaker, MakerInUse, NotAllowed."""
    _require(actor, maker)
    with transaction.atomic():
        if DeviceModel.objects.filter(maker=maker).exists():
            raise MakerInUse
        _record(actor, "remove_maker", maker, {"name": maker.name, "spellings": _spellings_of(maker)}, {})
        Maker.objects.filter(pk=maker.pk).delete()


@unchanged_if_refused
def merge_makers(*, actor: Member, maker: Maker, into: Maker) -> Maker:
    """``maker`` is ``into`` written differently: models and devices go over, and its name stays known as a spelling.

    A model that both have under one name becomes one: what is said of it there stays, what is not said is taken over,
    and both numbers name it. Raises UnknownMaker, BadMaker (both are the same), NotAllowed.
    """
    _require(actor, maker)
    _require(actor, into)
    if maker.pk == into.pk:
        raise BadMaker(_("A maker cannot be merged with itself. Nothing was changed."), field="into")
    with transaction.atomic():
        rows = {row.pk: row for row in Maker.objects.select_for_update().filter(pk__in=(maker.pk, into.pk))}
        if len(rows) != 2:
            raise UnknownMaker
        merged, kept = rows[maker.pk], rows[into.pk]
        known = {model.name.lower(): model for model in DeviceModel.objects.filter(maker=kept)}
        joined, moved = [], []
        for model in DeviceModel.objects.filter(maker=merged).order_by("pk"):
            if (same := known.get(model.name.lower())) is not None:
                joined.append({"model": model.name, "devices": _join(model, same)})
            else:
                DeviceModel.objects.filter(pk=model.pk).update(maker=kept)
                moved.append(model.name)
        before = {"merged": merged.name, "merged_spellings": _spellings_of(merged)}
        MakerSpelling.objects.filter(maker=merged).update(maker=kept)
        if not kept.measurements_url:  # owners of the merged maker's devices keep their link
            kept.measurements_url = merged.measurements_url
            kept.save(update_fields=["measurements_url"])
        merged.delete()
        MakerSpelling.objects.create(company=kept.company, maker=kept, name=merged.name)
        _record(actor, "merge_makers", kept, before, {"into": kept.name, "moved": moved, "joined": joined})
    return kept


def _join(model: DeviceModel, kept: DeviceModel) -> int:
    """``model`` becomes ``kept``; gives how many devices went over."""
    for field in ("gtin", "part_number", "current_firmware", "warranty_months", "label_hint"):
        if getattr(kept, field) in ("", None):
            setattr(kept, field, getattr(model, field))
    kept.ratings = model.ratings | kept.ratings
    numbers = [(row.scheme, row.value) for row in ModelNumber.objects.filter(model=model)]
    numbers += [(scheme, getattr(model, scheme)) for scheme in ModelNumber.Scheme.values if getattr(model, scheme)]
    there = {(row.scheme, row.value) for row in ModelNumber.objects.filter(model=kept)}
    own = {(scheme, getattr(kept, scheme)) for scheme in ModelNumber.Scheme.values}
    devices = Device.objects.filter(model=model).update(model=kept, kind=kept.kind)
    ExpectedDevice.objects.filter(model=model).update(model=kept, kind=kept.kind)
    model.delete()
    kept.save()
    ModelNumber.objects.bulk_create(
        ModelNumber(company_id=kept.company_id, model=kept, scheme=scheme, value=value)
        for scheme, value in dict.fromkeys(numbers)
        if (scheme, value) not in there | own
    )
    return devices


def _clean(name: str, spellings: Iterable[str]) -> tuple[str, list[str]]:
    name = " ".join(name.split())
    others = {tidy.lower(): tidy for each in spellings if (tidy := " ".join(each.split()))}
    others.pop(name.lower(), None)
    if not 1 <= len(name) <= 80:
        raise BadMaker(_("A maker's name takes 1 to 80 characters. Nothing was saved."), field="name")
    if len(others) > MOST_SPELLINGS or any(len(other) > 80 for other in others.values()):
        raise BadMaker(_("At most 20 other spellings of 80 characters. Nothing was saved."), field="spellings")
    return name, list(others.values())


def _refuse_known(company: Company, maker: Maker | None, names: list[str]) -> None:
    for position, name in enumerate(names):
        known = maker_named(company, name)
        if known is not None and (maker is None or known.pk != maker.pk):
            raise MakerKnown(field="spellings" if position else "name", maker=str(known.public_id))


def _saved(maker: Maker) -> Maker:
    try:
        with transaction.atomic():
            maker.save()
    except IntegrityError as error:
        raise MakerKnown(field="name") from error
    return maker


def _spell(maker: Maker, names: list[str]) -> None:
    MakerSpelling.objects.bulk_create(
        MakerSpelling(company_id=maker.company_id, maker=maker, name=name) for name in names
    )


def _spellings_of(maker: Maker) -> list[str]:
    return list(maker.spellings.order_by("name").values_list("name", flat=True))


def _require(actor: Member, maker: Maker) -> None:
    require(actor, Act.MANAGE_COMPANY)
    if maker.company_id != actor.company_id:
        raise UnknownMaker


def _record(actor: Member, act: str, maker: Maker, before: Mapping[str, object], after: Mapping[str, object]) -> None:
    record_act(act=act, company=actor.company, about=maker, actor=actor, before=dict(before), after=dict(after))
