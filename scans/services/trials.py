"""A scanner tried for what it adds itself: noise from fields scanned twice, sharpness from a sharp edge."""

from collections.abc import Iterable

from django.db import transaction

from labsite.accounts.services import record_audit
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job
from scans.models import FileState, Scan, ScannerTrial, Shows
from scans.queries.measured import measurable_scan
from scans.queries.setups import setup_digest, setup_of
from scans.queries.trials import scans_of_setup
from scans.services.measuring import request_measuring

MOST_PAIRS = 8


@transaction.atomic
def try_scanner(*, actor, edge_id: int | None, repeats: Iterable[tuple[int, int]] = ()) -> Job:
    """Submit a trial from scans of one set-up: pairs of the same field, and a sharp edge; either will do."""
    require_member(actor)
    repeats = [tuple(pair) for pair in repeats]
    scans = [_wanted(scan_id, Shows.FIELD, "repeats") for pair in repeats for scan_id in pair]
    if edge_id is not None:
        scans.append(_wanted(edge_id, Shows.EDGE, "edge_id"))
    if len(repeats) > MOST_PAIRS:
        raise InvalidInput(f"A trial takes at most {MOST_PAIRS} pairs of fields.", field="repeats")
    if not scans:
        text = "Choose a sharp edge, or two scans of the same field, or both."
        raise InvalidInput(text, field="edge_id")
    if len({scan.pk for scan in scans}) < len(scans):
        raise InvalidInput("The two scans of a field must be two different ones.", field="repeats")
    if len({setup_digest(scan) for scan in scans}) > 1:
        raise InvalidInput(
            "These scans were not all made by one scanner with the same settings; a trial holds for one "
            "set-up.",
            field="repeats",
        )
    scanner = scans[0].scanner
    return submit_job(
        kind="try_scanner",
        subject={"edge_id": edge_id, "repeats": [list(pair) for pair in repeats]},
        label=f"Try {scanner} with {', '.join(scan.code for scan in scans)}",
        requested_by=actor,
        dedupe_key=f"try_scanner:{'-'.join(str(scan.pk) for scan in scans)}",
        link="/control/scanners/",
    )


@transaction.atomic
def store_trial(*, scans: list[Scan], document: dict, made_by_id: int) -> ScannerTrial:
    """Keep a trial, once for its scans and numbers; it is in force for its set-up from now on.

    Grain and edges that were scanned with the set-up are measured anew.
    """
    first = measurable_scan(scans[0].pk)
    digest = setup_digest(first)
    standing = ScannerTrial.objects.select_for_update().filter(scanner=first.scanner, setup_digest=digest)
    for row in standing:
        if row.document == document and set(row.scans.values_list("pk", flat=True)) == {s.pk for s in scans}:
            return row
    standing.filter(is_in_force=True).update(is_in_force=False)
    setup = setup_of(first)
    trial = ScannerTrial.objects.create(
        scanner=first.scanner,
        setup={"scanner": setup.scanner, "settings": setup.settings},
        setup_digest=digest,
        document=document,
        made_by_id=made_by_id,
    )
    trial.scans.set(scans)
    record_audit(
        actor=trial.made_by,
        action="try scanner",
        subject=trial,
        after={"scanner": str(first.scanner), "scans": [scan.code for scan in scans]},
    )
    for scan in scans_of_setup(trial):
        request_measuring(scan=scan)
    return trial


def _wanted(scan_id: int, shows: str, field: str) -> Scan:
    scan = measurable_scan(scan_id)
    if scan is None:
        raise InvalidInput("There is no such scan.", field=field)
    if scan.shows != shows:
        raise InvalidInput(
            f"{scan.code} shows {scan.get_shows_display()}, not {Shows(shows).label}.", field=field
        )
    if scan.scanner is None:
        raise InvalidInput(f"Say first which scanner made {scan.code}.", field=field)
    if scan.file.state != FileState.MEASURABLE:
        raise InvalidInput(f"The file of {scan.code} is {scan.file.get_state_display()}.", field=field)
    return scan
