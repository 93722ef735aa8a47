"""The command measure_scan: from a file to numbers, formats, exit codes and one sentence, no database."""

import json
import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
import tifffile
from django.core.management import CommandError, call_command

from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.synthetic_tablets import FIRST, Scene, draw_scan
from tests.imaging.responses import level_of

ROOT = Path(__file__).parents[2]
DENSITIES = FIRST + 0.15 * np.arange(21)


def run(*arguments):
    """Output and exit code, and the sentence that goes with a code that is not 0."""
    out = StringIO()
    try:
        call_command("measure_scan", *map(str, arguments), stdout=out)
    except CommandError as error:
        return out.getvalue(), error.returncode, str(error)
    return out.getvalue(), 0, ""


def report(*arguments, code=0):
    text, returned, sentence = run(*arguments, "--format", "json")
    assert returned == code, sentence
    return json.loads(text)


def write_scan(path, samples, *, make="Invented maker", ppi=4000):
    tags = [(271, 2, 0, make, True), (272, 2, 0, "Flatbed 3", True)] if make else []
    tifffile.imwrite(path, samples, resolution=(ppi, ppi), extratags=tags, metadata=None, software="")
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A scanned tablet, its densities, and the calibration that comes of both."""
    made = tmp_path_factory.mktemp("scans")
    scene = Scene(densities=tuple(DENSITIES), pitch_px=55.0, angle_deg=-3.0, specks=80, hairs=2, seed=4)
    write_scan(made / "tablet.tif", draw_scan(scene, dark=0.0).samples)
    rows = "".join(f"{step},{density:.3f}\n" for step, density in enumerate(DENSITIES, start=1))
    (made / "tablet.csv").write_text("step,density\n" + rows)
    text, code, sentence = run(
        made / "tablet.tif", "--kind", "tablet", "--tablet", made / "tablet.csv", "--format", "json"
    )
    assert code == 0, sentence
    (made / "calibration.json").write_text(text)
    return made


def test_a_tablet_is_found_read_and_calibrates(folder):
    told = json.loads((folder / "calibration.json").read_text())
    assert told["refusal"] is None
    assert told["tablet"]["steps"] == 21
    assert [area["step"] for area in told["areas"]] == list(range(1, 22))
    measured = [area["density"]["value"] for area in told["areas"]][1:-1]
    np.testing.assert_allclose(measured, DENSITIES[1:-1], atol=0.01)
    assert told["calibration"]["residual_rms"] < 0.01
    assert {"SAME_SCAN", "DARK_NOT_MEASURED"} <= {flag["code"] for flag in told["flags"]}
    first = told["areas"][0]
    assert np.array(first["location"]).shape == (4, 2)
    assert set(first["transmittance"]) == {"value", "low", "high", "unit", "reason", "note"}


def test_another_scan_is_read_by_the_calibration(folder, tmp_path):
    """A second tablet of other densities, on the same scanner."""
    densities = 0.12 + 0.14 * np.arange(21)
    scene = Scene(densities=tuple(densities), pitch_px=52.0, angle_deg=2.0, is_reversed=True, seed=8)
    path = write_scan(tmp_path / "other.tif", draw_scan(scene, dark=0.0).samples)
    told = report(path, "--kind", "tablet", "--steps", 21, "--calibration", folder / "calibration.json")
    np.testing.assert_allclose(
        [area["density"]["value"] for area in told["areas"]], densities, atol=0.012
    )  # the certificate's prior error of 0.01 D a step, fitted, and 0.01 D of grain


def test_without_calibration_there_are_levels_and_no_densities(folder):
    told = report(folder / "tablet.tif", "--kind", "tablet")
    assert {area["density"]["reason"] for area in told["areas"]} == {"UNCALIBRATED"}
    assert all(area["level"] > 0 for area in told["areas"])
    assert told["calibration"] is None


@pytest.mark.parametrize(
    ("options", "code"), [({"make": "Other maker"}, "OTHER_SCANNER"), ({"ppi": 2400}, "OTHER_SETTINGS")]
)
def test_a_calibration_of_another_scanner_or_setting_gives_no_density(folder, tmp_path, options, code):
    samples = tifffile.imread(folder / "tablet.tif")
    path = write_scan(tmp_path / "scan.tif", samples, **options)
    told = report(path, "--kind", "tablet", "--calibration", folder / "calibration.json", code=1)
    assert told["refusal"]["code"] == code
    assert told["areas"] == []


def test_a_wrong_number_of_steps_is_refused_with_a_sentence(folder):
    text, code, sentence = run(folder / "tablet.tif", "--kind", "tablet", "--steps", 20)
    assert code == 1
    assert "20 steps" in sentence
    assert "Not measured" in text


def test_a_field_has_granularity(folder, tmp_path):
    """White grain of 0.06 D a pixel at density 1.0: 0.06 sqrt(6.35^2 / 1809.6) = 0.00896, so 8.96.

    The aperture takes the band to Nyquist and a white tail beyond; 7 % is three standard errors of some
    2,000 apertures with the tail's own error. The scanner's blur is told as almost none.
    """
    rng = np.random.default_rng(31)
    density = 1.0 + 0.06 * rng.standard_normal((700, 700))
    levels = np.rint(57000 * 10.0**-density * 1.0)
    light = (10.0**-density + 0.001) / 1.001
    levels = np.rint(57000 * light)
    path = write_scan(tmp_path / "field.tif", levels.astype(np.uint16))
    limits = ScannerLimits.gaussian(0.3, 1e-5, 0.1)
    (tmp_path / "limits.json").write_text(json.dumps(limits.to_dict()))
    options = ("--calibration", folder / "calibration.json", "--scanner", tmp_path / "limits.json")
    told = report(path, "--kind", "field", *options)
    assert told["rms_granularity"]["value"] == pytest.approx(8.96, rel=0.07)
    assert told["areas"][0]["density"]["value"] == pytest.approx(1.0, abs=0.015)
    assert len(told["noise_power"]["frequency_cycles_per_mm"]) > 5
    bare = report(path, "--kind", "field", code=1)
    assert bare["rms_granularity"]["reason"] == "UNCALIBRATED"


def test_an_edge_has_its_frequency_of_half_modulation(tmp_path):
    """Gaussian edge of 1.5 pixels at 4000 pixels an inch: 0.187391 / 1.5 * 4000 / 25.4 = 19.67 cycles/mm."""
    from scipy.special import ndtr

    rows, columns = np.indices((240, 240))
    across = (columns - 119.5) * np.cos(np.deg2rad(5)) + (rows - 119.5) * np.sin(np.deg2rad(5))
    light = 0.2 + 0.5 * ndtr(across / 1.5)
    path = write_scan(tmp_path / "edge.tif", np.rint(light * 65535).astype(np.uint16), make="")
    told = report(path, "--kind", "edge")
    assert told["mtf50_cycles_per_mm"]["value"] == pytest.approx(19.67, rel=0.005)
    assert "LEVELS_AS_LIGHT" in [flag["code"] for flag in told["flags"]]
    twice = report(path, "--kind", "edge", "--resolution-ppi", 8000)
    assert twice["mtf50_cycles_per_mm"]["value"] == pytest.approx(39.35, rel=0.005)


def test_the_table_is_for_people(folder):
    text, code, _ = run(
        folder / "tablet.tif", "--kind", "tablet", "--calibration", folder / "calibration.json"
    )
    assert code == 0
    assert "step 21" in text
    assert "95 % interval" in text


def test_a_figure_is_one_file(folder, tmp_path):
    out = tmp_path / "figure.html"
    run(folder / "tablet.tif", "--kind", "tablet", "--tablet", folder / "tablet.csv", "--figure", out)
    page = out.read_text()
    assert "Density of each step" in page
    assert "tablet.tif" in page


def test_bad_input_is_one_sentence_and_two(folder, tmp_path):
    scan = folder / "tablet.tif"
    (tmp_path / "text.tif").write_text("no picture")
    (tmp_path / "falling.csv").write_text(
        "step,density\n" + "".join(f"{n},{3 - n / 10}\n" for n in range(1, 9))
    )
    (tmp_path / "gaps.csv").write_text("step,density\n1,0.1\n3,0.2\n4,0.3\n")
    (tmp_path / "broken.csv").write_text("step,density\n1,0.1x\n2,0.2\n")
    (tmp_path / "not.json").write_text("{")
    stored = json.loads((folder / "calibration.json").read_text())["calibration"]
    stored["response"]["density"][0] = 9.0
    (tmp_path / "changed.json").write_text(json.dumps(stored))
    cases = [
        ((tmp_path / "none.tif", "--kind", "tablet"), "cannot be opened"),
        ((tmp_path / "text.tif", "--kind", "tablet"), "not TIFF"),
        ((scan, "--kind", "tablet", "--tablet", tmp_path / "falling.csv"), "from the lightest"),
        ((scan, "--kind", "tablet", "--tablet", tmp_path / "gaps.csv"), "without a gap"),
        ((scan, "--kind", "tablet", "--tablet", tmp_path / "broken.csv"), "row 2"),
        ((scan, "--kind", "tablet", "--calibration", tmp_path / "not.json"), "no JSON"),
        ((scan, "--kind", "tablet", "--calibration", tmp_path / "changed.json"), "digest"),
        ((scan, "--kind", "field", "--scanner", tmp_path / "not.json"), "no JSON"),
        ((scan, "--kind", "tablet", "--steps", 3), "between 6 and 41"),
    ]
    for arguments, words in cases:
        text, code, sentence = run(*arguments)
        assert (code, text) == (2, ""), arguments
        assert words in sentence
        assert "\n" not in sentence.strip()


def test_eight_bits_are_refused_with_the_reason(tmp_path):
    tifffile.imwrite(
        tmp_path / "low.tif", (level_of(np.full((90, 90), 1.0), "linear") / 257).astype(np.uint8)
    )
    for kind in ("tablet", "field", "edge"):
        told = report(tmp_path / "low.tif", "--kind", kind, code=1)
        assert told["refusal"]["code"] == "EIGHT_BITS"


def test_it_runs_without_a_site(folder, tmp_path):
    """A real process, with a data folder that holds nothing: no database is made or asked for."""
    command = [sys.executable, "manage.py", "measure_scan", folder / "tablet.tif", "--kind", "tablet"]
    result = subprocess.run(
        [*command, "--format", "json"],
        cwd=ROOT,
        env=os.environ
        | {"LABSITE_DATA_DIR": str(tmp_path / "data"), "DJANGO_SETTINGS_MODULE": "labsite.settings"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr
    assert json.loads(result.stdout)["tablet"]["steps"] == 21
    assert not list((tmp_path / "data").glob("*.sqlite3"))
