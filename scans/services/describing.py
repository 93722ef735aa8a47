"""Saying what scans show and how they were made; discarding those that are of no use."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from curves.models import Instrument, Roll, StepTablet, Strip
from labsite.accounts.services import record_audit
from labsite.common.access import is_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from scans.imaging.decode_checks import plausible_resolution
from scans.models import CalibrationState, FileState, Scan, Shows
from scans.services.measuring import request_measuring

#: What measurements rest on; words can be changed at any time.
BEARING = (
    "shows",
    "roll_id",
    "strip_id",
    "tablet_id",
    "scanner_id",
    "settings",
    "told_resolution_ppi",
    "told_resolution_reason",
    "scanned_on",
)
WORDS = ("frame_label", "notes")
#: What was set on the scanner, by the names that a calibration's set-up has.
SETTINGS = ("holder", "light", "mode", "exposure", "corrections")
ON_A_ROLL = (Shows.STRIP, Shows.FRAME)
NEEDS_RESOLUTION = (Shows.FIELD, Shows.EDGE)


@transaction.atomic
def describe_scan(
    *,
    actor,
    scan_id: int,
    shows: str,
    roll_id: int | None = None,
    strip_id: int | None = None,
    tablet_id: int | None = None,
    scanner_id: int | None = None,
    settings: dict[str, str] | None = None,
    told_resolution_ppi: float | None = None,
    told_resolution_reason: str = "",
    scanned_on: date | None = None,
    frame_label: str = "",
    notes: str = "",
) -> Scan:
    """Say what a scan shows and how it was made, and have it measured."""
    scan = _locked_own(actor, scan_id)
    before = _as_audited(scan)
    scan.shows, scan.scanned_on = shows, scanned_on
    scan.settings = {
        name: " ".join(str((settings or {}).get(name, "")).split())
        for name in SETTINGS
        if str((settings or {}).get(name, "")).strip()
    }
    scan.frame_label, scan.notes = frame_label.strip(), notes.strip()
    scan.told_resolution_ppi, scan.told_resolution_reason = (
        told_resolution_ppi,
        told_resolution_reason.strip(),
    )
    if (told_resolution_ppi, told_resolution_ppi) == scan.file.resolution_ppi:
        scan.told_resolution_ppi, scan.told_resolution_reason = None, ""
    problems = [
        *_shows_problems(scan),
        *_place_problems(scan, roll_id, strip_id),
        *_tablet_problems(scan, tablet_id),
        *_scanner_problems(scan, scanner_id),
        *_resolution_problems(scan),
        *_word_problems(scan),
    ]
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))
    after = _as_audited(scan)
    changed = [name for name in (*BEARING, *WORDS) if before[name] != after[name]]
    if not changed:
        return scan
    if set(changed) & set(BEARING):
        _require_unused(scan, "what it shows and how it was made can't be changed")
    scan.save(update_fields=[*(name.removesuffix("_id") for name in changed), "updated_at"])
    record_audit(
        actor=actor,
        action="describe scan",
        subject=scan,
        before={name: before[name] for name in changed},
        after={name: after[name] for name in changed},
    )
    request_measuring(scan=scan, requested_by=actor)
    return scan


@transaction.atomic
def describe_scans(*, actor, each: dict[int, dict], **common) -> list[Scan]:
    """Describe several scans with common values and those of each; all of them or none.

    A problem with one scan's own values carries its number as ``scan_id``.
    """
    described, problems = [], []
    for scan_id, own in each.items():
        try:
            described.append(describe_scan(actor=actor, scan_id=scan_id, **common | own))
        except InvalidInput as fault:
            problems += [{**problem, "scan_id": scan_id} for problem in fault.problems]
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))
    return described


@transaction.atomic
def discard_scan(*, actor, scan_id: int, reason: str = "") -> None:
    """Take a scan out of the lab's lists; its file stays until an admin makes room (``making_room``)."""
    scan = _locked_own(actor, scan_id)
    _require_unused(scan, "it can't be discarded")
    scan.is_discarded, scan.discarded_at = True, timezone.now()
    scan.save(update_fields=["is_discarded", "discarded_at", "updated_at"])
    record_audit(
        actor=actor, action="discard scan", subject=scan, after={"is_discarded": True}, reason=reason
    )


def use_of(scan: Scan) -> str:
    """Return what rests on a scan, in words; empty where nothing does."""
    transfer = scan.measurements.filter(transfers__isnull=False).values("transfers__strip__roll").first()
    if transfer is not None:
        return f"readings of R-{transfer['transfers__strip__roll']:04d} were taken from it"
    calibration = scan.calibrations.exclude(state=CalibrationState.VOID).select_related("scanner").first()
    if calibration is not None:
        return f"a calibration of {calibration.scanner} rests on it"
    if scan.trials.filter(is_in_force=True).exists():
        return "a trial of its scanner rests on it"
    return ""


