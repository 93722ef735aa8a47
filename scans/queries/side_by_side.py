"""Scans side by side: which can be chosen, and the panes of those that were, on one place and one scale."""

import re
from dataclasses import dataclass, field

from django.db.models import F, Prefetch, QuerySet

from curves.models import HouseReference
from curves.queries.stocks import visible_stocks
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import FileState, Measurement, MeasurementKind, Placement, Scan, Shows
from scans.queries.panes import Pane, frame_of, pane_of
from scans.queries.setups import setup_digest
from scans.queries.tiles import scans_open_to

FEWEST, MOST = 2, 6
MARGIN = 1.05
"""How much more than a region is shown of it [ratio]."""
PANE_SHAPE = 1.5
"""Width of a pane over its height [ratio]."""
MOST_OFFERED = 500


@dataclass(frozen=True)
class SideBySide:
    """Everything that the page shows.

    ``basis`` is "film" where the magnification is the same on the film, "target" where some resolution is
    not known, or prints are among them, and it is the same on the target.
    """

    panes: tuple[Pane, ...]
    basis: str
    regions: tuple[str, ...]
    missing: tuple[int, ...] = ()
    density_range: tuple[float, float] | None = None
    notes: tuple[str, ...] = field(default=())

    @property
    def reference(self) -> Pane:
        """The pane that the others are held against."""
        return next((pane for pane in self.panes if pane.is_reference), self.panes[0])

    def field_of(self, region: str) -> float:
        """Width of what a pane shows of a region [mm on the film, or target units]."""
        place = HOUSE_TARGET.region(region) if region else None
        width, height = (place.w, place.h) if place else (HOUSE_TARGET.width, HOUSE_TARGET.height)
        wide = max(width, height * PANE_SHAPE) * MARGIN
        return max(wide * pane.px_per_target_unit / pane.px_per(self.basis) for pane in self.panes)


def pictures_open_to(user) -> QuerySet[Scan]:
    """Return the frames and prints with a picture that this person may set side by side."""
    return (
        scans_open_to(user)
        .filter(
            shows__in=(Shows.FRAME, Shows.PRINT),
            file__state__in=(FileState.MEASURABLE, FileState.VIEW_ONLY),
            file__pyramids__isnull=False,
        )
        .distinct()
        .order_by(F("roll__batch__stock__name").asc(nulls_last=True), "-id")
    )


def offered_pictures(user) -> dict[str, list[tuple[int, str]]]:
    """Return what can be chosen: for each stock its frames and prints, (id, label)."""
    rows = pictures_open_to(user).values_list(
        "pk", "shows", "frame_label", "roll_id", "roll__batch__stock__name"
    )
    offered: dict[str, list[tuple[int, str]]] = {}
    for pk, shows, frame, roll_id, stock in rows[:MOST_OFFERED]:
        told = [frame or ("print" if shows == Shows.PRINT else "frame"), f"S-{pk:04d}"]
        if roll_id:
            told.insert(1, f"R-{roll_id:04d}")
        offered.setdefault(stock or "Stock not said", []).append((pk, ", ".join(told)))
    return offered


def newest_of_each_stock(user) -> list[int]:
    """Return the newest frame of each stock, the house reference's first: something to begin with."""
    newest: dict[int, int] = {}
    frames = pictures_open_to(user).filter(shows=Shows.FRAME, roll__isnull=False).order_by("-id")
    for pk, stock_id in frames.values_list("pk", "roll__batch__stock_id")[:MOST_OFFERED]:
        newest.setdefault(stock_id, pk)
    references = HouseReference.objects.filter(ended_at__isnull=True, stock_id__in=newest)
    first = references.order_by("-id").values_list("stock_id", flat=True).first()
    ids = sorted(newest, key=lambda stock_id: (stock_id != first, newest[stock_id]))
    return [newest[stock_id] for stock_id in ids][:MOST]


