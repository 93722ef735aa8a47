"""The room on the lab's disk for scripts of admins: what takes it, and removing what can go."""

from typing import ClassVar

from rest_framework import serializers

from labsite.accounts.api.access import Admins
from labsite.accounts.api.documents import operation
from labsite.accounts.api.views import LabView
from scans.queries.disk import KEPT_AFTER_DISCARD, disk_use
from scans.services.making_room import MOST_AT_ONCE, remove_discarded_contents

DAYS = KEPT_AFTER_DISCARD.days


class RoomSerializer(serializers.Serializer):
    """The disk that uploads go to."""

    free_bytes = serializers.IntegerField()
    promised_bytes = serializers.IntegerField(help_text="What uploads under way have still to send.")
    reserve_bytes = serializers.IntegerField(help_text="Kept free for database and pictures.")
    uploads_bytes = serializers.IntegerField(help_text="What new uploads may take.")


class HeldSerializer(serializers.Serializer):
    """Files of one kind."""

    files = serializers.IntegerField()
    bytes = serializers.IntegerField(help_text="Of the files as they were uploaded.")
    tile_bytes = serializers.IntegerField(help_text="Of the pictures cut from them for looking.")


class LaterSerializer(HeldSerializer):
    """Files that can go later."""

    first_from = serializers.DateTimeField(allow_null=True, help_text="When the first of them can go.")
    last_from = serializers.DateTimeField(allow_null=True, help_text="When all of them can go.")


class DiskSerializer(serializers.Serializer):
    """What is free on the disk, and what takes the rest."""

    room = RoomSerializer()
    in_use = HeldSerializer(help_text="Of scans that are not discarded.")
    can_go = HeldSerializer(
        help_text=f"All their scans were discarded {DAYS} days ago or more, and nothing rests on them."
    )
    later = LaterSerializer(help_text=f"All their scans were discarded, some less than {DAYS} days ago.")
    rested_on = HeldSerializer(
        help_text="All their scans were discarded, but something rests on one; they stay."
    )
    removed = HeldSerializer(help_text="Removed already; they take no room.")
    uploads = serializers.IntegerField(help_text="How many uploads are under way.")
    uploads_bytes = serializers.IntegerField(help_text="What came of them so far.")
    unmeasured_pictures = serializers.IntegerField(
        help_text="How many pictures are left out of `tile_bytes`, as their size is not noted yet."
    )


class FreedSerializer(serializers.Serializer):
    """What was removed."""

    files = serializers.IntegerField()
    bytes = serializers.IntegerField()
    tile_bytes = serializers.IntegerField()
    files_left = serializers.IntegerField(help_text="How many can still go: ask again.")


class Disk(LabView):
    """What takes the disk."""

    @operation(access=Admins, answer=DiskSerializer)
    def get(self, request):
        """Read what is free on the lab's disk, what takes the rest, and what can go."""
        return self.answer(DiskSerializer, disk_use(request.user))


class MakeRoom(LabView):
    """Making room."""

    words: ClassVar[dict[str, str]] = {"most_at_once": str(MOST_AT_ONCE)}

    @operation(access=Admins, answer=FreedSerializer)
    def post(self, request):
        """Remove the files that can go, with the pictures cut from them; scans and history stay.

        At most {most_at_once} files at once; nothing to remove is no fault.
        """
        return self.answer(FreedSerializer, remove_discarded_contents(actor=request.user))
