"""What the decoder must know of a company."""

from functools import cache

from django.conf import settings
from django.db.models import Value
from django.utils import timezone
from django.utils.functional import lazy

from fleet.labels.forms import LabelForm
from fleet.labels.reading import DecodeOptions, TaughtForm
from fleet.models import Company


def decode_options(company: Company) -> DecodeOptions:
    """The decoder's options for this company, today: its link domains, its own label forms, our own address.

    The company is asked, by one statement, only where a label is not read by a standard before: a label pasted into the
    search box waits for it.
    """

    @cache
    def known() -> list[tuple[int, str, str]]:
        forms = company.label_forms.filter(active=True).values_list("id", "name", "pattern")
        domains = company.link_domains.values_list(Value(0), "domain", Value(""))
        return sorted(forms.union(domains, all=True))

    def link_domains() -> frozenset[str]:
        return frozenset(domain for form, domain, _none in known() if not form)

    def label_forms() -> tuple[TaughtForm, ...]:
        return tuple(LabelForm(name, pattern, key=str(form)) for form, name, pattern in known() if form)

    return DecodeOptions(
        today=timezone.localdate(),
        link_domains=lazy(link_domains, frozenset)(),
        base_urls=(settings.BASE_URL,),
        label_forms=lazy(label_forms, tuple)(),
    )
