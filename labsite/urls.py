"""Every address of the site, app by app."""

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView

from labsite.health import health, jobs_health

urlpatterns = [
    path("healthz/", health, name="health"),
    path("healthz/jobs/", jobs_health, name="jobs_health"),
    path("", include("labsite.accounts.urls")),
    path("lab/jobs/", include("labsite.jobs.urls")),
    path("", include("curves.urls")),
    path("api/openapi.json", SpectacularJSONAPIView.as_view(), name="openapi"),
]
