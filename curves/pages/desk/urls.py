"""Addresses of the desk: arrival, the lab's hub, and the pages of reference."""

from django.urls import path

from curves.pages.desk import arrival, guides, measures

urlpatterns = [
    path("", arrival.front, name="front"),
    path("bench/", arrival.bench_page, name="bench"),
    path("lab/", arrival.lab, name="lab"),
    path("measures/", measures.about, name="measures"),
    path("safety/", guides.safety, name="safety"),
    path("help/", guides.contents, name="help"),
    path("help/readings-example.csv", guides.upload_example, name="help_upload_example"),
    path("help/fit-example.csv", guides.fit_example, name="help_fit_example"),
    path("help/<slug:slug>/", guides.guide_page, name="help_page"),
]
