"""URL names that no page of the demo leads to, each with its reason. An entry that a walk reaches fails it."""

BY_MAIL = "a link in a mail leads there"
PROGRAMS = "for programs; the reference describes it"
SCRIPT = "the field page's script asks it"
SECOND_FACTOR = "offered once a second factor is set up"
ACCOUNT_STEP = "a step of signing in that sign-in itself leads to"
NONE_IN_DEMO = "offered where there is such a thing, and the demo has none"

UNREACHED: dict[str, str] = {
    **dict.fromkeys(("account_confirm_email", "account_reset_password_from_key"), BY_MAIL),
    **dict.fromkeys(("fleet:join", "onboarding:leave", "onboarding:welcome"), BY_MAIL),
    "onboarding:letter": "printed on the letter",
    "onboarding:plate_link": "printed on the plate",
    **dict.fromkeys(
        (
            "account_confirm_login_code", "account_email_verification_sent", "account_inactive",
            "account_reset_password_done", "account_reset_password_from_key_done", "account_set_password",
            "account_signup", "mfa_authenticate", "mfa_reauthenticate", "mfa_reauthenticate_webauthn",
        ),
        ACCOUNT_STEP,
    ),
    **dict.fromkeys(
        (
            "mfa_deactivate_totp", "mfa_download_recovery_codes", "mfa_edit_webauthn", "mfa_generate_recovery_codes",
            "mfa_list_webauthn", "mfa_remove_webauthn", "mfa_view_recovery_codes",
        ),
        SECOND_FACTOR,
    ),
    **dict.fromkeys(
        (
            "api:decode_label", "api:device", "api:device_moves", "api:device_swaps", "api:devices", "api:invitation",
            "api:invitations", "api:maker", "api:maker_merge", "api:makers", "api:me", "api:model", "api:models",
            "api:scans", "api:sightings", "api:site", "api:site_consents", "api:site_invitations", "api:site_plan",
            "api:sites", "api:unknown",
        ),
        PROGRAMS,
    ),
    **dict.fromkeys(
        (
            "api:field_records", "api:field_session", "fleet:field_decoder", "fleet:field_service_worker",
        ),
        SCRIPT,
    ),
    "onboarding:mail_hook": "mail providers report there",
    "healthz": "for whoever watches the server",
    "readyz": "for whoever watches the server",
    **dict.fromkeys(
        (
            "fleet:act_for", "fleet:cancel_member_invitation", "fleet:label_form", "fleet:revoke_token",
            "fleet:switch_label_form", "fleet:take_unit_off_plan", "fleet:unlist_domain", "onboarding:settle",
        ),
        NONE_IN_DEMO,
    ),
}  # fmt: skip
