"""What the owner answers and types on accepting."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.passwords import LONGEST
from onboarding.models import Purpose

YES = "yes"
ANSWERS = [(YES, _("Yes")), ("no", _("No"))]


class AcceptForm(forms.Form):
    """Yes or no to each purpose, neither chosen beforehand; the password and address only where they are needed."""

    email = forms.CharField(
        label=_("Your e-mail address"),
        required=False,
        max_length=254,
        help_text=_("Leave it out if you have none; you then get a sign-in name."),
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
    password = forms.CharField(
        label=_("Choose a password"),
        strip=False,
        max_length=LONGEST,
        help_text=_("At least 15 characters. Three or four words that only you would put together work well."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password", "data-meter": "password-meter"}),
    )

    def __init__(self, *args: Any, needs_password: bool, needs_email: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for purpose in Purpose:
            self.fields[purpose.value] = forms.ChoiceField(
                choices=ANSWERS, label=purpose.label, required=False, widget=forms.RadioSelect
            )
        if not needs_password:
            del self.fields["password"]
        if not needs_email:
            del self.fields["email"]

    @property
    def choices(self) -> dict[str, bool]:
        """The answer to each purpose; what was left open is no."""
        return {purpose: self.cleaned_data[purpose] == YES for purpose in Purpose.values}


class LetterCodeForm(forms.Form):
    """The code of a printed letter."""

    code = forms.CharField(
        label=_("Code from the letter"),
        max_length=40,
        help_text=_("Sixteen letters and digits in groups of four. Small letters and missing dashes are fine."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
