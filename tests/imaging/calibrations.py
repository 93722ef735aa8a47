"""Calibrations made without error, for tests of what is read with them."""

import datetime

import numpy as np

from scans.imaging.calibrate import Calibration, ScannerSetup, StepLevels, calibrate
from tests.imaging.responses import DARK, level_of, tablet_densities


def made_calibration(response="linear"):
    """Of a scanner of a known response, with densities from 0.05 to 3.05."""
    density = tablet_densities()
    level = level_of(density, response)
    steps = StepLevels(level, np.full(density.size, 1.0), np.full(density.size, 60.0))
    made = calibrate(
        steps,
        density,
        setup=ScannerSetup("Flatbed 3", {}),
        made_on=datetime.date(2026, 3, 1),
        dark_level=DARK,
    )
    assert isinstance(made, Calibration)
    return made
