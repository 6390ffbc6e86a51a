"""The one URL that inviting a member needs, until and beside the register's pages."""

from django.http import HttpResponse
from django.urls import include, path

urlpatterns = [
    path("", include(([path("join/<str:token>/", lambda request, token: HttpResponse(), name="join")], "fleet"))),
]
