"""The whole URL tree; each package names its own."""

from django.urls import include, path

from fleet.views.health import healthz, readyz

urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("readyz", readyz, name="readyz"),
    path("", include("onboarding.urls")),  # before allauth's, some of whose pages it replaces
    path("accounts/", include("allauth.urls")),
    path("api/", include("api.urls")),
    path("", include("fleet.urls")),
]
handler404 = "fleet.views.errors.not_found"
handler403 = "fleet.views.errors.refused"
handler500 = "fleet.views.errors.failed"
