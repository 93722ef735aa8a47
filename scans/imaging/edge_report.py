"""What is read off an edge's MTF: crossings with their intervals, and the film without the scanner."""

import math
from dataclasses import dataclass, field

import numpy as np

from scans.imaging.edge_spread import first_crossing
from scans.imaging.measures import Flag, Measure, withheld
from scans.imaging.scanner_limits import MTF_LIMIT, ScannerLimits

UNIT = "cycles/mm"
Z95 = 1.959964
SYSTEMATIC = 0.003  # relative error of a crossing that is left without noise
NAMES = ("mtf50_cycles_per_mm", "mtf10_cycles_per_mm", "film_mtf50_cycles_per_mm", "film_mtf10_cycles_per_mm")


@dataclass(frozen=True, slots=True)
class EdgeCurve:
    """An MTF and how it comes out with each band of rows left out.

    Parameters
    ----------
    frequency : ndarray, shape (k,) [cycles/mm]
    mtf : ndarray, shape (k,) [1]
        NaN where it is not known.
    others : ndarray, shape (bands, k) [1]
    widen : float, scalar [1]
        Factor on a standard error for the few bands.
    """

    frequency: np.ndarray
    mtf: np.ndarray
    others: np.ndarray
    widen: float

    @property
    def error(self) -> np.ndarray:
        """Standard error of the MTF by the jackknife, shape (k,) [1]."""
        return _jackknife(self.others)

    @property
    def reach(self) -> float:
        """The highest frequency up to which the whole curve is known, scalar [cycles/mm]."""
        unknown = np.flatnonzero(np.isnan(self.mtf))
        return float(self.frequency[max(unknown[0] - 1, 0) if unknown.size else -1])

    def divided(self, other_mtf: np.ndarray) -> "EdgeCurve":
        """Without another link of the cascade, shape (k,) [1]; not known where that is 0.3 or less."""
        divisor = np.where(other_mtf > MTF_LIMIT, other_mtf, np.nan)
        return EdgeCurve(self.frequency, self.mtf / divisor, self.others / divisor, self.widen)

    def crossing(self, level: float) -> float | None:
        """Where the MTF falls through a level, scalar [cycles/mm]; None where it does not."""
        return first_crossing(self.frequency, self.mtf, level)

    def crossing_error(self, level: float) -> float | None:
        """Standard error of the crossing, scalar [cycles/mm]; None when some bands do not reach it."""
        each = [first_crossing(self.frequency, mtf, level) for mtf in self.others]
        if None in each:
            return None
        return float(_jackknife(np.array(each)[:, None])[0]) * self.widen


@dataclass(frozen=True, slots=True, eq=False)
class EdgeProfile:
    """The edge itself: how the light rises across it, all rows together.

    Parameters
    ----------
    place : ndarray, shape (n,) [um]
        Distance from the edge, at right angles to it; negative on the dark side.
    level : ndarray, shape (n,) [1]
        0 on the dark side and 1 on the bright one, of transmittance.
    error : ndarray, shape (n,) [1]
        Standard error of the level.
    """

    place: np.ndarray
    level: np.ndarray
    error: np.ndarray

    @classmethod
    def of_bands(cls, spreads: np.ndarray, bins_per_um: float, reach_um: float) -> "EdgeProfile":
        """The profile of all rows with how it scatters when a band of them is left out, to a reach.

        Parameters
        ----------
        spreads : ndarray, shape (1 + bands, n) [1]
            Edge spread of all rows, and with each band left out.
        bins_per_um : float, scalar [1/um]
        reach_um : float, scalar [um]
            On either side.

        Returns
        -------
        EdgeProfile
        """
        place = (np.arange(spreads.shape[1]) - spreads.shape[1] // 2) / bins_per_um
        inside = np.abs(place) <= reach_um
        return cls(place[inside], spreads[0, inside], _jackknife(spreads[1:, inside]))

    @classmethod
    def unknown(cls) -> "EdgeProfile":
        """No profile, for an edge that gives no numbers."""
        return cls(np.zeros(0), np.zeros(0), np.zeros(0))

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "place_um": self.place.tolist(),
            "level": self.level.tolist(),
            "error": self.error.tolist(),
        }


