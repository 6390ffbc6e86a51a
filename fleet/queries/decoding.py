"""What the decoder must know of a company."""

from django.conf import settings
from django.utils import timezone

from fleet.labels.forms import LabelForm
from fleet.labels.reading import DecodeOptions
from fleet.models import Company


def decode_options(company: Company) -> DecodeOptions:
    """The decoder's options for this company, today: its link domains, its own label forms, our own address."""
    forms = company.label_forms.filter(active=True).order_by("id").values_list("name", "pattern")
    return DecodeOptions(
        today=timezone.localdate(),
        link_domains=frozenset(company.link_domains.values_list("domain", flat=True)),
        base_urls=(settings.BASE_URL,),
        label_forms=tuple(LabelForm(name, pattern) for name, pattern in forms),
    )
