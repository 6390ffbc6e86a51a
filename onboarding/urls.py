"""URLs of the onboarding package."""

from django.urls import URLPattern, path

import fleet.views.paths  # noqa: F401  # registers the converter for site codes
from onboarding.views import letter, mine, mine_acts, welcome
from onboarding.views.leaving import leave
from onboarding.views.mail_hooks import mail_hook
from onboarding.views.mailbox import mailbox, mailbox_html, mailbox_letter

OWNERS: list[URLPattern] = [
    path("welcome/<str:token>", welcome.welcome, name="welcome"),
    path("letter", letter.letter, name="letter"),
    path("mine/", mine.mine, name="mine"),
    path("mine/<site_code:code>/", mine.my_site, name="my_site"),
    path("mine/<site_code:code>/answer", mine_acts.answer, name="answer"),
    path("mine/<site_code:code>/about", mine_acts.about_me, name="about_me"),
    path("mine/<site_code:code>/second-owner", mine_acts.second_owner, name="second_owner"),
    path("mine/<site_code:code>/receipts/", mine.receipts, name="receipts"),
    path("mine/<site_code:code>/receipts/<uuid:entry_id>/", mine.one_receipt, name="receipt"),
    path("mine/<site_code:code>/receipts/<uuid:entry_id>.json", mine.receipt_file, name="receipt_file"),
    path("mine/<site_code:code>/data.json", mine.my_data, name="my_data"),
]
MAIL: list[URLPattern] = [
    path("leave/<str:opaque>", leave, name="leave"),
    path("mail/hooks/<slug:provider>", mail_hook, name="mail_hook"),
    path("mailbox/", mailbox, name="mailbox"),
    path("mailbox/<str:name>/", mailbox_letter, name="mailbox_letter"),
    path("mailbox/<str:name>/html", mailbox_html, name="mailbox_html"),
]
app_name = "onboarding"
urlpatterns: list[URLPattern] = [*OWNERS, *MAIL]
