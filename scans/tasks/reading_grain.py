"""Granularity of even fields: this scan's own patches, and with the roll's other fields the value at 1.0."""

from scans.imaging.grain import PatchGrain, measure_patch
from scans.imaging.grain_series import STATED_DENSITY, granularity_at_density
from scans.imaging.measures import Measure, withheld
from scans.imaging.picture import Picture
from scans.imaging.scanner_limits import ScannerLimits
from scans.queries.measured import Basis
from scans.queries.setups import resolution_of
from scans.tasks.light import light_of

NAME, UNIT = "rms_granularity", "1000 D"
DECIMALS_2D = 6


def read_grain(picture: Picture, basis: Basis) -> dict:
    """Own patches, the series they make with the roll's other fields, and the granularity at density 1.0."""
    own = _reused(basis) or _own_patches(picture, basis)
    others = [(each.scan.code, patch) for each in basis.others for patch in each.document["patches"]]
    series = [(basis.scan.code, patch) for patch in own] + others
    return {
        "areas": [],
        "patches": own,
        "series": [
            {
                "scan": code,
                "label": patch["label"],
                "density": patch["density"],
                "rms_granularity": patch["rms_granularity"],
            }
            for code, patch in sorted(series, key=lambda each: each[1]["density"] or 0)
        ],
        "stated_density": STATED_DENSITY,
        "rms_granularity": _stated(basis, [patch for _, patch in series]).to_dict(),
    }


def _stated(basis: Basis, patches: list[dict]) -> Measure:
    if basis.chosen.withheld:
        return withheld(NAME, basis.chosen.withheld.code, UNIT)
    return granularity_at_density([_patch_grain(patch) for patch in patches])


def _reused(basis: Basis) -> list[dict]:
    """Patches that an earlier measurement read out of the very same inputs."""
    digest = basis.patch_digest
    for earlier in basis.scan.measurements.filter(kind=basis.kind):
        if earlier.document.get("patch_digest") == digest:
            return earlier.document["patches"]
    return []


def _own_patches(picture: Picture, basis: Basis) -> list[dict]:
    calibration, resolution = basis.chosen.engine, resolution_of(basis.scan)
    if calibration is None:
        return []
    limits = ScannerLimits.from_dict(basis.trial.document) if basis.trial else None
    patches = []
    for each in basis.placement.areas:
        light = light_of(picture, each["corners"], calibration)
        patches.append(_stored(each["label"], measure_patch(light, resolution, limits)))
    return patches


def _stored(label: str, patch: PatchGrain) -> dict:
    stored = patch.to_dict() | {"label": label, "noise_power_2d": None}
    if patch.noise_power is not None:
        power = patch.noise_power
        stored["noise_power_2d"] = {
            "frequency_x": [round(float(each), 3) for each in power.frequency_x],
            "frequency_y": [round(float(each), 3) for each in power.frequency_y],
            "power_um2": [[round(float(each), DECIMALS_2D) for each in row] for row in power.power],
        }
    return stored


def _patch_grain(stored: dict) -> PatchGrain:
    """A patch without its spectrum, as far as a series needs it."""
    return PatchGrain(
        density=stored["density"],
        rms_granularity=Measure.from_dict(NAME, stored["rms_granularity"]),
        errors=stored["errors"],
    )
