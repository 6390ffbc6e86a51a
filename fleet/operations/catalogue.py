"""Matching the company's catalogue with what labels and lists say."""

from django.db.models import Q

from fleet.labels.reading import Reading
from fleet.models import Company, DeviceModel, Maker


def maker_named(company: Company, name: str) -> Maker | None:
    """The company's maker of this name, in any of its known spellings, capitals aside."""
    name = " ".join(name.split())
    makers = Maker.objects.filter(company=company)
    return (
        makers.filter(name__iexact=name).first() or makers.filter(spellings__name__iexact=name).first()
        if name
        else None
    )


def model_of_reading(company: Company, reading: Reading) -> DeviceModel | None:
    """The one catalogue model that a reading names: by GTIN, else part number, else maker and model.

    None where none or several fit.
    """
    if reading.gtin:
        return _numbered(company, "gtin", reading.gtin)
    if reading.part_number and (model := _numbered(company, "part_number", reading.part_number)):
        return model
    maker = maker_named(company, reading.maker or "")
    if maker is None or not reading.model:
        return None
    return DeviceModel.objects.filter(maker=maker, name__iexact=reading.model).select_related("maker").first()


def _numbered(company: Company, scheme: str, value: str) -> DeviceModel | None:
    further = Q(numbers__scheme=scheme, numbers__value=value)
    models = DeviceModel.objects.filter(Q(**{scheme: value}) | further, company=company).select_related("maker")
    found = list(models.distinct()[:2])
    return found[0] if len(found) == 1 else None
