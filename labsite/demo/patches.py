"""The club's target and what its patches left on the films: a simple invented model of colour.

A film's sensitivity to a patch is the patch's spectrum, in five bands, under its class of sensitisation;
the shift from a grey of the same luminance follows from it. All spectra are invented.
"""

from math import log2, log10

import numpy as np

from curves.models import ExposureRevision, Roll
from curves.services.patch_readings import record_patch_frame
from curves.services.patch_sets import PatchValue, enter_patch_set
from labsite.demo.emulsions import Emulsion, density
from labsite.demo.rolls import Bench
from labsite.demo.scenario import Stock
from labsite.demo.standards import READING_SD

#: Reflectance of each patch in five bands: violet, blue, green, yellow to orange, red.
PATCHES = {
    "White": (0.88, 0.89, 0.90, 0.90, 0.90),
    "Light grey": (0.36, 0.36, 0.36, 0.36, 0.36),
    "Middle grey": (0.18, 0.18, 0.18, 0.18, 0.18),
    "Dark grey": (0.05, 0.05, 0.05, 0.05, 0.05),
    "Blue": (0.25, 0.30, 0.12, 0.06, 0.05),
    "Green": (0.06, 0.10, 0.30, 0.14, 0.07),
    "Yellow": (0.05, 0.09, 0.52, 0.68, 0.66),
    "Red": (0.04, 0.04, 0.05, 0.24, 0.52),
    "Foliage": (0.04, 0.05, 0.14, 0.11, 0.12),
    "Skin": (0.14, 0.18, 0.24, 0.36, 0.44),
}
GREYS = {"White", "Light grey", "Middle grey", "Dark grey"}
#: What the eye makes of the bands by daylight; luminance factors follow from it.
EYE = (0.01, 0.07, 0.52, 0.32, 0.08)
#: What is in each band of a light, against daylight.
LIGHTS = {"daylight": (1.0, 1.0, 1.0, 1.0, 1.0), "tungsten": (0.25, 0.5, 1.0, 1.5, 2.0)}
#: What each class of film makes of them by daylight.
FILMS = {
    "panchromatic": (0.20, 0.24, 0.22, 0.20, 0.14),
    "extended_red": (0.16, 0.20, 0.18, 0.20, 0.26),
    "orthochromatic": (0.34, 0.36, 0.26, 0.04, 0.00),
    "blue": (0.52, 0.46, 0.02, 0.00, 0.00),
}
#: By how much the light of one exposure is warmer or colder than its standard says: standard deviation in
#: stops, at the red end up and at the violet down (common practice, no source). Rolls differ in colour by it.
CAST_SD = 0.12
#: A yellow filter's transmission of the bands.
YELLOW_FILTER = (0.03, 0.12, 0.80, 0.90, 0.90)
BRACKET = (-2.0, -1.0, 0.0, 1.0, 2.0)
#: Film exposure of a perfect white as the meter places it: log₁₀ above 0.8/S, the speed point of the box.
WHITE_ABOVE_SPEED = 1.55


def _weighted(spectrum, weights) -> float:
    return float(np.dot(spectrum, weights) / np.sum(weights))


def _seen_by(weights, light: str) -> np.ndarray:
    return np.array(weights) * np.array(LIGHTS[light])


def luminance_factor(label: str, light: str = "daylight") -> float:
    """Return the patch's luminance factor under a light."""
    return round(_weighted(PATCHES[label], _seen_by(EYE, light)), 4)


def slower_by(sensitisation: str, light: str) -> float:
    """Return the log exposure by which a class of film is slower than by daylight, at equal lux."""
    film = np.sum(_seen_by(FILMS[sensitisation], light)) / np.sum(FILMS[sensitisation])
    eye = np.sum(_seen_by(EYE, light)) / np.sum(EYE)
    return log10(eye / film)


def enter_patches(*, admin, exposure: ExposureRevision, light: str = "daylight") -> None:
    """Say what is on the target."""
    enter_patch_set(
        actor=admin,
        exposure_revision_id=exposure.pk,
        name="Painted target of ten patches",
        source=f"Lent by the paint shop with their readings, by {light}",
        patches=[PatchValue(label, luminance_factor(label, light), label in GREYS) for label in PATCHES],
    )


def read_patches(
    *,
    member,
    roll: Roll,
    emulsion: Emulsion,
    sensitisation: str,
    instrument_id: int,
    rng: np.random.Generator,
    light: str = "daylight",
    **developer,
) -> None:
    """Read the target on five frames of a bracket, and on one through a yellow filter.

    The light's cast has dice of its own: what was invented before stays as it was.
    """
    cast = np.random.default_rng(roll.pk).normal(0.0, CAST_SD)
    film = _seen_by(FILMS[sensitisation], light) * 2 ** (cast * np.linspace(-1.0, 1.0, len(EYE)))
    frames = [(str(at), offset, "") for at, offset in enumerate(BRACKET, start=2)]
    # The filter's frame gets a stop more, about its factor.
    for label, offset, filter_name in [*frames, ("7", 1.0, "yellow")]:
        densities = {
            number: _shown(emulsion, spectrum, roll, film, offset, filter_name, rng, developer)
            for number, spectrum in enumerate(PATCHES.values(), start=1)
        }
        record_patch_frame(
            actor=member,
            roll_id=roll.pk,
            label=label,
            offset_stops=offset,
            filter_name=filter_name,
            densities=densities,
            instrument_id=instrument_id,
        )


def read_target(*, bench: Bench, member, roll: Roll, stock: Stock, seed: int) -> None:
    """Read the target on a roll that was developed at this bench, with a noise of the roll's own.

    What else is invented stays as it was.
    """
    read_patches(
        member=member,
        roll=roll,
        emulsion=stock.emulsion,
        sensitisation=stock.sensitisation,
        instrument_id=bench.conditions.instrument.pk,
        rng=np.random.default_rng(seed + roll.pk),
        speed_shift=bench.speed_shift,
        contrast=bench.contrast,
    )


def _shown(emulsion, spectrum, roll, film, offset, filter_name, rng, developer) -> float:
    through = film * np.array(YELLOW_FILTER) if filter_name else film
    # Against an unfiltered white; so a filter costs what it holds back.
    seen = float(np.dot(spectrum, through) / np.sum(film))
    white = np.log10(0.8 / roll.batch.stock.box_speed) + WHITE_ABOVE_SPEED
    exposure = white + (log2(max(seen, 1e-4)) + offset) * np.log10(2)
    truth = density(emulsion, exposure, **developer)
    return round(float(truth + rng.normal(0.0, READING_SD)), 2)
