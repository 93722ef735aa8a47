"""Calibrating a scanner out of the levels that were read on the step tablet."""

import hashlib
import json

import numpy as np

from labsite.common.errors import NotFound, WrongState
from labsite.jobs.registry import JobRun, job_handler
from scans.imaging import IMAGING_VERSION
from scans.imaging.calibrate import DEFAULT_CERTIFICATE_ERROR, Calibration, StepLevels, calibrate
from scans.imaging.measures import Refusal
from scans.models import Measurement
from scans.queries.calibrations import obstacle_to_calibrating
from scans.queries.measured import current_measurement, measurable_scan
from scans.queries.setups import day_of, setup_of
from scans.queries.tablets import tablet_revision_of
from scans.services.calibrating import store_calibration

ADVICE = {
    "TOO_FEW_STEPS": "Scan again with less exposure if light steps are saturated, or with a longer tablet.",
    "NON_MONOTONE": "Turn the strip over on the scan's page if it lies the wrong way round.",
    "POOR_FIT": "Check that the tablet is the one that was named, clean, and scanned without corrections.",
}


@job_handler("calibrate_scanner", time_limit_s=60)
def calibrate_scanner(run: JobRun) -> dict:
    """Fit the scanner's response to the tablet's densities, or fail with what stands against it."""
    scan = measurable_scan(run.subject["scan_id"])
    if scan is None:
        raise NotFound("The scan is gone.")
    measurement = current_measurement(scan)
    obstacle = obstacle_to_calibrating(scan, measurement)
    if obstacle:
        raise WrongState(obstacle)
    revision = tablet_revision_of(scan)
    valid_days = run.subject["valid_days"]
    run.progress(20, "Fitting the response")
    made = calibrate(
        step_levels_of(measurement.document["areas"]),
        sorted(step.density for step in revision.steps.all()),
        setup=setup_of(scan),
        made_on=day_of(scan),
        white_level=2**scan.file.bit_depth - 1,
        certificate_error=revision.density_sd or DEFAULT_CERTIFICATE_ERROR,
        tablet=str(revision),
        valid_days=valid_days,
    )
    if isinstance(made, Refusal):
        raise WrongState(f"{made.text} {ADVICE.get(made.code, '')}".strip(), code=made.code)
    with run.storing():
        row = store_calibration(
            measurement=measurement,
            revision=revision,
            calibration=made,
            input_digest=_input_digest(measurement, revision.pk, made),
            made_by_id=run.requested_by_id or scan.member_id,
        )
    return {"calibration": row.pk}


def step_levels_of(areas: list[dict]) -> StepLevels:
    """Levels of the steps, from the lightest to the densest; a step without a level counts as dark."""
    steps = [area for area in areas if area["step"]]
    return StepLevels(
        level=[np.nan if area["level"] is None else area["level"] for area in steps],
        standard_error=[area["level_error"] or np.nan for area in steps],
        spread=[area["level_spread"] or np.nan for area in steps],
    )


def _input_digest(measurement: Measurement, revision_id: int, made: Calibration) -> str:
    """Over what was read before any calibration: densities read with one do not make it another input."""
    names = ("step", "level", "level_error", "level_spread")
    levels = [[area[name] for name in names] for area in measurement.document["areas"]]
    content = [IMAGING_VERSION, levels, revision_id, made.valid_days, made.setup.settings]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
