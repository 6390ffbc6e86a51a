"""URLs of the onboarding package."""

from django.urls import URLPattern

app_name = "onboarding"
urlpatterns: list[URLPattern] = []
