"""Addresses of the person's own part of the API."""

from django.urls import path

from labsite.accounts.api.me import Me

urlpatterns = [path("me/", Me.as_view(), name="api_me")]
