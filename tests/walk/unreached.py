"""URL names that no page of the demo leads to, each with its reason. An entry that a walk reaches fails it."""

BY_MAIL = "a link in a mail leads there"
PROGRAMS = "for programs; the reference describes it"
SCRIPT = "the field page's script asks it"
SECOND_FACTOR = "offered once a second factor is set up"
ANSWERED = "offered in the answer to what somebody sent"
BY_THE_DEMO = "the demo's start prints its address; no installation has it"
ACCOUNT_STEP = "a step of signing in that sign-in itself leads to"
NONE_IN_DEMO = "offered where there is such a thing, and the demo has none"

UNREACHED: dict[str, str] = {
    **dict.fromkeys(("account_confirm_email", "account_reset_password_from_key"), BY_MAIL),
    **dict.fromkeys(("fleet:join", "onboarding:leave", "onboarding:welcome"), BY_MAIL),
    **dict.fromkeys(("onboarding:confirm_address", "onboarding:stop_address", "onboarding:objection"), BY_MAIL),
    **dict.fromkeys(("onboarding:mailbox", "onboarding:mailbox_html", "onboarding:mailbox_letter"), BY_THE_DEMO),
    "account_email": "its address is that of the house's own page, onboarding:address",
    "onboarding:mine": "owners of one site pass through it to that site",
    "fleet:start_catalogue": "offered by an empty catalogue",
    **dict.fromkeys(
        (
            "fleet:field_import_record", "fleet:move_here", "fleet:take_one_code", "onboarding:attach_owner",
            "onboarding:batch", "onboarding:take_back",
        ),
        ANSWERED,
    ),
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
            "mfa_list_webauthn", "mfa_remove_webauthn", "mfa_view_recovery_codes", "onboarding:remove_passkey",
        ),
        SECOND_FACTOR,
    ),
    **dict.fromkeys(
        (
            "api:decode_label", "api:device", "api:device_moves", "api:device_swaps", "api:devices", "api:invitation",
            "api:invitations", "api:maker", "api:maker_merge", "api:makers", "api:me", "api:model", "api:models",
            "api:ready_owners", "api:scans", "api:sightings", "api:site", "api:site_consents", "api:site_invitations",
            "api:site_plan", "api:sites", "api:unknown",
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
            "fleet:act_for", "fleet:describe_unit", "fleet:take_back_handover", "onboarding:settle",
            "onboarding:take_back_sale",
        ),
        NONE_IN_DEMO,
    ),
}  # fmt: skip
