"""Tiles are cut once for each file and calibration; what cannot be read says so and leaves nothing."""

import os
import shutil
import time

import numpy as np
import pytest
from django.conf import settings

from labsite.common.errors import WrongState
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.models import FileState, TilePyramid
from scans.services.viewing import (
    clear_abandoned_tiles,
    renew_missing_tiles,
    request_density_tiles,
    request_tiles,
)
from tests.factories.instruments import make_instrument
from tests.factories.standards import make_tablet
from tests.scans.viewing_rows import cut, levels_of, make_calibration, make_file, make_scan

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def scan(owner):
    density = np.linspace(0.3, 1.8, 700) + np.zeros((400, 1))
    return make_scan(owner, levels_of(density))


@pytest.fixture
def calibration(admin, owner, scan):
    return make_calibration(owner, scan, make_instrument(admin), make_tablet(admin, "Tablet of the lab"))


def files_below(folder):
    return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_tiles_of_every_level_and_a_thumbnail_are_there_when_the_row_is(scan, decoding_child):
    pyramid = cut(scan)
    assert (pyramid.document["width"], pyramid.document["height"]) == (700, 400)
    top = pyramid.document["levels"] - 1
    names = {path.name for path in (pyramid.folder / str(top)).iterdir()}
    assert names == {f"{column}_{row}.png" for column in range(3) for row in range(2)}
    assert (pyramid.folder / "thumbnail.png").read_bytes().startswith(b"\x89PNG")
    assert pyramid.document["coding"]["kind"] == "level"


def test_the_daily_sweep_has_missing_tiles_cut_and_leaves_others(scan, owner):
    gone, kept = cut(scan), cut(make_scan(owner, levels_of(np.full((300, 300), 0.7))))
    before = files_below(gone.folder)
    shutil.rmtree(gone.folder)
    assert renew_missing_tiles() == 1
    run_waiting_jobs()
    assert files_below(gone.folder) == before and kept.is_on_disk
    assert renew_missing_tiles() == 0


def test_a_second_run_adds_and_changes_nothing(scan):
    before = files_below(cut(scan).folder)
    stamps = {path: path.stat().st_mtime_ns for path in TilePyramid.objects.get().folder.rglob("*")}
    pyramid = cut(scan)
    assert TilePyramid.objects.count() == 1
    assert files_below(pyramid.folder) == before
    assert {path: path.stat().st_mtime_ns for path in pyramid.folder.rglob("*")} == stamps


def test_tiles_that_were_lost_are_cut_again_under_the_same_row(scan):
    pyramid = cut(scan)
    before = files_below(pyramid.folder)
    (pyramid.folder / "thumbnail.png").unlink()
    assert cut(scan).pk == pyramid.pk
    assert files_below(pyramid.folder) == before


def test_a_calibration_has_its_own_tiles_which_code_density(scan, calibration):
    levels, density = cut(scan), cut(scan, calibration)
    assert levels.pk != density.pk and levels.folder != density.folder
    coding = density.document["coding"]
    assert coding["kind"] == "density"
    # The ramp's ends with the coding's room for what lies beyond.
    assert coding["low"] < 0.3 and coding["high"] > 1.8


def test_a_file_for_looking_only_is_shown_by_its_levels(owner, scan, calibration):
    file = make_file(levels_of(np.full((60, 90), 0.5)), state=FileState.VIEW_ONLY)
    job = request_tiles(file=file, calibration=calibration)
    assert job.subject == {"file_id": file.pk, "calibration_id": None}


@pytest.mark.parametrize("state", [FileState.UNCHECKED, FileState.REFUSED])
def test_nothing_is_cut_of_what_is_no_picture(state):
    with pytest.raises(WrongState, match="no picture"):
        request_tiles(file=make_file(levels_of(np.full((60, 90), 0.5)), state=state))


def test_asking_twice_waits_for_one_job(scan):
    assert request_tiles(file=scan.file).pk == request_tiles(file=scan.file).pk


def test_a_damaged_file_is_refused_in_words_and_leaves_nothing(scan, decoding_child):
    scan.file.path.write_bytes(scan.file.path.read_bytes()[:900])
    job = request_tiles(file=scan.file)
    run_waiting_jobs()
    job.refresh_from_db()
    assert job.state == Job.State.FAILED and job.error_text and job.error_code != "program_fault"
    assert not TilePyramid.objects.exists()
    assert not TilePyramid(file=scan.file).folder.exists()


def test_a_tampered_calibration_is_refused(scan, calibration):
    calibration.document["response"]["density"][3] += 0.1
    calibration.save()
    job = request_tiles(file=scan.file, calibration=calibration)
    run_waiting_jobs()
    job.refresh_from_db()
    assert job.error_code == "TAMPERED"
    assert not TilePyramid(file=scan.file, calibration=calibration).folder.exists()


def test_what_killed_jobs_left_is_cleared_and_nothing_else(scan):
    kept = cut(scan).folder
    young, left, orphan = (kept.with_name(name) for name in (".9-levels.ab", ".8-levels.cd", "8-c3"))
    for folder in (young, left, orphan):
        folder.mkdir()
    for folder in (kept, left, orphan):
        os.utime(folder, (time.time() - 7200,) * 2)
    assert clear_abandoned_tiles() == 2
    assert kept.is_dir() and young.is_dir() and not left.exists() and not orphan.exists()


@pytest.fixture(autouse=True)
def media_root(tmp_path):
    from django.test import override_settings

    with override_settings(MEDIA_ROOT=tmp_path):
        yield settings.MEDIA_ROOT


def test_tiles_by_density_are_asked_for_once(scan, calibration):
    assert request_density_tiles(file=scan.file, calibration=calibration).kind == "cut_tiles"
    cut(scan, calibration)
    assert request_density_tiles(file=scan.file, calibration=calibration) is None
