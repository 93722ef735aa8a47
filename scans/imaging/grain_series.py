"""Granularity against density over the steps of a tablet, and at density 1.0 by interpolation.

Granularity rises roughly as a power of density, so between two steps its logarithm is taken as linear in
the logarithm of density. A third step shows how far from straight that is; half of what it would change
is carried as the interpolation's error. Nothing is read beyond the lightest or the densest step.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scans.imaging.aperture import APERTURE_UM
from scans.imaging.grain import NAME, UNIT, Z95, PatchGrain, measure_patch
from scans.imaging.measures import ImagingError, Measure, withheld
from scans.imaging.scanner_limits import ScannerLimits

STATED_DENSITY = 1.0
NEAR_ENOUGH = 0.05  # a single step so near the stated density stands for it; common practice
LOWEST_DENSITY = 0.02  # below, a step is clear base and says nothing of grain
INDEPENDENT = ("sampling",)


@dataclass(frozen=True, slots=True)
class GrainReport:
    """Grain of a series of even patches.

    Parameters
    ----------
    rms_granularity : Measure
        At the stated density [1000 D].
    density : float, scalar [density]
        The stated density, gross.
    patches : tuple of PatchGrain
        In the order given: granularity against density.
    """

    rms_granularity: Measure
    density: float
    patches: tuple[PatchGrain, ...]

    def to_dict(self) -> dict:
        """The fields as plain JSON values; ``noise_power`` is of the patch nearest the stated density."""
        read = [p for p in self.patches if p.density is not None and p.noise_power is not None]
        nearest = min(read, key=lambda p: abs(p.density - self.density), default=None)
        return {
            "rms_granularity": self.rms_granularity.to_dict(),
            "density": self.density,
            "noise_power": nearest.noise_power.to_dict() if nearest else None,
            "patches": [patch.to_dict() for patch in self.patches],
        }


def measure_granularity(
    patches: Sequence,
    resolution_ppi: tuple[float, float] | None,
    limits: ScannerLimits | None = None,
    *,
    density: float = STATED_DENSITY,
    aperture_um: float = APERTURE_UM,
) -> GrainReport:
    """RMS granularity of a film from the scan of its steps.

    Parameters
    ----------
    patches : sequence of array_like, shape (rows, columns) each [1]
        Linear transmittances of even areas, in any order; NaN where a pixel must not count.
    resolution_ppi : tuple of float, scalar (x, y) [pixels/inch]
        None when not known.
    limits : ScannerLimits, optional
        As in `grain.measure_patch`.
    density : float, scalar [density]
        Gross density at which the value is stated.
    aperture_um : float, scalar [um]
        Diameter of the aperture.

    Returns
    -------
    GrainReport
        ``NOT_REACHED`` where the steps do not lie on both sides of the density and none is within 0.05.

    Raises
    ------
    ImagingError
        When there is no patch, or one is not two-dimensional.
    """
    if not len(patches):
        raise ImagingError("NO_PATCHES", "Give at least one even patch.")
    read = tuple(measure_patch(patch, resolution_ppi, limits, aperture_um=aperture_um) for patch in patches)
    return GrainReport(granularity_at_density(read, density), density, read)


def granularity_at_density(patches: Sequence[PatchGrain], density: float = STATED_DENSITY) -> Measure:
    """Granularity at one density out of that of several patches.

    Parameters
    ----------
    patches : sequence of PatchGrain
    density : float, scalar [density]

    Returns
    -------
    Measure
        RMS granularity [1000 D]; one-sided where a step that it stands on is.
    """
    usable = sorted(
        (p for p in patches if p.rms_granularity.value is not None and p.density > LOWEST_DENSITY),
        key=lambda p: p.density,
    )
    below = [p for p in usable if p.density <= density]
    above = [p for p in usable if p.density > density]
    if not below or not above:
        return _single(patches, usable, density)
    pair = (below[-1], above[0])
    third = min(
        (p for p in usable if p not in pair), key=lambda p: abs(math.log(p.density / density)), default=None
    )
    weights = _weights([p.density for p in pair], density)
    value = _mean_log(pair, weights)
    error = _joint_error(pair, weights)
    if third is not None:
        three = (*pair, third)
        bend = _mean_log(three, _weights([p.density for p in three], density)) - value
        error = math.hypot(error, bend / 2)
    note = f"between steps of density {pair[0].density:.2f} and {pair[1].density:.2f}"
    return _stated(pair, math.exp(value), error, note)


def _single(patches: Sequence[PatchGrain], usable: list[PatchGrain], density: float) -> Measure:
    near = [p for p in usable if abs(p.density - density) <= NEAR_ENOUGH]
    if near:
        nearest = min(near, key=lambda p: abs(p.density - density))
        found = nearest.rms_granularity
        note = "; ".join(filter(None, (f"read at density {nearest.density:.2f}", found.note)))
        return Measure(NAME, found.value, found.low, found.high, UNIT, None, note)
    if usable:
        reach = f"the steps reach from density {usable[0].density:.2f} to {usable[-1].density:.2f}"
        return withheld(NAME, "NOT_REACHED", UNIT, reach)
    nearest = min(patches, key=lambda p: math.inf if p.density is None else abs(p.density - density))
    found = nearest.rms_granularity
    if found.value is not None:
        return withheld(NAME, "NOT_REACHED", UNIT, "there is only clear base")
    return withheld(NAME, found.reason, UNIT, found.note)


def _weights(densities: list[float], density: float) -> list[float]:
    """Lagrange's weights in the logarithm of density."""
    at = [math.log(d / density) for d in densities]
    return [
        math.prod(-other / (own - other) for j, other in enumerate(at) if j != i) for i, own in enumerate(at)
    ]


def _mean_log(patches: Sequence[PatchGrain], weights: list[float]) -> float:
    return sum(w * math.log(p.rms_granularity.value) for w, p in zip(weights, patches, strict=True))


def _joint_error(patches: Sequence[PatchGrain], weights: list[float]) -> float:
    """Relative standard error: sampling is each patch's own, what the scanner adds is common to them."""
    terms = []
    for kind in patches[0].errors:
        each = [w * p.errors[kind] for w, p in zip(weights, patches, strict=True)]
        terms.append(math.hypot(*each) if kind in INDEPENDENT else sum(each))
    return math.hypot(*terms)


def _stated(pair: Sequence[PatchGrain], value: float, error: float, note: str) -> Measure:
    low, high = value * math.exp(-Z95 * error), value * math.exp(Z95 * error)
    measures = [p.rms_granularity for p in pair]
    lowers, uppers = (any(getattr(m, end) is None for m in measures) for end in ("low", "high"))
    if lowers and uppers:
        return withheld(NAME, "SCANNER_UNKNOWN", UNIT, "one step bounds it from above, the other from below")
    note = "; ".join(dict.fromkeys((note, *(m.note for m in measures if m.note))))
    return Measure(NAME, value, None if lowers else low, None if uppers else high, UNIT, None, note)
