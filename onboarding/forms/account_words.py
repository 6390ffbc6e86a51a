"""allauth's remaining forms with the house's labels, and no words inside the fields."""

from typing import TYPE_CHECKING, Any, ClassVar

from allauth.account import forms as account
from allauth.mfa.base import forms as codes
from allauth.mfa.totp import forms as totp
from allauth.mfa.webauthn import forms as keys
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

PASSKEY = _("This key alone signs me in, without the password.")
PASSKEY_HELP = _("The key then asks for a fingerprint, a face or its PIN each time.")


class InOurWords:
    """Gives the fields of a form their labels."""

    labels: "ClassVar[dict[str, StrOrPromise]]" = {}
    helps: "ClassVar[dict[str, StrOrPromise]]" = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields  # type: ignore[attr-defined]  # of the form that this is mixed into
        for field in fields.values():
            field.widget.attrs.pop("placeholder", None)
        for name, label in self.labels.items():
            if name in fields:
                fields[name].label = label
        for name, text in self.helps.items():
            if name in fields:
                fields[name].help_text = text


NEW_PASSWORD: "dict[str, StrOrPromise]" = {"password1": _("New password"), "password2": _("New password once more")}


class ChangePasswordForm(InOurWords, account.ChangePasswordForm):  # type: ignore[misc]  # allauth ships no types
    """The password, by who knows the present one."""

    labels = {"oldpassword": _("Present password"), **NEW_PASSWORD}


class SetPasswordForm(InOurWords, account.SetPasswordForm):  # type: ignore[misc]  # as above
    """The first password of an account that had none."""

    labels = NEW_PASSWORD


class OnceMoreForm(InOurWords, account.ReauthenticateForm):  # type: ignore[misc]  # as above
    """The password once more, before the way in is changed."""

    labels = {"password": _("Your password")}


class CodeForm(InOurWords, codes.AuthenticateForm):  # type: ignore[misc]  # as above
    """The second factor on signing in."""

    labels = {"code": _("Code")}


class CodeOnceMoreForm(InOurWords, codes.ReauthenticateForm):  # type: ignore[misc]  # as above
    """The second factor before the way in is changed."""

    labels = {"code": _("Code of your app, or a recovery code")}


class UseAppForm(InOurWords, totp.ActivateTOTPForm):  # type: ignore[misc]  # as above
    """The first code of an app."""

    labels = {"code": _("Code that the app shows")}


class AddKeyForm(InOurWords, keys.AddWebAuthnForm):  # type: ignore[misc]  # as above
    """A new passkey or security key."""

    labels = {"name": _("Name of the key"), "passwordless": PASSKEY}
    helps = {"passwordless": PASSKEY_HELP}


class RenameKeyForm(InOurWords, keys.EditWebAuthnForm):  # type: ignore[misc]  # as above
    """The name of a key."""

    labels = {"name": _("Name of the key")}
