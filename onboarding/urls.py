"""URLs of the onboarding package."""

from django.urls import URLPattern, path

from onboarding.views.leaving import leave
from onboarding.views.mailbox import mailbox, mailbox_html, mailbox_letter

app_name = "onboarding"
urlpatterns: list[URLPattern] = [
    path("leave/<str:opaque>", leave, name="leave"),
    path("mailbox/", mailbox, name="mailbox"),
    path("mailbox/<str:name>/", mailbox_letter, name="mailbox_letter"),
    path("mailbox/<str:name>/html", mailbox_html, name="mailbox_html"),
]
