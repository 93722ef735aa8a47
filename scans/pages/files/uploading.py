"""Uploading: the page whose script sends files piece by piece, and the plain form that does without."""

from urllib.parse import urlencode

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse

from curves.pages.access import GET_OR_POST
from labsite.accounts.pages.access import members_only
from labsite.common.errors import LabError
from scans.imaging.decode_checks import DEFAULT_LIMITS, MEGABYTE
from scans.pages.files.forms import UploadForm
from scans.queries.describing import own_rolls
from scans.queries.scan_list import size_words
from scans.queries.uploads import open_uploads
from scans.services.uploads import cancel_upload, receive_bytes, start_upload


@GET_OR_POST
@members_only
def upload(request):
    """Choose files; what came without the script is stored at once."""
    rolls = own_rolls(request.user)
    if request.method == "POST":
        form = UploadForm(request.POST, request.FILES, rolls=rolls)
        scans = _stored(request, form) if form.is_valid() else []
        if scans and not form.errors:
            return redirect(describing_address(scans))
    else:
        form = UploadForm(rolls=rolls, initial=_asked_for(request, rolls))
    context = {
        "form": form,
        "unfinished": [(each, _amount(each)) for each in open_uploads(request.user)],
        "most_megabytes": DEFAULT_LIMITS.file_bytes // MEGABYTE,
        "most_megapixels": DEFAULT_LIMITS.pixels // 10**6,
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "scans/files/upload.html", context, status=status)


@GET_OR_POST
@members_only
def cancel(request, upload_id):
    """Give an unfinished upload up; whoever opens the address itself is led to the page that does it."""
    if request.method != "POST":
        return redirect("scan_upload")
    cancel_upload(actor=request.user, upload_id=upload_id)
    messages.success(request, "The upload is cancelled; nothing of it is kept.")
    return redirect("scan_upload")


def describing_address(scan_ids: list[int]) -> str:
    """Where these scans are described: one on a page of its own, several in a table."""
    if len(scan_ids) == 1:
        return reverse("scan_describe", args=scan_ids)
    return f"{reverse('scans_describe')}?{urlencode({'scan': scan_ids}, doseq=True)}"


def _amount(upload) -> str:
    return f"{size_words(upload.received_bytes)} of {size_words(upload.size_bytes)}"


def _asked_for(request, rolls) -> dict:
    """What a link from a roll chooses beforehand."""
    roll = next((roll.pk for roll in rolls if str(roll.pk) == request.GET.get("roll")), "")
    return {"roll_id": roll, "shows": request.GET.get("shows", "")}


def _stored(request, form: UploadForm) -> list[int]:
    """The scans that the form's files became; what is refused is told beside the files."""
    told = {name: form.cleaned_data[name] for name in ("shows", "roll_id")}
    scans = []
    for file in form.cleaned_data["files"]:
        try:
            begun = start_upload(actor=request.user, filename=file.name, size_bytes=file.size, **told)
            done = receive_bytes(actor=request.user, upload_id=begun.pk, offset=0, stream=file)
        except LabError as fault:
            form.add_error("files", f"{file.name}: {fault.message}")
        else:
            scans.append(done.scan_id)
            if done.scan.created_at < begun.created_at:
                messages.warning(request, f"You had uploaded {file.name} already; this is its scan.")
    if scans and form.errors:
        form.add_error(None, f"{len(scans)} of the files are stored; only those named here are not.")
    return scans
