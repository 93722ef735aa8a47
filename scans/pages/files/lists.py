"""The list of scans."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.pages.listing import csv_file, export_url, is_export, kept_parameters, page_of, sorted_rows
from curves.queries.rolls import visible_rolls
from labsite.accounts.pages.access import members_only
from scans.pages.files.forms import ScanFilterForm
from scans.queries.scan_list import file_words, listed_scans, resolution_words, scan_choices

SORT_KEYS = {
    "scan": "pk",
    "file": "filename",
    "shows": "shows",
    "roll": "roll_id",
    "scanner": "scanner__name",
    "member": "member__display_name",
    "state": "file__state",
    "scanned": "scanned_on",
}


@require_safe
@members_only
def scan_list(request):
    """List the lab's scans, newest first unless sorted otherwise."""
    query = request.GET.copy()
    if query.get("roll"):  # as links from rolls have it
        query["roll_id"] = query["roll"]
    roll = _roll(request.user, query.get("roll_id", ""))
    form = ScanFilterForm(query, choices=scan_choices(request.user), roll=roll)
    scans = sorted_rows(request, listed_scans(request.user, form.wanted()), SORT_KEYS, default="-scan")
    if is_export(request):
        return csv_file("scans.csv", scans, COLUMNS)
    page = page_of(request, scans)
    context = {
        "form": form,
        "page": page,
        "rows": [(scan, file_words(scan.file)) for scan in page],
        "roll": roll,
        "roll_text": str(roll.pk) if roll else "",
        "export_url": export_url(request),
        "keep": kept_parameters(request, "sort"),
        "is_filtered": any(query.get(name) for name in form.fields),
    }
    return render(request, "scans/files/list.html", context)


COLUMNS = [
    ("scan", lambda scan: scan.code),
    ("file", lambda scan: scan.filename),
    ("shows", lambda scan: scan.get_shows_display()),
    ("roll", lambda scan: scan.roll and scan.roll.code),
    ("strip", lambda scan: scan.strip and scan.strip.number),
    ("frame", lambda scan: scan.frame_label),
    ("tablet", lambda scan: scan.tablet),
    ("scanner", lambda scan: scan.scanner),
    ("member", lambda scan: str(scan.member)),
    ("scanned on", lambda scan: scan.scanned_on),
    ("uploaded", lambda scan: f"{scan.created_at:%Y-%m-%d}"),
    ("state", lambda scan: scan.file.get_state_display()),
    ("content", lambda scan: file_words(scan.file)),
    ("resolution", lambda scan: scan.told_resolution_ppi or resolution_words(scan.file.resolution_ppi)),
    ("bytes", lambda scan: scan.file.size_bytes),
    ("sha-256", lambda scan: scan.file.digest),
]


def _roll(user, text: str):
    """The roll that a link asks for; None where there is no such."""
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        return None
    return visible_rolls(user).filter(pk=int(text)).first()
