"""What the label decoder must know of a company."""

from django.conf import settings
from django.utils import timezone

from fleet.labels.reading import DecodeOptions
from fleet.models import Company


def decode_options(company: Company) -> DecodeOptions:
    """What the decoder must know of this company, today: its link domains, its own label forms, our own address."""
    return DecodeOptions(
        today=timezone.localdate(),
        link_domains=frozenset(company.link_domains.values_list("domain", flat=True)),
        base_urls=(settings.BASE_URL,),
    )
