"""Granularity over the steps of a tablet and at density 1.0 between them."""

import json

import numpy as np
import pytest

from scans.imaging.grain import PatchGrain
from scans.imaging.grain_series import granularity_at_density, measure_granularity
from scans.imaging.measures import ImagingError, Measure, withheld
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.synthetic_grain import SPECTRA, grain_field, scaled_spectrum


def step(density, value, *, sampling=0.008, common=0.0, low=True, high=True):
    measure = Measure(
        "rms_granularity", value, value * 0.98 if low else None, value * 1.02 if high else None, "1000 D"
    )
    errors = {"sampling": sampling, "scanner_mtf": common}
    return PatchGrain(density, measure, None, 1.0, 5000, errors)


def power_law(density):
    """Granularity as the root of density: 10 at density 1.0."""
    return 10 * density**0.5


def test_a_power_of_density_is_met_exactly_in_any_order():
    steps = [step(d, power_law(d)) for d in (1.3, 0.4, 0.85, 1.15, 0.6)]
    found = granularity_at_density(steps)
    assert found.value == pytest.approx(10, rel=1e-9)
    assert "0.85 and 1.15" in found.note


def test_sampling_averages_between_steps_and_the_scanner_does_not():
    pair = [(1 / 1.2, 10.0), (1.2, 10.0)]
    own = granularity_at_density([step(d, v) for d, v in pair])
    common = granularity_at_density([step(d, v, sampling=0, common=0.008) for d, v in pair])
    assert np.log(own.high / own.low) == pytest.approx(2 * 1.959964 * 0.008 / np.sqrt(2), rel=1e-6)
    assert np.log(common.high / common.low) == pytest.approx(2 * 1.959964 * 0.008, rel=1e-6)


def test_a_third_step_off_the_line_widens_the_interval():
    pair = [step(0.8, power_law(0.8)), step(1.2, power_law(1.2))]
    straight = granularity_at_density([*pair, step(1.6, power_law(1.6))])
    bent = granularity_at_density([*pair, step(1.6, 0.8 * power_law(1.6))])
    assert bent.value == pytest.approx(straight.value)
    assert bent.high - bent.low > 1.2 * (straight.high - straight.low)


def test_never_beyond_the_steps():
    for densities in ((0.3, 0.6, 0.9), (1.2, 1.4)):
        found = granularity_at_density([step(d, power_law(d)) for d in densities])
        assert found.value is None and found.reason == "NOT_REACHED"
        assert f"{densities[-1]:.2f}" in found.note
    near = granularity_at_density([step(0.97, 9.9)])
    assert near.value == 9.9 and "density 0.97" in near.note


def test_reasons_and_bounds_are_handed_on():
    refused = PatchGrain(1.01, withheld("rms_granularity", "NOISE_DOMINATES", "1000 D"))
    assert granularity_at_density([refused]).reason == "NOISE_DOMINATES"
    assert granularity_at_density([step(0.0, 3.0)]).reason == "NOT_REACHED"
    at_least = granularity_at_density([step(0.9, 9.5, high=False), step(1.1, 10.5)])
    assert at_least.high is None and at_least.low is not None
    both = granularity_at_density([step(0.9, 9.5, high=False), step(1.1, 10.5, low=False)])
    assert both.reason == "SCANNER_UNKNOWN"


def test_scanned_steps():
    """Four fields of 1.5 mm whose grain follows the root of density; the pair knows it to 1.4 %."""
    generator = np.random.default_rng(2)
    steps = []
    for density in (0.5, 0.75, 1.1, 1.4):
        spectrum = scaled_spectrum(SPECTRA["two scales"], power_law(density))
        steps.append(10**-density * grain_field((236, 236), 6.35, spectrum, generator, blur_um=3.81))
    limits = ScannerLimits((0.01, 0.5), (0.0, 0.0), *gaussian_mtf(), width_error=0.0)
    report = measure_granularity(steps, (4000, 4000), limits)
    found = report.rms_granularity
    # Three standard errors, where an interval of 95 % is two.
    assert abs(np.log(found.value / 10)) < 3 * np.log(found.high / found.low) / 3.92
    assert found.value == pytest.approx(10, rel=0.042)
    assert [round(p.density, 2) for p in report.patches] == [0.5, 0.75, 1.1, 1.4]
    data = json.loads(json.dumps(report.to_dict(), allow_nan=False))
    assert data["rms_granularity"]["unit"] == "1000 D"
    assert len(data["noise_power"]["power_um2"]) == len(data["noise_power"]["frequency_cycles_per_mm"])


def gaussian_mtf():
    table = ScannerLimits.gaussian(3.81)
    return table.mtf_frequency, table.mtf


def test_no_patch_is_a_mistake():
    with pytest.raises(ImagingError, match="at least one"):
        measure_granularity([], (4000, 4000))
