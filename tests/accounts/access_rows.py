"""Sign-in, password, second factor and sessions: allauth's pages, and the two health checks.

These pages are about the person who is signed in and nothing else, so every role gets the same.
"""

from tests.access_table import Row, anybody, signed_in


def _get_and_post(status: int, *, anonymous: int = 302, post_status: int | None = None) -> list[Row]:
    return [
        signed_in(status, anonymous=anonymous),
        signed_in(status if post_status is None else post_status, anonymous=anonymous, method="post"),
    ]


def _token(_world: object) -> dict[str, str]:
    return {"key": "no-such-key"}


def _reset(_world: object) -> dict[str, str]:
    return {"uidb36": "1", "key": "no-such-key"}


def _passkey(_world: object) -> dict[str, int]:
    return {"pk": 1}


ROWS: dict[str, Row | list[Row]] = {
    "healthz": anybody(),
    "readyz": anybody(),
    "account_login": _get_and_post(302, anonymous=200),
    "account_logout": _get_and_post(200, post_status=302),
    "account_inactive": anybody(),
    "account_signup": _get_and_post(302, anonymous=200),  # the anonymous visitor reads that sign-up is closed
    "account_reauthenticate": _get_and_post(200),
    "account_email": _get_and_post(200, post_status=302),
    "account_email_verification_sent": anybody(),
    "account_change_password": _get_and_post(200),
    "account_set_password": _get_and_post(302),
    "account_reset_password": _get_and_post(200, anonymous=200),
    "account_reset_password_done": anybody(),
    "account_reset_password_from_key": [
        anybody(path=_reset, shared=True),
        anybody(path=_reset, shared=True, method="post"),
    ],
    "account_reset_password_from_key_done": anybody(),
    "account_confirm_login_code": _get_and_post(302),
    "account_confirm_email": [anybody(path=_token, shared=True), anybody(404, path=_token, method="post")],
    "mfa_index": signed_in(),
    "mfa_authenticate": _get_and_post(302),
    "mfa_reauthenticate": _get_and_post(302),
    "mfa_activate_totp": _get_and_post(302),
    "mfa_deactivate_totp": _get_and_post(404),
    "mfa_view_recovery_codes": signed_in(404),
    "mfa_generate_recovery_codes": _get_and_post(302),
    "mfa_download_recovery_codes": signed_in(404),
    "mfa_list_webauthn": signed_in(),
    "mfa_add_webauthn": _get_and_post(302),
    "mfa_reauthenticate_webauthn": _get_and_post(302),
    "mfa_remove_webauthn": [
        signed_in(302, path=_passkey, shared=True, method=method) for method in ("get", "post", "delete")
    ],
    "mfa_edit_webauthn": [signed_in(302, path=_passkey, shared=True, method=method) for method in ("get", "post")],
    "mfa_login_webauthn": _get_and_post(302),
    "usersessions_list": _get_and_post(200, post_status=302),
}
