"""Another address for one's own account."""

from django import forms
from django.utils.translation import gettext_lazy as _


class AddressForm(forms.Form):
    """The address that is to take the present one's place."""

    address = forms.CharField(
        label=_("New e-mail address"),
        max_length=254,
        help_text=_("It gets a mail with a link. Until that link is used, nothing changes."),
        widget=forms.EmailInput(attrs={"autocomplete": "email", "spellcheck": "false"}),
    )
