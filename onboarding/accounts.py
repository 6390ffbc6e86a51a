"""allauth's adapter: sign-up is closed, and account mail is queued as a Delivery."""

from contextlib import suppress
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.core.internal import ratelimit
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.acting import client_address
from fleet.known_devices import known_device, remember
from fleet.models import User
from fleet.own_paths import is_own_path
from fleet.passwords import note_length
from fleet.spoken import spoken
from onboarding.addresses import folded_address
from onboarding.operations.account_mail import queue_account_mail
from onboarding.operations.deliveries import UnusableAddress

NOTICES: dict[str, str | Promise] = {
    "account/email/password_changed": _("The password of your account was changed."),
    "account/email/password_set": _("A password was set for your account."),
    "account/email/password_reset": _("The password of your account was set anew by a link sent to this address."),
    "mfa/email/totp_activated": _("Sign-in now asks for a code of your authenticator app."),
    "mfa/email/totp_deactivated": _("Sign-in no longer asks for a code of your authenticator app."),
    "mfa/email/recovery_codes_generated": _("New recovery codes were made; the earlier ones no longer work."),
    "mfa/email/webauthn_added": _("A passkey was added to your account."),
    "mfa/email/webauthn_removed": _("A passkey was taken off your account."),
}
KNOWN_DEVICE = {"known_device": "10/300s/key"}  # wrong passwords from a browser that has signed in here before
INCORRECT_CODE = _("This code is not right, or its time is over. Look at the app again; nothing was changed.")
REFUSALS: dict[str, str | Promise] = {
    "account_inactive": _("This account is closed."),
    "cannot_remove_primary_email": _("This is the address you sign in with, so it was kept."),
    "duplicate_email": _("This is your address already."),
    "email_password_mismatch": _("Address and password do not fit together. Check both for typing mistakes."),
    "enter_current_password": _("This is not your present password. Nothing was changed."),
    "incorrect_code": INCORRECT_CODE,
    "incorrect_password": _("This is not your password. Nothing was changed."),
    "invalid_or_expired_key": _("This link no longer works. Nothing was changed."),
    "invalid_login": _("This did not sign you in. Try again."),
    "invalid_password_reset": _("This link no longer works. Your password was not changed."),
    "too_many_login_attempts": _("Too many tries from here. Wait five minutes, then try again."),
    "unverified_primary_email": _("Confirm the address first; a mail with a link goes to it."),
    "same_as_current": _("This is what it was before. Type what it should be instead."),
    "rate_limited": _("This was tried too often in a short time. Wait a few minutes, then try again."),
}
WAYS: dict[str, str | Promise] = {
    "reauthenticate": _("By your password"),
    "mfa_reauthenticate": _("By a code of your app, or a recovery code"),
    "mfa_reauthenticate:webauthn": _("By a passkey or security key"),
}


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth ships no types
    """Nobody signs up by themselves: members are invited, owners accept."""

    error_messages = {**DefaultAccountAdapter.error_messages, **REFUSALS}

    def get_reauthentication_methods(self, user: User | AnonymousUser) -> list[dict[str, Any]]:
        """The ways to show once more who one is, in the house's words."""
        ways: list[dict[str, Any]] = super().get_reauthentication_methods(user)
        return [way | {"description": WAYS.get(way["id"], way["description"])} for way in ways]

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Always closed."""
        return False

    def is_safe_url(self, url: str | None) -> bool:
        """Only a path of ours is gone to after signing in or out."""
        return is_own_path(url)

    def get_client_ip(self, request: HttpRequest) -> str:
        """The client as the whole house counts it: by the proxy's word only where one stands in front."""
        return client_address(request)

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Count one try of a password, for the account whatever the request calls this host.

        Strangers share the tries of an account. Who signed in from this browser before, or is signed in now, has tries
        of their own, so that strangers lock nobody out.
        """
        account = self._get_login_attempts_cache_key(request, **credentials)
        device = _device_of(request, account)
        if not device:
            super().pre_authenticate(request, **credentials)
            return
        self._login_failed_rl_usage = ratelimit.consume(
            request, app="allauth.account", action="known_device", config=KNOWN_DEVICE, key=f"{account}:{device}"
        )
        if not self._login_failed_rl_usage:
            raise self.validation_error("too_many_login_attempts")

    def authenticate(self, request: HttpRequest, **credentials: Any) -> User | None:
        """The user behind right credentials; their password's length is noted."""
        user: User | None = super().authenticate(request, **credentials)
        if user is not None:
            note_length(user, str(credentials.get("password", "")))
        return user

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        address = str(credentials.get("email", ""))
        user = User.objects.filter(email__iexact=address).order_by("pk").first()
        return str(user.pk) if user else folded_address(address)

    def post_login(self, request: HttpRequest, user: User, **hooks: Any) -> HttpResponse:
        """Somebody is in, second factor included: their browser is known from now on."""
        response: HttpResponse = super().post_login(request, user, **hooks)
        remember(request, response, str(user.pk))
        return response

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Queue the mail as a Delivery. Addresses that belong to nobody are never written to."""
        user = context.get("user") or User.objects.filter(email__iexact=email).first()
        if user is None:
            return
        if template_prefix == "account/email/password_reset_key":
            _queue("password_reset", email, user, {})
        elif notice := NOTICES.get(template_prefix):
            with translation.override(_language_of(user)):
                _queue("account_notice", email, user, {"notice": str(notice)})


class SecondFactorAdapter(DefaultMFAAdapter):  # type: ignore[misc]  # allauth ships no types
    """A password that is short because a second factor stands beside it does not outlive that factor."""

    error_messages = DefaultMFAAdapter.error_messages | {
        "add_email_blocked": _("With a second factor in use the address cannot be changed here."),
        "cannot_generate_recovery_codes": _("Recovery codes are made once a key or an app is in use."),
        "incorrect_code": INCORRECT_CODE,
        "unverified_email": _("Confirm your e-mail address first; then a second factor can be used."),
        "cannot_delete_authenticator": _(
            "Your password is shorter than 15 characters and would not be enough alone. Nothing was taken off; set a "
            "longer password first."
        ),
    }

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        """Whether another factor stays, or the password may stand alone."""
        others = Authenticator.objects.filter(user=authenticator.user).exclude(pk=authenticator.pk)
        stays = others.exclude(type=Authenticator.Type.RECOVERY_CODES).exists()
        return stays or not authenticator.user.short_password


def _device_of(request: HttpRequest, account: str) -> str:
    if request.user.is_authenticated and str(request.user.pk) == account:
        return str(request.session.session_key)
    return known_device(request, account)


def _queue(template: str, email: str, user: User, context: dict[str, Any]) -> None:
    with suppress(UnusableAddress):  # an owner without e-mail signs in by a name that no mail reaches
        queue_account_mail(template=template, to_address=email, context=context, language=_language_of(user), user=user)


def _language_of(user: User) -> str:
    return spoken(user.language)
