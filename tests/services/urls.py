"""Addresses of the processes that drills start: those of the apps that they have."""

from django.urls import include, path

from labsite.health import health

urlpatterns = [
    path("healthz/", health, name="health"),
    path("", include("labsite.accounts.urls")),
    path("lab/jobs/", include("labsite.jobs.urls")),
]
