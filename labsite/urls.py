"""Every address of the site, app by app."""

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView

from labsite.health import health

urlpatterns = [
    path("healthz/", health, name="health"),
    path("", include("labsite.accounts.urls")),
    path("lab/jobs/", include("labsite.jobs.urls")),
    path("", include("curves.urls")),
    path("api/v1/", include("curves.api.urls")),
    path("api/openapi.json", SpectacularJSONAPIView.as_view(), name="openapi"),
]