@dataclass(frozen=True, slots=True, eq=False)
class EdgeReport:
    """Sharpness of a rig, and of the film where the scanner's part is known.

    Parameters
    ----------
    mtf50, mtf10 : Measure
        Of everything together [cycles/mm].
    film_mtf50, film_mtf10 : Measure
        The scanner, and the lens if given, divided out [cycles/mm].
    frequency : ndarray, shape (k,) [cycles/mm]
        To the scan's Nyquist frequency.
    mtf, mtf_error : ndarray, shape (k,) [1]
        Of everything together, and its standard error.
    film_mtf : ndarray, shape (k,) [1]
        NaN where it is not known.
    angle_degrees : float or None, scalar [degrees]
        Of the edge, from upright or level.
    contrast_to_noise : float or None, scalar [1]
        Difference of the levels over a pixel's noise.
    flags : tuple of Flag
    profile : EdgeProfile
        What the curve was computed from.
    """

    mtf50: Measure
    mtf10: Measure
    film_mtf50: Measure
    film_mtf10: Measure
    frequency: np.ndarray
    mtf: np.ndarray
    mtf_error: np.ndarray
    film_mtf: np.ndarray
    angle_degrees: float | None = None
    contrast_to_noise: float | None = None
    flags: tuple[Flag, ...] = ()
    profile: EdgeProfile = field(default_factory=EdgeProfile.unknown)

    @classmethod
    def withheld(cls, reason: str, note: str = "") -> "EdgeReport":
        """A report without numbers, each with the same reason."""
        nothing = (np.zeros(0),) * 4
        return cls(*(withheld(name, reason, UNIT, note) for name in NAMES), *nothing)

    def to_dict(self) -> dict:
        """The fields as plain JSON values; what is not known of the film's curve is null."""
        measures = (self.mtf50, self.mtf10, self.film_mtf50, self.film_mtf10)
        return {
            **{name: measure.to_dict() for name, measure in zip(NAMES, measures, strict=True)},
            "mtf": {
                "frequency_cycles_per_mm": self.frequency.tolist(),
                "mtf": self.mtf.tolist(),
                "error": self.mtf_error.tolist(),
                "film_mtf": [None if math.isnan(value) else value for value in self.film_mtf.tolist()],
            },
            "profile": self.profile.to_dict(),
            "angle_degrees": self.angle_degrees,
            "contrast_to_noise": self.contrast_to_noise,
            "flags": [flag.to_dict() for flag in self.flags],
        }


def stated_crossing(
    name: str, curve: EdgeCurve, level: float, is_cut: bool, other_error: float = 0.0
) -> Measure:
    """A crossing as a measure.

    Parameters
    ----------
    name : str
    curve : EdgeCurve
    level : float, scalar [1]
        Of the MTF.
    is_cut : bool
        Whether the edge's tails were cut, which makes the value an "at most".
    other_error : float, scalar [1]
        Relative standard error from elsewhere.

    Returns
    -------
    Measure
        ``NOT_REACHED`` with the frequency that the curve reaches in its note, where it does not fall so far,
        and with the interval's lower end, where its upper one is beyond what was measured;
        ``NOISE_DOMINATES`` where noise leaves the crossing open.
    """
    value = curve.crossing(level)
    if value is None:
        return withheld(name, "NOT_REACHED", UNIT, f"≥ {curve.reach:.1f} cycles/mm")
    error = curve.crossing_error(level)
    if error is None or error > value / 3:
        return withheld(name, "NOISE_DOMINATES", UNIT, "the rows of the edge differ too widely")
    spread = math.hypot(error / value, SYSTEMATIC, other_error)
    low, high = value * math.exp(-Z95 * spread), value * math.exp(Z95 * spread)
    if high > curve.reach:
        bound = "" if is_cut else f"≥ {low:.1f} cycles/mm: "
        return withheld(name, "NOT_REACHED", UNIT, f"{bound}the interval runs beyond what was measured")
    if is_cut:
        return Measure(name, value, None, high, UNIT, None, "at most: the edge's tails are cut")
    return Measure(name, value, low, high, UNIT)


def film_measures(
    curve: EdgeCurve, limits: ScannerLimits | None, target_lens: ScannerLimits | None, is_cut: bool
) -> tuple[Measure, Measure, np.ndarray]:
    """The film's crossings and curve, the scanner and the lens divided out.

    Parameters
    ----------
    curve : EdgeCurve
        Of everything together.
    limits, target_lens : ScannerLimits or None
        With the MTFs to divide by.
    is_cut : bool
        Whether the edge's tails were cut.

    Returns
    -------
    mtf50, mtf10 : Measure
        ``SCANNER_UNKNOWN`` when the scanner's MTF is not known.
    mtf : ndarray, shape (k,) [1]
        NaN where it is not known.
    """
    links = [link for link in (limits, target_lens) if link is not None and link.has_mtf]
    if limits is None or not limits.has_mtf:
        none = [withheld(name, "SCANNER_UNKNOWN", UNIT, "its MTF is not known") for name in NAMES[2:]]
        return *none, np.full(curve.frequency.shape, np.nan)

    def film(wider: ScannerLimits | None = None, by: float = 1.0) -> EdgeCurve:
        each = [link.mtf_at(curve.frequency, by if link is wider else 1.0) for link in links]
        return curve.divided(np.prod(each, axis=0))

    best = film()
    measures = []
    for name, level in zip(NAMES[2:], (0.5, 0.1), strict=True):
        value = best.crossing(level)
        errors = [_shift(film, link, level, value) for link in links] if value else []
        measures.append(stated_crossing(name, best, level, is_cut, math.hypot(*errors) if errors else 0.0))
    return *measures, best.mtf


def _shift(film, link: ScannerLimits, level: float, value: float) -> float:
    """Relative change of a crossing when a link's blur is narrower by its standard error."""
    narrower = film(link, 1 - link.width_error).crossing(level)
    return abs(narrower / value - 1) if narrower else link.width_error


def _jackknife(others: np.ndarray) -> np.ndarray:
    count = others.shape[0]
    return np.sqrt((count - 1) * np.mean((others - others.mean(axis=0)) ** 2, axis=0))
