"""Addresses: the room on the lab's disk, below ``lab/disk/``."""

from django.urls import path

from scans.pages.disk import room

urlpatterns = [
    path("", room.disk, name="disk"),
    path("make-room/", room.make_room, name="disk_make_room"),
]
