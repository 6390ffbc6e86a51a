"""allauth's forms where the house differs: any address that mail can be sent to signs in, and no timing tells who has
an account.
"""

from typing import Any

from allauth.account.forms import LoginForm, ResetPasswordForm, ResetPasswordKeyForm
from django import forms
from django.db import transaction
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext_lazy as _

from fleet.operations.addresses import confirm_address
from onboarding.forms.account_words import NEW_PASSWORD, InOurWords
from onboarding.limits import steadily
from onboarding.operations.letter_answers import confirm_letter_answers

LONGEST_ADDRESS = 254


def _any_address(field: forms.Field) -> forms.CharField:
    """``field`` without Django's own idea of addresses, which knows ASCII local parts only (RFC 6531 allows more)."""
    return forms.CharField(label=field.label, widget=field.widget, max_length=LONGEST_ADDRESS)


class SignInForm(LoginForm):  # type: ignore[misc]  # allauth ships no types
    """Address and password."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"] = _any_address(self.fields["login"])
        self.fields["login"].label = _("E-mail address")
        self.fields["password"].label = _("Password")
        self.fields["password"].help_text = format_html(
            '<a href="{}">{}</a>', reverse("account_reset_password"), _("Forgot the password?")
        )
        if "remember" in self.fields:
            self.fields["remember"].label = _("Stay signed in on this device")


class ForgottenPasswordForm(ResetPasswordForm):  # type: ignore[misc]  # as above
    """Asks for a link to a new password; the answer takes as long for an address that nobody has."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["email"] = _any_address(self.fields["email"])
        self.fields["email"].label = _("E-mail address")

    def save(self, request: HttpRequest, **kwargs: Any) -> str:
        """Queue the mail where there is an account."""
        with steadily():
            return str(super().save(request, **kwargs))


class NewPasswordForm(InOurWords, ResetPasswordKeyForm):  # type: ignore[misc]  # as above
    """A new password by the link that was mailed, whose address is thereby confirmed."""

    labels = NEW_PASSWORD

    def save(self) -> None:
        """Set the password."""
        with transaction.atomic():
            super().save()
            confirm_address(self.user)
            confirm_letter_answers(user=self.user)
