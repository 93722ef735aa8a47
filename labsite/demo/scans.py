"""Scans of the demo lab: a calibrated scanner, a strip read by it, frames of the target, grain and edges.

Uploaded, described, calibrated and measured through the services and jobs that the pages use.
"""

import tempfile
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from curves.models import Instrument, Roll
from curves.services.instruments import add_instrument
from curves.services.reviews import accept_roll
from curves.services.rolls import submit_roll
from labsite.demo import rolls as making
from labsite.demo import scan_pictures as pictures
from labsite.demo.rolls import Bench
from labsite.demo.scan_pictures import Look
from labsite.demo.scenario import STOCKS
from labsite.demo.standards import LOG_EXPOSURE_CLEAR
from labsite.jobs.runner import run_waiting_jobs
from scans.models import Scan, Shows
from scans.queries.taking_pictures import takeable_measure
from scans.services.calibrating import calibrate_scanner
from scans.services.describing import describe_scan
from scans.services.taking import take_densities
from scans.services.taking_pictures import take_picture
from scans.services.trials import try_scanner
from scans.services.uploads import receive_bytes, start_upload

GRAIN_AND_SHARPNESS = {
    "Wrensfell 100": (9.0, 45.0),
    "Wrensfell 400": (14.0, 34.0),
    "Corvale Ortho 40": (6.5, 62.0),
    "Saltern 320": (16.0, 30.0),
}
"""Of each photographed stock: RMS granularity, and the frequency of half modulation [cycles/mm]."""
FRAMES = {
    "Wrensfell 100": {"stops": 0.0, "angle_deg": 0.4, "mirrored": False},
    "Wrensfell 400": {"stops": 0.3, "angle_deg": -0.7, "mirrored": False},
    "Corvale Ortho 40": {"stops": -0.3, "angle_deg": 0.0, "mirrored": True},
    "Saltern 320": {"stops": 0.2, "angle_deg": 1.1, "mirrored": False},
}
CLOSELY_SCANNED = ("Wrensfell 100", "Saltern 320")
FIELDS = {"grey card": "grey card", "even tone": "light tone"}
STRIP_OF = "Wrensfell 100"
VALID_DAYS = 60


@dataclass(frozen=True)
class ScanDesk:
    """Who scans, with what, on which day."""

    scanner: Instrument
    tablet_id: int
    member: object
    day: date

    def scan(self, path: Path, filename: str, shows: str, **told) -> Scan:
        """Upload a file and say what it shows."""
        upload = start_upload(actor=self.member, filename=filename, size_bytes=path.stat().st_size)
        with path.open("rb") as stream:
            upload = receive_bytes(actor=self.member, upload_id=upload.pk, offset=0, stream=stream)
        return describe_scan(
            actor=self.member,
            scan_id=upload.scan_id,
            shows=shows,
            scanner_id=self.scanner.pk,
            settings={"holder": "glass, emulsion down", "corrections": "all off"},
            scanned_on=self.day,
            **told,
        )

    def close(self, path: Path, words: str, shows: str, **told) -> Scan:
        """Upload a close scan of part of a frame."""
        name = f"{words}.tif".replace(", ", "-").replace(" ", "-")
        return self.scan(path, name, shows, frame_label=words, **told)


def add_scans(*, bench: Bench, batches: dict, people: dict, today: date, seed: int) -> None:
    """Photograph four stocks, scan what came of it, and have it accepted."""
    member, admin = people["odile"], people["warden"]
    looks = {name: _look(name, bench) for name in GRAIN_AND_SHARPNESS}
    with tempfile.TemporaryDirectory() as folder, pictures.drawn_beside() as pool:
        drawn = _begin_drawing(pool, Path(folder), looks, bench, seed)
        desk = ScanDesk(_scanner(admin), _tablet_id(bench), member, today - timedelta(days=2))
        _calibrate(desk, drawn)
        rolls = _develop(bench, batches, member, today - timedelta(days=3))
        _scan_films(desk, rolls, drawn)
        run_waiting_jobs()
    _take_pictures(member)
    for roll in rolls.values():
        submit_roll(actor=member, roll_id=roll.pk)
        accept_roll(actor=admin, roll_id=roll.pk)
    run_waiting_jobs()


def _take_pictures(member) -> None:
    """Let what the close scans say of grain and sharpness stand for their rolls, as far as it is takeable."""
    for scan in Scan.objects.filter(shows__in=(Shows.FIELD, Shows.EDGE), roll__isnull=False).order_by("pk"):
        if takeable_measure(scan) is not None:
            take_picture(actor=member, scan_id=scan.pk)


def _look(name: str, bench: Bench) -> Look:
    emulsion = next(stock.emulsion for stock in STOCKS if stock.name == name)
    rms, mtf50 = GRAIN_AND_SHARPNESS[name]
    return Look(emulsion, rms, mtf50, bench.speed_shift, bench.contrast)


