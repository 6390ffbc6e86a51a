"""URLs of the api package."""

from django.urls import URLPattern

app_name = "api"
urlpatterns: list[URLPattern] = []
