"""What a scan's description can be made of, and what its form begins with."""

from dataclasses import dataclass

from django.db import models

from curves.models import Instrument, Roll, StepTablet, Strip
from curves.models.rolls import EDITABLE_STATES
from labsite.common.access import is_admin
from labsite.common.errors import NotAllowed, NotFound
from scans.models import Scan, Upload
from scans.queries.scan_list import visible_scans

#: Of rolls that are decided on, the latest are offered; older ones only where a scan is of them already.
LATEST_DECIDED = 30


@dataclass(frozen=True)
class DescribeChoices:
    """Own strips that can still be changed, own rolls decided on, tablets, and scanners."""

    strips: tuple[Strip, ...]
    decided: tuple[Roll, ...]
    tablets: tuple[StepTablet, ...]
    scanners: tuple[Instrument, ...]


def own_rolls(member) -> list[Roll]:
    """Return a member's own rolls that can still be changed, newest first."""
    rolls = Roll.objects.filter(member=member, state__in=EDITABLE_STATES)
    return list(rolls.select_related("batch__stock").order_by("-pk"))


def own_scans(user, scan_ids: list[int]) -> list[Scan]:
    """Return the scans in the order asked for, if this person may describe every one; or refuse."""
    # Larger numbers than the column holds are no scan's; SQLite would trip over them.
    are_numbers = bool(scan_ids) and max(scan_ids) <= models.BigIntegerField.MAX_BIGINT
    found = visible_scans(user).in_bulk(scan_ids) if are_numbers else {}
    if not scan_ids or set(found) != set(scan_ids):
        raise NotFound("There is no such scan, or it was discarded.")
    for scan in found.values():
        if scan.member_id != user.pk and not is_admin(user):
            raise NotAllowed(f"{scan.code} belongs to {scan.member}; only they or an admin may do this.")
    return [found[pk] for pk in dict.fromkeys(scan_ids)]


def describe_choices(scans: list[Scan]) -> DescribeChoices:
    """Return what these scans' descriptions can be made of; their member's rolls, whoever asks."""
    member_id = scans[0].member_id
    strips = Strip.objects.filter(roll__member_id=member_id, roll__state__in=EDITABLE_STATES)
    decided = Roll.objects.filter(member_id=member_id).exclude(state__in=EDITABLE_STATES)
    kept = {scan.scanner for scan in scans if scan.scanner}
    scanners = Instrument.objects.filter(kind=Instrument.Kind.SCANNER, is_active=True)
    return DescribeChoices(
        strips=tuple(strips.select_related("roll__batch__stock").order_by("-roll_id", "number")),
        decided=tuple(decided.select_related("batch__stock").order_by("-pk")[:LATEST_DECIDED]),
        tablets=tuple(StepTablet.objects.all()),
        scanners=tuple(sorted({*scanners, *kept}, key=lambda scanner: scanner.name)),
    )


def first_values(scan: Scan) -> dict:
    """Return what the form of a scan begins with: what is known, else what the member's last one had.

    Settings of a scanner seldom change from scan to scan, so the last described ones are offered.
    """
    like = scan if scan.shows else _last_described(scan) or scan
    told = Upload.objects.filter(scan=scan).values_list("shows", flat=True).first() or ""
    return {
        "shows": scan.shows or told,
        "place": place_of(scan),
        "tablet_id": (like if like.shows == (scan.shows or told) else scan).tablet_id,
        "frame_label": scan.frame_label,
        "scanner_id": like.scanner_id,
        **(like.settings or {}),
        "scanned_on": scan.scanned_on,
        "told_resolution_ppi": scan.told_resolution_ppi,
        "told_resolution_reason": scan.told_resolution_reason,
        "notes": scan.notes,
    }


def place_of(scan: Scan) -> str:
    """Return a scan's roll and strip as one choice."""
    if scan.roll_id is None:
        return ""
    return f"{scan.roll_id}.{scan.strip_id}" if scan.strip_id else str(scan.roll_id)


def _last_described(scan: Scan) -> Scan | None:
    described = Scan.objects.filter(member=scan.member_id, is_discarded=False).exclude(shows="")
    return described.exclude(scanner=None).select_related("scanner").order_by("-updated_at").first()
