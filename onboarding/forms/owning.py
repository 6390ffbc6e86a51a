"""What owners change about themselves, and what staff type about owners."""

from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from onboarding.models import Owner


def _language_field() -> forms.ChoiceField:
    return forms.ChoiceField(
        label=_("Language of the permission texts"),
        choices=settings.WORDING_LANGUAGES,
        help_text=_("Pages and mails are in English."),
    )


class OwnFactsForm(forms.Form):
    """An owner's own telephone, postal address and language."""

    phone = forms.CharField(
        label=_("Telephone"), max_length=40, required=False, widget=forms.TextInput(attrs={"autocomplete": "tel"})
    )
    postal_address = forms.CharField(
        label=_("Postal address"),
        max_length=300,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "street-address"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"] = _language_field()


class SecondOwnerForm(forms.Form):
    """Another owner of the same site."""

    name = forms.CharField(label=_("Their name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    email = forms.CharField(
        label=_("Their e-mail address"), max_length=254, widget=forms.EmailInput(attrs={"autocomplete": "off"})
    )
    agreed = forms.BooleanField(label=_("They know that they will get one e-mail about this roof."))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"] = _language_field()


class OwnerForm(forms.Form):
    """What staff know of an owner."""

    name = forms.CharField(label=_("Name"), max_length=120)
    email = forms.CharField(
        label=_("E-mail address"),
        max_length=254,
        required=False,
        help_text=_("Without one, a letter with a code can be printed."),
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    phone = forms.CharField(label=_("Telephone"), max_length=40, required=False)
    postal_address = forms.CharField(label=_("Postal address"), max_length=300, required=False)
    kind = forms.ChoiceField(label=_("Person or organisation"), choices=Owner.Kind, initial=Owner.Kind.PERSON)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"] = _language_field()


class SoldForm(forms.Form):
    """The day on which a house passes to somebody else."""

    sold_on = forms.DateField(
        label=_("On which day does the house pass to the new owner?"),
        error_messages={"required": _("Give the day on which it passes."), "invalid": _("This is not a day.")},
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