def _begin_drawing(
    pool: ProcessPoolExecutor, folder: Path, looks: dict, bench: Bench, seed: int
) -> Callable[[str], Path]:
    """Have everything drawn, what is needed first at first; ask for a picture by its name."""
    truth = bench.conditions.tablet_truth
    wanted = [
        ("tablet", pictures.draw_tablet, (truth, pictures.FRAME_PPI), {}),
        ("tablet close", pictures.draw_tablet, (truth, pictures.CLOSE_PPI), {}),
        (
            "strip",
            pictures.draw_strip,
            (looks[STRIP_OF], LOG_EXPOSURE_CLEAR - truth, pictures.FRAME_PPI),
            {},
        ),
    ]
    how = {"stops": FRAMES[STRIP_OF]["stops"], "again": True}
    wanted += [(f"{region} again", pictures.draw_close, (looks[STRIP_OF], region), how) for region in FIELDS]
    wanted.append(("razor", pictures.draw_razor, (), {}))
    for name in CLOSELY_SCANNED:
        for region in (*FIELDS, "edge"):
            stops = {"stops": FRAMES[name]["stops"]}
            wanted.append((f"{name} {region}", pictures.draw_close, (looks[name], region), stops))
    wanted += [(f"{name} frame", pictures.draw_frame, (looks[name],), how) for name, how in FRAMES.items()]
    # A second scan of a field is of the same film: it has the same grain.
    seeds = {name: seed + number for number, (name, *_) in enumerate(wanted)}
    seeds |= {f"{region} again": seeds[f"{STRIP_OF} {region}"] for region in FIELDS}
    futures: dict[str, Future] = {}
    for number, (name, draw, told, how) in enumerate(wanted):
        path = folder / f"{number:02}.tif"
        futures[name] = pool.submit(draw, path, *told, seed=seeds[name], **how)
    return lambda name: futures[name].result()


def _scanner(admin) -> Instrument:
    return add_instrument(
        actor=admin,
        name="Flatbed 3",
        kind=Instrument.Kind.SCANNER,
        notes="The club's film scanner; its corrections stay off.",
    )


def _tablet_id(bench: Bench) -> int:
    return bench.conditions.exposure.tablet_id


def _calibrate(desk: ScanDesk, drawn: Callable[[str], Path]) -> None:
    """At either resolution: a calibration holds for one set of settings."""
    told = {"tablet_id": desk.tablet_id}
    scans = [
        desk.scan(drawn("tablet"), "tablet-a.tif", Shows.TABLET, **told),
        desk.scan(drawn("tablet close"), "tablet-a-4000.tif", Shows.TABLET, **told),
    ]
    run_waiting_jobs()
    for scan in scans:
        calibrate_scanner(actor=desk.member, scan_id=scan.pk, valid_days=VALID_DAYS)
    run_waiting_jobs()


def _develop(bench: Bench, batches: dict, member, day: date) -> dict[str, Roll]:
    """One tank with a roll of each stock; all but the scanned one are read as usual."""
    run = making.develop(bench=bench, operator=member, ran_on=day, films_through=4)
    rolls = {}
    for name in GRAIN_AND_SHARPNESS:
        roll = making.plan(
            bench=bench, member=member, batch=batches[name], exposed_on=day, notes="Strip and target frames."
        )
        making.process(member=member, roll=roll, run=run)
        if name != STRIP_OF:
            stock = next(stock for stock in STOCKS if stock.name == name)
            making.read(bench=bench, member=member, roll=roll, emulsion=stock.emulsion)
        rolls[name] = roll
    return rolls


def _scan_films(desk: ScanDesk, rolls: dict[str, Roll], drawn: Callable[[str], Path]) -> None:
    """The scanner is tried before most is scanned, so that what follows is measured once."""
    strip = desk.scan(drawn("strip"), "strip.tif", Shows.STRIP, roll_id=rolls[STRIP_OF].pk)
    run_waiting_jobs()
    take_densities(actor=desk.member, scan_id=strip.pk)
    _try_scanner(desk, rolls[STRIP_OF], drawn)
    run_waiting_jobs()
    for name in CLOSELY_SCANNED:
        told = {"roll_id": rolls[name].pk}
        if name != STRIP_OF:
            for region, words in FIELDS.items():
                desk.close(drawn(f"{name} {region}"), words, Shows.FIELD, **told)
        desk.close(drawn(f"{name} edge"), "edge", Shows.EDGE, **told)
    for name, roll in rolls.items():
        told = {"roll_id": roll.pk, "frame_label": "frame 3"}
        desk.scan(drawn(f"{name} frame"), "frame-3.tif", Shows.FRAME, **told)


def _try_scanner(desk: ScanDesk, roll: Roll, drawn: Callable[[str], Path]) -> None:
    """Two fields scanned twice tell its noise, and a razor's edge its blur."""
    repeats = []
    for region, words in FIELDS.items():
        once = desk.close(drawn(f"{STRIP_OF} {region}"), words, Shows.FIELD, roll_id=roll.pk)
        again = desk.close(drawn(f"{region} again"), f"{words}, again", Shows.FIELD)
        repeats.append((once.pk, again.pk))
    razor = desk.close(drawn("razor"), "razor", Shows.EDGE)
    run_waiting_jobs()
    try_scanner(actor=desk.member, edge_id=razor.pk, repeats=repeats)