def frames_of_stocks(user, stock_ids: list[int]) -> tuple[list[int], list[str]]:
    """Return the newest frame of each of these stocks, in their order, and the names of those without."""
    frames = pictures_open_to(user).filter(shows=Shows.FRAME, roll__batch__stock__in=stock_ids)
    newest: dict[int, int] = {}
    for pk, stock_id in frames.order_by("-id").values_list("pk", "roll__batch__stock_id"):
        newest.setdefault(stock_id, pk)
    absent = [pk for pk in stock_ids if pk not in newest]
    names = visible_stocks(user).filter(pk__in=absent).values_list("name", flat=True)
    return [newest[pk] for pk in stock_ids if pk in newest], sorted(names)


def reference_under(standards: str) -> int | None:
    """Return the stock that is the house reference under a pair of standards, by the pair's key."""
    named = re.fullmatch(r"([0-9]{1,9})-([0-9]{1,9})", standards)
    if named is None:
        return None
    process_id, exposure_id = map(int, named.groups())
    references = HouseReference.objects.filter(
        process_revision_id=process_id, exposure_revision_id=exposure_id, ended_at__isnull=True
    )
    return references.values_list("stock_id", flat=True).first()


def side_by_side(user, scan_ids: list[int]) -> SideBySide | None:
    """Return the panes of the chosen scans, in their order; None where none of them is open."""
    scans = _scans(user, scan_ids)
    if not scans:
        return None
    reference = _reference(scans)
    frames = [frame_of(scan) for scan in scans]
    is_film = all(scan.shows == Shows.FRAME and frame.ppi for scan, frame in zip(scans, frames, strict=True))
    panes = tuple(
        pane_of(scan, frame, reference=reference, reference_frame=frames[scans.index(reference)])
        for scan, frame in zip(scans, frames, strict=True)
    )
    return SideBySide(
        panes=panes,
        basis="film" if is_film else "target",
        regions=tuple(region.label for region in HOUSE_TARGET.regions),
        missing=tuple(pk for pk in scan_ids if pk not in {scan.pk for scan in scans}),
        density_range=_density_range(panes),
        notes=tuple(_notes(scans, is_film)),
    )


def _scans(user, scan_ids: list[int]) -> list[Scan]:
    placements = Placement.objects.order_by("-number")
    measured = Measurement.objects.filter(kind=MeasurementKind.DENSITY, is_current=True)
    related = (
        "file",
        "scanner",
        "roll__batch__stock",
        "roll__process_revision__standard",
        "roll__exposure_revision__standard",
    )
    found = (
        pictures_open_to(user)
        .filter(pk__in=scan_ids)
        .select_related(*related)
        .prefetch_related(
            "file__pyramids",
            Prefetch("placements", placements, to_attr="all_placements"),
            Prefetch("measurements", measured, to_attr="standing_densities"),
        )
    )
    by_id = {scan.pk: scan for scan in found}
    return [by_id[pk] for pk in scan_ids if pk in by_id]


def _reference(scans: list[Scan]) -> Scan:
    """The first scan of a stock that is the house reference under its own standards, else the first."""
    standing = set(
        HouseReference.objects.filter(ended_at__isnull=True).values_list(
            "stock_id", "process_revision_id", "exposure_revision_id"
        )
    )

    def is_reference(scan: Scan) -> bool:
        roll = scan.roll
        return bool(roll) and (
            (roll.batch.stock_id, roll.process_revision_id, roll.exposure_revision_id) in standing
        )

    return next((scan for scan in scans if is_reference(scan)), scans[0])


def _density_range(panes) -> tuple[float, float] | None:
    """The lightest and densest code of all panes, each brought to the reference's grey where it can be."""
    ends = [
        (pane.coding.low + offset, pane.coding.high + offset)
        for pane in panes
        if pane.coding.kind == "density"
        for offset in {0.0, pane.offset_value or 0.0}
    ]
    return (min(low for low, _ in ends), max(high for _, high in ends)) if ends else None


def _notes(scans: list[Scan], is_film: bool):
    """What is not alike, or not known, about all of them."""
    if not is_film:
        if len({scan.shows for scan in scans}) > 1:
            yield "Frames and prints are mixed: they are shown at one size of the target, not of the film."
        elif scans[0].shows == Shows.PRINT:
            yield "Prints are shown at one size of the target."
        else:
            yield "A resolution is not known: frames are shown at one size of the target, not of the film."
    if len({setup_digest(scan) for scan in scans}) > 1:
        yield "Not all were scanned with one scanner and one set of settings."
