"""Saying what scans show; the file itself; discarding."""

from pathlib import PurePath

from django.contrib import messages
from django.http import FileResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST
from labsite.accounts.pages.access import members_only
from labsite.common.errors import InvalidInput, LabError, NotFound
from labsite.jobs.models import Job
from scans.pages.files.forms import DescribeForm, RowForm
from scans.queries.describing import describe_choices, first_values, own_scans, place_of
from scans.queries.disk import KEPT_AFTER_DISCARD
from scans.queries.scan_list import (
    file_words,
    resolution_words,
    same_content,
    scan_facts,
    visible_scan,
)
from scans.services.describing import describe_scan, describe_scans, discard_scan, use_of

#: By what the content was found to be, never by the name that it came with.
TYPES = {
    "TIFF": (".tif", "image/tiff"),
    "PNG": (".png", "image/png"),
    "JPEG": (".jpg", "image/jpeg"),
    "": (".bin", "application/octet-stream"),
}
PRIVATE = {"X-Content-Type-Options": "nosniff", "Cache-Control": "private, no-store"}
MOST_AT_ONCE = 60
#: What discarding does, for the question before it.
DISCARDING = (
    "It leaves the lab's lists; what was said and measured of it stays in the history. Its file stays for"
    f" {KEPT_AFTER_DISCARD.days} days; after that an admin who makes room on the disk removes it for good."
)


@GET_OR_POST
@members_only
def describe(request, scan_id: int):
    """Say what one scan shows."""
    (scan,) = own_scans(request.user, [scan_id])
    form = DescribeForm(
        request.POST or None,
        choices=describe_choices([scan]),
        resolution=resolution_words(scan.file.resolution_ppi),
        initial=first_values(scan),
    )
    if request.method == "POST" and form.accepted(describe_scan, actor=request.user, scan_id=scan_id):
        messages.success(request, f"{scan.code} is described.{_measured(scan)}")
        return redirect(_page_of(scan))
    context = {
        "scan": scan,
        "form": form,
        "facts": scan_facts(scan),
        "others": same_content(scan),
        "job": Job.objects.filter(dedupe_key=f"check_file:{scan.file_id}").order_by("-created_at").first(),
        "use": use_of(scan),
        "discarding": DISCARDING,
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "scans/files/describe.html", context, status=status)


@GET_OR_POST
@members_only
def describe_several(request):
    """Say what several scans show, with what they have in common said once."""
    scans = own_scans(request.user, _asked_for(request))
    choices = describe_choices(scans)
    if len({scan.member_id for scan in scans}) > 1:
        raise InvalidInput("These scans are of several members; describe each member's apart.")
    resolutions = {scan.file.resolution_ppi for scan in scans}
    common = DescribeForm(
        request.POST or None,
        choices=choices,
        resolution=" or ".join(sorted(resolution_words(each) for each in resolutions if each)),
        is_several=True,
        initial=first_values(scans[0]),
    )
    rows = [_row(request, scan, choices) for scan in scans]
    if request.method == "POST" and _all_accepted(request, common, rows):
        messages.success(request, f"{len(scans)} scans are described. What can be measured is measured now.")
        return redirect(f"{reverse('scan_list')}?is_mine=on")
    context = {"form": common, "rows": rows, "scans": scans}
    is_refused = common.is_bound and (common.errors or any(row["form"].errors for row in rows))
    return render(request, "scans/files/describe_several.html", context, status=400 if is_refused else 200)


@GET_OR_POST
@members_only
def discard(request, scan_id: int):
    """Take a scan out of the lab's lists."""
    (scan,) = own_scans(request.user, [scan_id])
    if request.method == "POST":
        discard_scan(actor=request.user, scan_id=scan_id, reason=request.POST.get("reason", "")[:500])
        messages.success(request, f"{scan.code} is discarded.")
        return redirect("scan_list")
    context = {"scan": scan, "back": _page_of(scan), "discarding": DISCARDING}
    return render(request, "scans/files/discard.html", context)


@require_safe
@members_only
def original(request, scan_id: int):
    """Send the file as it was uploaded, byte for byte."""
    scan = visible_scan(request.user, scan_id)
    try:
        content = scan.file.path.open("rb")
    except FileNotFoundError:
        raise NotFound("The file is missing from the lab's disk; tell an admin.") from None
    ending, kind = TYPES[scan.file.format]
    name = f"{scan.code} {PurePath(scan.filename).stem}{ending}"
    return FileResponse(content, as_attachment=True, filename=name, content_type=kind, headers=PRIVATE)


def _measured(scan) -> str:
    is_fit = scan.file.state == "measurable"
    return " It is measured now." if is_fit else " It is for looking at." if scan.file.can_be_seen else ""


def _page_of(scan) -> str:
    try:
        return reverse("scan", args=[scan.pk])
    except NoReverseMatch:
        return reverse("scan_describe", args=[scan.pk])


def _asked_for(request) -> list[int]:
    wanted = request.GET.getlist("scan")[:MOST_AT_ONCE]
    if not all(each.isascii() and each.isdigit() and len(each) < 19 for each in wanted):
        raise NotFound("There is no such scan.")
    return [int(each) for each in wanted]


def _row(request, scan, choices) -> dict:
    form = RowForm(
        request.POST or None,
        choices=choices,
        prefix=f"s{scan.pk}",
        initial={"place": place_of(scan), "frame_label": scan.frame_label},
    )
    return {"scan": scan, "form": form, "words": file_words(scan.file)}


def _all_accepted(request, common: DescribeForm, rows: list[dict]) -> bool:
    """Store all or nothing; what is refused is told beside the row or the common value that it is about."""
    are_valid = [row["form"].is_valid() for row in rows]
    if not common.is_valid() or not all(are_valid):
        return False
    each = {row["scan"].pk: row["form"].cleaned_data for row in rows}
    try:
        describe_scans(actor=request.user, each=each, **common.cleaned_data)
    except InvalidInput as fault:
        _refuse(common, rows, fault)
        return False
    except LabError as fault:
        common.refuse(fault)
        return False
    return True


def _refuse(common: DescribeForm, rows: list[dict], fault: InvalidInput) -> None:
    own = {"roll_id", "strip_id", "frame_label"}
    told = set()
    for problem in fault.problems:
        row = next(row for row in rows if row["scan"].pk == problem["scan_id"])
        one = InvalidInput(problem["message"], field=problem["field"])
        if problem["field"] in own:
            row["form"].refuse(one)
        elif (problem["field"], problem["message"]) not in told:
            told.add((problem["field"], problem["message"]))
            common.refuse(one)
