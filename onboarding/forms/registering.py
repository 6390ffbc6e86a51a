"""What is known of a site's owner when the site is registered; all of it may be left out."""

from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext as _text
from django.utils.translation import gettext_lazy as _

from onboarding.models import Owner
from onboarding.operations.owners import OwnerFacts


class FirstOwnerForm(forms.Form):
    """The owner on the registering page; where anything is said, a name is needed."""

    mostly_optional = True
    name = forms.CharField(
        label=_("Name"), max_length=120, required=False, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    phone = forms.CharField(
        label=_("Telephone"), max_length=40, required=False,
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
    )  # fmt: skip
    email = forms.CharField(
        label=_("E-mail address"),
        max_length=254,
        required=False,
        help_text=_("Without one, a letter with a code can be printed."),
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    kind = forms.ChoiceField(label=_("Person or organisation"), choices=Owner.Kind, initial=Owner.Kind.PERSON)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"] = forms.ChoiceField(label=_("Language of the owner"), choices=settings.LANGUAGES)

    def clean(self) -> dict[str, Any]:
        """A telephone or an address without a name is nobody's."""
        given = super().clean() or {}
        if (given.get("phone") or given.get("email")) and not given.get("name", "").strip():
            self.add_error("name", _text("Give the owner’s name as well."))
        return given

    @property
    def facts(self) -> OwnerFacts | None:
        """The owner, or None where nobody said."""
        return OwnerFacts(**self.cleaned_data) if self.cleaned_data["name"].strip() else None
