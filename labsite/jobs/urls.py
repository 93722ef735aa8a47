"""Addresses of the jobs app, below ``lab/jobs/``."""

from django.urls import path

from labsite.jobs import pages

app_name = "jobs"

urlpatterns = [
    path("", pages.job_list, name="list"),
    path("<uuid:job_id>/", pages.detail, name="detail"),
    path("<uuid:job_id>/progress/", pages.progress, name="progress"),
    path("<uuid:job_id>/cancel/", pages.cancel, name="cancel"),
    path("<uuid:job_id>/retry/", pages.retry, name="retry"),
]
