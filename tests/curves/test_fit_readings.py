"""The command fit_readings: numbers, formats, one sentence and exit code 2 for bad input, no database."""

import json
import math
import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from curves.importers import MAX_BYTES
from curves.management.fit_report import CONTRACT_MEASURES
from curves.sensitometry import MEASURES

ROOT = Path(__file__).parents[2]
STRIP = ROOT / "tests" / "data" / "strip-soft-toe.csv"

# Known from the algebra of the strip's curve; see tests/data/README.md.
TRUE = {
    "speed_point_log_exposure": -2.591632,
    "delta_d_130": 0.816059,
    "iso_speed_exact": 312.41,
    "average_gradient_150": 0.637288,
    "contrast_index": 0.648667,
    "base_plus_fog": 0.25,
}


def fit(*arguments, **options):
    out = StringIO()
    call_command("fit_readings", *map(str, arguments), stdout=out, **options)
    return out.getvalue()


def report(*arguments):
    return json.loads(fit(*arguments, "--format", "json"))


def refusal(*arguments):
    with pytest.raises(CommandError) as caught:
        fit(*arguments)
    assert caught.value.returncode == 2
    return str(caught.value)


@pytest.fixture(scope="module")
def absolute():
    return report(STRIP, "--exposure", "absolute", "--box-speed", "400")


def write(folder, text, name="strip.csv"):
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_the_report_has_the_promised_keys_in_order(absolute):
    assert list(absolute)[:4] == ["file", "engine_version", "exposure", "box_speed"]
    assert {"measures", "curve", "flags"} <= set(absolute)
    assert tuple(absolute["measures"])[: len(CONTRACT_MEASURES)] == CONTRACT_MEASURES
    for measure in absolute["measures"].values():
        assert list(measure) == ["value", "low", "high", "unit", "reason", "note"]
        assert (measure["value"] is None) == (measure["reason"] is not None)
    assert list(absolute["curve"]) == ["log_exposure", "density", "low", "high", "gradient"]
    assert len({len(values) for values in absolute["curve"].values()}) == 1
    assert [sorted(flag) for flag in absolute["flags"]] == [["code", "text"]] * len(absolute["flags"])


@pytest.mark.parametrize("name", TRUE)
def test_the_interval_of_each_measure_holds_the_truth(absolute, name):
    """One strip of known curve: every 95 % interval of these six holds what algebra gives."""
    measure = absolute["measures"][name]
    assert measure["low"] <= TRUE[name] <= measure["high"]


def test_the_speed_is_that_of_the_scale_and_compared_with_the_box(absolute):
    """0.8/Hm = 312.41 rounds to 320/26 degrees; log2 of it over 400 is -0.36."""
    measures = absolute["measures"]
    assert (measures["iso_speed"]["value"], measures["iso_degree"]["value"]) == (320, 26)
    box = measures["box_difference_stops"]
    assert box["value"] == pytest.approx(math.log2(measures["iso_speed_exact"]["value"] / 400), abs=1e-4)
    assert box["unit"] == "stop"


def test_what_the_strip_does_not_show_is_withheld(absolute):
    """The strip ends on its straight part: no shoulder, and the useful range is at least."""
    assert absolute["measures"]["shoulder_onset"]["reason"] == "NOT_REACHED"
    assert absolute["measures"]["useful_range"]["high"] is None
    assert "STILL_RISING" in {flag["code"] for flag in absolute["flags"]}


def test_exposure_is_relative_unless_told_and_then_no_speed_is_stated():
    given = report(STRIP)
    assert given["exposure"] == "relative"
    for name in ("iso_speed", "iso_speed_exact", "iso_degree"):
        assert given["measures"][name]["reason"] == "UNCALIBRATED"
    assert given["measures"]["contrast_index"]["value"] is not None
    assert any("relative" in note for note in given["notes"])


def test_the_same_file_gives_the_same_bytes():
    assert fit(STRIP, "--format", "json") == fit(STRIP, "--format", "json")


@pytest.mark.parametrize(
    "name", ["strip-soft-toe-semicolon.csv", "strip-soft-toe.xlsx", "strip-soft-toe.txt"]
)
def test_every_kind_of_file_gives_the_same_numbers(absolute, name):
    other = report(STRIP.with_name(name), "--exposure", "absolute", "--box-speed", "400")
    assert other["measures"] == absolute["measures"]
    assert other["curve"] == absolute["curve"]


@pytest.fixture(scope="module")
def faster(tmp_path_factory):
    """The strip with every exposure a stop lower at the same density: a film one stop faster."""
    lines = STRIP.read_text().splitlines()
    moved = lines[:2]
    for line in lines[2:]:
        step, x, *rest = line.split(",")
        moved.append(",".join([step, f"{float(x) - math.log10(2):.5f}" if x else "", *rest]))
    return write(tmp_path_factory.mktemp("faster"), "\n".join(moved) + "\n", "faster.csv")


def test_a_film_a_stop_faster_is_told_as_such(faster):
    compared = report(faster, "--exposure", "absolute", "--reference", STRIP)["comparison"]
    shift, ratio, shape = (compared[n] for n in ("speed_shift_stops", "contrast_ratio", "shape_difference"))
    # The readings are the same but for their place, so the estimates differ by rounding alone.
    assert shift["value"] == pytest.approx(1.0, abs=0.005)
    assert shift["low"] < 1.0 < shift["high"]
    assert ratio["value"] == pytest.approx(1.0, abs=0.002)
    assert shape["value"] == pytest.approx(0.0, abs=0.002)
    arrays = compared["difference"]
    assert len(arrays["log_exposure"]) == len(arrays["difference"]) == len(arrays["low"]) > 50
    assert np.all(np.array(arrays["aligned_low"]) <= 0.002)
    assert compared["sentences"]


