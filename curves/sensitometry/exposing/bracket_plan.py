"""Which shutter time and aperture each frame of an exposure bracket takes.

The frames are chosen by true settings, so the sheet says what a frame truly gives beside what was
wanted; where the camera has no pair of settings near enough, the frame says so instead of a near miss.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from curves.sensitometry.exposing.exposure_settings import (
    aperture_value,
    exposure_value,
    positive,
    true_aperture,
    true_shutter_s,
)
from curves.sensitometry.measures import SensitometryError

WHOLE_STOP_SHUTTERS = tuple(1 / n for n in (1, 2, 4, 8, 15, 30, 60, 125, 250, 500, 1000))
THIRD_STOP_APERTURES = (
    *(2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0),
    *(11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0),
)


@dataclass(frozen=True, slots=True)
class FrameSetting:
    """One frame of a bracket: what to set, and what that truly gives.

    Parameters
    ----------
    offset_stops : float, scalar [stop]
        Exposure wanted, against the metered one; more exposure is positive.
    exposure_index : float, scalar [ISO arithmetic]
        Index for which this frame would be the metered exposure.
    shutter_mark_s, aperture_mark : float or None, scalars [s], [f-number]
        The marks to set; None with a reason.
    true_offset_stops : float or None, scalar [stop]
        What the marks truly give against the metered exposure.
    reason : str or None
        ``NO_CAMERA_SETTING`` when no pair of marks comes within the tolerance.
    """

    offset_stops: float
    exposure_index: float
    shutter_mark_s: float | None
    aperture_mark: float | None
    true_offset_stops: float | None
    reason: str | None = None


def bracket_settings(
    metered_value: float,
    exposure_index: float,
    *,
    shutter_marks_s: Sequence[float] = WHOLE_STOP_SHUTTERS,
    aperture_marks: Sequence[float] = THIRD_STOP_APERTURES,
    span_stops: float = 2.0,
    per_stop: int = 3,
    preferred_aperture: float = 8.0,
    tolerance_stops: float = 0.1,
) -> tuple[FrameSetting, ...]:
    """Shutter and aperture of every frame of a bracket, least exposure first.

    Parameters
    ----------
    metered_value : float, scalar [stop]
        Ev that the meter asks for at the exposure index under test.
    exposure_index : float, scalar [ISO arithmetic]
        That index.
    shutter_marks_s : sequence of float, shape (a,) [s]
        Times the camera has; leave out those long enough for reciprocity failure.
    aperture_marks : sequence of float, shape (b,) [f-number]
        Apertures the lens can be set to.
    span_stops : float, scalar [stop]
        Bracket reaches this far to both sides.
    per_stop : int, scalar [frames per stop]
        3 for a frame at every third of a stop.
    preferred_aperture : float, scalar [f-number]
        Among equally exact pairs the one nearest to this is taken.
    tolerance_stops : float, scalar [stop]
        Largest error of a frame's true exposure.

    Returns
    -------
    tuple of FrameSetting, shape (2 * span * per_stop + 1,)
        Thirteen frames for two stops in thirds.

    Raises
    ------
    SensitometryError
        When a mark is not a positive number or a list is empty.
    """
    if not shutter_marks_s or not aperture_marks or per_stop < 1 or span_stops < 0:
        raise SensitometryError("IMPOSSIBLE_SETTING", "Give at least one shutter time and one aperture.")
    pairs = [
        (exposure_value(true_aperture(aperture), true_shutter_s(shutter)), shutter, aperture)
        for shutter in shutter_marks_s
        for aperture in aperture_marks
    ]
    preferred = aperture_value(preferred_aperture)

    def misfit(pair, wanted):
        # Whole thousandths first, so that exact pairs tie and the preferred aperture decides.
        return round(abs(pair[0] - wanted), 3), abs(aperture_value(pair[2]) - preferred)

    frames = []
    count = math.floor(span_stops * per_stop + 1e-9)
    for k in range(-count, count + 1):
        offset = k / per_stop
        index = positive("Exposure index", exposure_index) * 2**-offset
        value, shutter, aperture = min(pairs, key=lambda pair: misfit(pair, metered_value - offset))
        true_offset = metered_value - value
        if abs(true_offset - offset) <= tolerance_stops:
            frames.append(FrameSetting(offset, index, shutter, aperture, true_offset))
        else:
            frames.append(FrameSetting(offset, index, None, None, None, "NO_CAMERA_SETTING"))
    return tuple(frames)
