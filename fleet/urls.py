"""URLs of the fleet package."""

from django.urls import URLPattern, path

from fleet.views.appearance import appearance
from fleet.views.companies import act_for
from fleet.views.search import search
from fleet.views.sites import sites
from fleet.views.today import today

app_name = "fleet"
urlpatterns: list[URLPattern] = [
    path("", today, name="today"),
    path("search", search, name="search"),
    path("act-for", act_for, name="act_for"),
    path("appearance", appearance, name="appearance"),
    path("sites/", sites, name="sites"),
]
