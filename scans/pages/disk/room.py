"""The room on the lab's disk: what takes it, and removing what can go."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST, admins_only
from scans.queries.disk import KEPT_AFTER_DISCARD, DiskUse, Held, disk_use
from scans.queries.scan_list import size_words
from scans.queries.uploads import EXPIRES_AFTER
from scans.services.making_room import MOST_AT_ONCE, Freed, remove_discarded_contents


@require_safe
@admins_only
def disk(request):
    """Show what is free, what takes the rest, and what can go."""
    return render(request, "scans/disk/room.html", _context(disk_use(request.user)))


@GET_OR_POST
@admins_only
def make_room(request):
    """Remove the contents that can go; without script the address itself asks first."""
    if request.method == "POST":
        messages.success(request, _words(remove_discarded_contents(actor=request.user)))
        return redirect("disk")
    return render(request, "scans/disk/make_room.html", _context(disk_use(request.user)))


def _context(use: DiskUse) -> dict:
    room = use.room
    return {
        "use": use,
        "facts": [
            ("Free on the disk", size_words(room.free_bytes)),
            ("Promised to uploads under way", size_words(room.promised_bytes)),
            ("Kept for database and pictures", size_words(room.reserve_bytes)),
            ("New uploads may take", size_words(room.uploads_bytes)),
        ],
        "rows": _rows(use),
        "kept_days": KEPT_AFTER_DISCARD.days,
        "expires_days": EXPIRES_AFTER.days,
        "can_go": size_words(use.can_go.all_bytes),
        "question": _question(use.can_go),
        "removed": size_words(use.removed.bytes),
        "most_at_once": MOST_AT_ONCE,
    }


def _rows(use: DiskUse) -> list[tuple]:
    """What, from when it can go, how many; sizes of files and pictures, of files alone, of pictures."""
    held = [
        ("Files of scans in use", None, use.in_use),
        ("Discarded, can go now", None, use.can_go),
        ("Discarded, can go later", use.later, use.later),
        ("Discarded, but something rests on them", None, use.rested_on),
    ]
    rows = [
        (name, later, each.files, *map(size_words, (each.all_bytes, each.bytes, each.tile_bytes)))
        for name, later, each in held
    ]
    sent = size_words(use.uploads_bytes)
    uploads = ("Unfinished uploads", None, use.uploads, sent, sent, "–")
    return [*rows, uploads, ("Everything", None, "", size_words(use.total_bytes), "", "")]


def _question(can_go: Held) -> str:
    files = "1 file goes" if can_go.files == 1 else f"{min(can_go.files, MOST_AT_ONCE)} files go"
    return (
        f"{files} for good, with the pictures cut from {'it' if can_go.files == 1 else 'them'}. Their scans"
        " were discarded and nothing rests on them; scans, numbers and history stay."
    )


def _words(freed: Freed) -> str:
    if not freed.files:
        return "Nothing could go any more; nothing was removed."
    files = "1 file is" if freed.files == 1 else f"{freed.files} files are"
    more = f" {freed.files_left} more can go: make room once more." if freed.files_left else ""
    return f"{files} removed; {size_words(freed.all_bytes)} of the disk are free again.{more}"
