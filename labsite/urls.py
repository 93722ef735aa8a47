"""Every address of the site, app by app."""

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView

from labsite.accounts.api.views import UnknownAddress
from labsite.health import health, jobs_health

handler500 = "labsite.faults.broken"

urlpatterns = [
    path("healthz/", health, name="health"),
    path("healthz/jobs/", jobs_health, name="jobs_health"),
    path("", include("labsite.accounts.urls")),
    path("lab/jobs/", include("labsite.jobs.urls")),
    path("", include("curves.urls")),
    path("", include("scans.urls")),
    path("api/v1/", include("labsite.accounts.api.urls")),
    path("api/v1/", include("labsite.jobs.api")),
    path("api/v1/", include("curves.api.urls")),
    path("api/v1/", include("scans.api.urls")),
    path("api/openapi.json", SpectacularJSONAPIView.as_view(), name="openapi"),
    path("api/<path:address>", UnknownAddress.as_view(), name="api_unknown"),
]