def test_the_table_shows_value_interval_unit_and_reason(faster):
    text = fit(faster, "--exposure", "absolute", "--reference", STRIP)
    lines = {line[:36].strip(): line for line in text.splitlines()}
    assert "to" in lines[MEASURES["contrast_index"].title]
    assert lines[MEASURES["contrast_index"].title].count(".") >= 3
    assert "D per log10" in lines[MEASURES["contrast_index"].title]
    assert lines[MEASURES["shoulder_onset"].title].endswith(
        "withheld  The criterion is not reached within the measured steps."
    )
    assert "at least" in lines[MEASURES["d_max"].title]
    assert "Against the reference" in text
    assert "STILL_RISING: The curve still rises" in text
    assert "cells are separated by: comma" in text


def test_a_figure_can_be_written(tmp_path, faster):
    alone, over = tmp_path / "alone.html", tmp_path / "over.html"
    fit(STRIP, "--figure", alone)
    fit(faster, "--reference", STRIP, "--figure", over)
    assert "Characteristic curve; gross density" in alone.read_text(encoding="utf-8")
    assert "Characteristic curves of the reference" in over.read_text(encoding="utf-8")


def test_a_figure_that_cannot_be_written_is_a_sentence(tmp_path):
    sentence = refusal(STRIP, "--figure", tmp_path / "no" / "out.html")
    assert sentence.endswith("the figure cannot be written (No such file or directory).")


BAD_FILES = {
    "letters": (
        "log_exposure,density\n-2.1,x\n-1.9,0.4\n",
        "{path}, row 2, column density: “x” is not a number; write digits only, such as 0.53.",
    ),
    "several": (
        "log_exposure,density\n-2.1,x\n-1.9,y\n-1.8,nan\n",
        "{path}, row 2, column density: “x” is not a number; write digits only, such as 0.53 "
        "(2 more problems in row 3, 4).",
    ),
    "empty": (
        "",
        "{path}: the file is empty; give a CSV file (UTF-8), an .xlsx workbook or a CGATS text file.",
    ),
    "picture": (
        b"\x89PNG\r\n\x1a\n",
        "{path}: this is a PNG picture, not a table; give a CSV file (UTF-8), an .xlsx workbook or a CGATS "
        "text file.",
    ),
    "one step": (
        "log_exposure,density\n-2.1,0.3\n",
        "{path}, row 1: only one step is in the table; a curve needs at least 2 different steps, and 10 or "
        "more to be of use.",
    ),
    "too large": (
        b"9" * (MAX_BYTES + 1),
        "{path}: the file is larger than 2 MB; give the readings of one roll per file.",
    ),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_bad_input_is_one_sentence_with_the_place(tmp_path, name):
    content, expected = BAD_FILES[name]
    path = write(tmp_path, content)
    assert refusal(path) == expected.format(path=path)


def test_a_bad_reference_is_told_by_its_own_name(tmp_path):
    path = write(tmp_path, "density\n0.3\n", "reference.csv")
    assert refusal(STRIP, "--reference", path).startswith(f"{path}, row 1, column log_exposure: there is no")


@pytest.mark.parametrize("path", ["missing.csv", "."])
def test_a_file_that_cannot_be_opened_is_a_sentence(path):
    assert refusal(path).startswith(f"{path}: cannot be read (")


@pytest.mark.parametrize("speed", ["0", "-400", "fast", "nan", "inf"])
def test_a_box_speed_must_be_a_speed(speed):
    with pytest.raises(CommandError, match="is no speed; give an ISO arithmetic speed such as 400"):
        fit(STRIP, "--box-speed", speed)


def test_too_few_steps_for_a_curve_still_give_a_report(tmp_path):
    """Three steps are readable but support no curve: everything is withheld, nothing fails."""
    path = write(tmp_path, "log_exposure,density\n-2.1,0.3\n-1.9,0.4\n-1.7,0.52\n")
    given = report(path)
    assert given["measures"]["speed_point_log_exposure"]["reason"] == "TOO_FEW_POINTS"
    assert given["curve"]["density"] == []
    assert "withheld" in fit(path)


def run(*arguments, **environment):
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "fit_readings", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, "LABSITE_NO_BOOTSTRAP": "1", **environment},
    )


def test_the_shell_gets_a_result_and_exit_code_zero_without_any_site(tmp_path):
    """No data folder is made and no database is opened, even where none could be."""
    done = run(
        STRIP, "--format", "json", LABSITE_DATA_DIR=str(tmp_path / "nowhere"), PYTHONUTF8="0", LC_ALL="C"
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["measures"]["base_plus_fog"]["value"] == pytest.approx(0.25, abs=0.01)
    assert not (tmp_path / "nowhere").exists()


def test_a_terminal_that_cannot_show_every_sign_gets_a_table_all_the_same():
    done = run(STRIP, PYTHONUTF8="0", LC_ALL="C")
    assert (done.returncode, done.stderr) == (0, "")
    assert "?X-equivalent speed" in done.stdout


def test_the_shell_gets_one_line_and_exit_code_two_for_bad_input(tmp_path):
    done = run(write(tmp_path, "log_exposure,density\n-2.1,x\n-1.9,0.4\n"))
    assert (done.returncode, done.stdout) == (2, "")
    assert len(done.stderr.strip().splitlines()) == 1
    assert "row 2, column density" in done.stderr
