"""URLs of the fleet package."""

from django.urls import URLPattern

app_name = "fleet"
urlpatterns: list[URLPattern] = []
