"""URLs of the onboarding package."""

from django.urls import URLPattern, path

import fleet.views.paths  # noqa: F401  # registers the converter for site codes
from onboarding.views import (
    address,
    endings,
    erasure,
    invitations,
    letter,
    mine,
    mine_acts,
    objection,
    ready,
    registering,
    several,
    site_consents,
    site_owners,
    sold,
    suppressions,
    welcome,
    wordings,
)
from onboarding.views.leaving import leave
from onboarding.views.mail_hooks import mail_hook
from onboarding.views.mailbox import mailbox, mailbox_html, mailbox_letter
from onboarding.views.passkeys import RemovePasskey
from onboarding.views.plate_link import plate_link
from onboarding.views.sales import sales

OWNERS: list[URLPattern] = [
    path("welcome/<str:token>", welcome.welcome, name="welcome"),
    path("letter", letter.letter, name="letter"),
    path("s/<str:code>", plate_link, name="plate_link"),
    path("mine/", mine.mine, name="mine"),
    path("mine/<site_code:code>/", mine.my_site, name="my_site"),
    path("mine/<site_code:code>/answer", mine_acts.answer, name="answer"),
    path("mine/<site_code:code>/about", mine_acts.about_me, name="about_me"),
    path("mine/<site_code:code>/second-owner", mine_acts.second_owner, name="second_owner"),
    path("mine/<site_code:code>/sold", sold.sold, name="sold"),
    path("mine/<site_code:code>/sold/take-back", sold.take_back, name="take_back_sale"),
    path("mine/<site_code:code>/receipts/", mine.receipts, name="receipts"),
    path("mine/<site_code:code>/receipts/<uuid:entry_id>/", mine.one_receipt, name="receipt"),
    path("mine/<site_code:code>/receipts/<uuid:entry_id>.json", mine.receipt_file, name="receipt_file"),
    path("mine/<site_code:code>/data.json", mine.my_data, name="my_data"),
]
MAIL: list[URLPattern] = [
    path("objection/<str:name>", objection.objection, name="objection"),
    path("leave/<str:opaque>", leave, name="leave"),
    path("mail/hooks/<slug:provider>", mail_hook, name="mail_hook"),
    path("mailbox/", mailbox, name="mailbox"),
    path("mailbox/<str:name>/", mailbox_letter, name="mailbox_letter"),
    path("mailbox/<str:name>/html", mailbox_html, name="mailbox_html"),
]
STAFF: list[URLPattern] = [
    path("sites/new", registering.new_site, name="new_site"),
    path("sites/new/known", registering.known_already, name="known_already"),
    path("sites/<site_code:code>/owners/new", site_owners.new_owner, name="new_owner"),
    path("sites/<site_code:code>/owners/<uuid:owner_id>/", site_owners.change_owner, name="change_owner"),
    path("sites/<site_code:code>/owners/<uuid:owner_id>/attach", site_owners.attach, name="attach_owner"),
    path("sites/<site_code:code>/owners/<uuid:owner_id>/end", site_owners.end, name="end_ownership"),
    path("sites/<site_code:code>/owners/<uuid:owner_id>/keep", site_owners.keep, name="keep_owner"),
    path("owners/sold/", sales, name="sales"),
    path("sites/<site_code:code>/owners/<uuid:owner_id>/invite", site_owners.invite, name="invite"),
    path("sites/<site_code:code>/owners/<uuid:owner_id>/letter", site_owners.letter, name="print_letter"),
    path("sites/<site_code:code>/owners/<uuid:owner_id>/consents", site_consents.record, name="record_consent"),
    path("owners/<uuid:owner_id>/erase", erasure.erase, name="erase_owner"),
    path("invitations/", invitations.invitations, name="invitations"),
    path("invitations/several", several.act_on_chosen, name="act_on_invitations"),
    path("invitations/ready/", ready.ready, name="ready"),
    path("invitations/ready/invite", ready.invite_chosen, name="invite_several"),
    path("invitations/batches/<uuid:public_id>/", ready.batch, name="batch"),
    path("invitations/batches/<uuid:public_id>/take-back", ready.take_batch_back, name="take_back"),
    path("invitations/sending/", invitations.sending, name="sending"),
    path("invitations/addresses/", suppressions.suppressions, name="suppressions"),
    path("invitations/addresses/<uuid:public_id>/lift", suppressions.lift, name="lift_suppression"),
    path("invitations/<uuid:public_id>/", invitations.invitation, name="invitation"),
    path("invitations/<uuid:public_id>/act", invitations.act_on_one, name="act_on_invitation"),
    path("deliveries/<uuid:public_id>/settle", invitations.settle, name="settle"),
    path("permissions/", endings.endings, name="endings"),
    path("wordings/", wordings.wordings, name="wordings"),
    path("wordings/<str:purpose>/<str:language>/", wordings.wording, name="wording"),
]
ACCOUNTS: list[URLPattern] = [  # in place of allauth's pages at the same addresses
    path("accounts/email/", address.address, name="address"),
    path("accounts/email/confirm/<str:token>", address.confirm_address, name="confirm_address"),
    path("accounts/email/stop/<str:token>", address.stop_address, name="stop_address"),
    path("accounts/2fa/webauthn/keys/<int:pk>/remove/", RemovePasskey.as_view(), name="remove_passkey"),
]
app_name = "onboarding"
urlpatterns: list[URLPattern] = [*OWNERS, *STAFF, *MAIL, *ACCOUNTS]
