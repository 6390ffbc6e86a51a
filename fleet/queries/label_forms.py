"""A company's own label forms."""

from django.db.models import QuerySet

from fleet.models import LabelForm, Member


def label_forms_of(member: Member) -> QuerySet[LabelForm]:
    """Every form of the company, in the order in which they are tried."""
    return LabelForm.objects.filter(company_id=member.company_id).order_by("id")


def label_form_by_name(member: Member, name: str) -> LabelForm | None:
    """The form with this name, letter case aside."""
    return label_forms_of(member).filter(name__iexact=name).first()