def _require_unused(scan: Scan, so: str) -> None:
    if use := use_of(scan):
        raise WrongState(f"{scan.code}: {use}, so {so}.")


def _locked_own(actor, scan_id: int) -> Scan:
    require_member(actor)
    scan = (
        Scan.objects.select_for_update(of=("self",))
        .select_related("file", "member", "roll")
        .filter(pk=scan_id, is_discarded=False)
        .first()
    )
    if scan is None:
        raise NotFound("There is no such scan, or it was discarded.")
    if scan.member_id != actor.pk and not is_admin(actor):
        raise NotAllowed(f"{scan.code} belongs to {scan.member}; only they or an admin may do this.")
    return scan


def _problem(field: str, message: str) -> dict:
    return {"field": field, "message": message}


def _shows_problems(scan: Scan):
    if scan.shows == Shows.UNKNOWN or scan.shows not in Shows.values:
        yield _problem("shows", "Choose what the scan shows.")
    if scan.scanned_on and scan.scanned_on > timezone.localdate():
        yield _problem("scanned_on", "This day is still to come.")


def _place_problems(scan: Scan, roll_id: int | None, strip_id: int | None):
    """The roll and strip, given to the scan where they will do; a lone strip need not be named."""
    if scan.shows == Shows.TABLET:
        scan.roll = scan.strip = None
        return
    roll = Roll.objects.filter(pk=roll_id).first() if roll_id else None
    scan.roll, scan.strip = roll, None
    if roll is None and (roll_id or scan.shows in ON_A_ROLL):
        yield _problem("roll_id", "Choose the roll that it belongs to.")
    elif roll is None:
        return
    elif roll.member_id != scan.member_id:
        yield _problem("roll_id", f"{roll.code} belongs to {roll.member}; choose a roll of {scan.member}.")
    elif scan.shows in ON_A_ROLL and not roll.is_editable:
        state = roll.get_state_display()
        yield _problem("roll_id", f"{roll.code} is {state}; choose a roll that can still be changed.")
    elif scan.shows == Shows.STRIP:
        yield from _strip_problems(scan, roll, strip_id)


def _strip_problems(scan: Scan, roll: Roll, strip_id: int | None):
    strips = list(Strip.objects.filter(roll=roll))
    found = [strip for strip in strips if strip.pk == strip_id] if strip_id else strips
    if len(found) == 1:
        scan.strip = found[0]
    else:
        yield _problem("strip_id", f"Choose which strip of {roll.code} it shows.")


def _tablet_problems(scan: Scan, tablet_id: int | None):
    scan.tablet = None
    if scan.shows != Shows.TABLET:
        return
    scan.tablet = StepTablet.objects.filter(pk=tablet_id).first() if tablet_id else None
    if scan.tablet is None:
        yield _problem("tablet_id", "Choose which step tablet it shows.")


def _scanner_problems(scan: Scan, scanner_id: int | None):
    is_same = scanner_id == scan.scanner_id
    scanners = Instrument.objects.filter(kind=Instrument.Kind.SCANNER)
    scan.scanner = scanners.filter(pk=scanner_id).first() if scanner_id else None
    if scan.scanner is None and (scanner_id or scan.shows == Shows.TABLET):
        yield _problem("scanner_id", "Choose the scanner that it was made with.")
    elif scan.scanner is not None and not scan.scanner.is_active and not is_same:
        yield _problem("scanner_id", f"{scan.scanner} is retired; choose one that is in use.")


def _resolution_problems(scan: Scan):
    told, in_file = scan.told_resolution_ppi, scan.file.resolution_ppi
    if told is not None and plausible_resolution(told, told) is None:
        yield _problem("told_resolution_ppi", "Give pixels per inch, from 100 to 20000.")
    elif told is not None and in_file is not None and not scan.told_resolution_reason:
        yield _problem("told_resolution_reason", "Say why it is not what the file says.")
    is_checked = scan.file.state != FileState.UNCHECKED
    if told is None and in_file is None and is_checked and scan.shows in NEEDS_RESOLUTION:
        text = "The file doesn't say its resolution, and this is measured per millimetre: give it."
        yield _problem("told_resolution_ppi", text)
    if told is None or (in_file is None and is_checked):
        scan.told_resolution_reason = ""


def _word_problems(scan: Scan):
    longest = Scan._meta.get_field("frame_label").max_length
    if len(scan.frame_label) > longest:
        yield _problem("frame_label", f"Use at most {longest} characters.")
    if any(len(value) > 120 for value in scan.settings.values()):
        yield _problem("settings", "Use at most 120 characters for each setting.")


def _as_audited(scan: Scan) -> dict:
    told = {name: getattr(scan, name) for name in (*BEARING, *WORDS)}
    return told | {"scanned_on": scan.scanned_on.isoformat() if scan.scanned_on else None}
