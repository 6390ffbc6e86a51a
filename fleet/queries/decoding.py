"""What the decoder must know of a company."""

from django.conf import settings
from django.db.models import Value
from django.utils import timezone

from fleet.labels.forms import LabelForm
from fleet.labels.reading import DecodeOptions
from fleet.models import Company


def decode_options(company: Company) -> DecodeOptions:
    """The decoder's options for this company, today: its link domains, its own label forms, our own address."""
    forms = company.label_forms.filter(active=True).values_list("id", "name", "pattern")
    domains = company.link_domains.values_list(Value(0), "domain", Value(""))
    known = sorted(forms.union(domains, all=True))  # one statement: a label pasted into the search box waits for it
    return DecodeOptions(
        today=timezone.localdate(),
        link_domains=frozenset(domain for form, domain, _none in known if not form),
        base_urls=(settings.BASE_URL,),
        label_forms=tuple(LabelForm(name, pattern) for form, name, pattern in known if form),
    )
