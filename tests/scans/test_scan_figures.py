"""The figures of edges and grain: what they draw is what was kept, and what cannot be drawn is left out."""

import numpy as np
import pytest
from scipy.special import ndtri

from scans.figures.edge import mtf_figure, profile_figure
from scans.imaging.grain import measure_patch
from scans.imaging.sharpness import measure_edge
from scans.imaging.synthetic_edge import gaussian_edge
from scans.pages.measuring.drawing import coarse_2d, edge_shown

PPI = (4000, 4000)
PITCH_UM = 25400 / 4000
BLUR_PX = 1.5


@pytest.fixture(scope="module")
def edge():
    return measure_edge(gaussian_edge((120, 120), BLUR_PX, 5.0), PPI).to_dict()


def traces(figure):
    return {trace["meta"]["key"]: trace for trace in figure["data"] if trace["meta"]["role"] == "stock"}


def test_the_profile_is_drawn_as_kept_and_its_width_is_that_of_the_blur(edge):
    figure = profile_figure(edge["profile"])
    drawn = traces(figure)["light"]
    assert drawn["y"] == pytest.approx(edge["profile"]["level"], abs=5e-5)
    assert drawn["x"][0] == pytest.approx(-16 * PITCH_UM, abs=0.01)
    # From 10 % to 90 % a Gaussian's distribution function takes 2.563 standard deviations.
    width = 2 * ndtri(0.9) * BLUR_PX * PITCH_UM
    said = float(figure["meta"]["description"].split("takes ")[1].split(" µm")[0])
    assert said == pytest.approx(width, abs=0.1)


def test_a_profile_with_long_tails_is_thinned_evenly(edge):
    place = np.linspace(-600, 600, 1537)
    profile = {
        "place_um": place.tolist(),
        "level": (0.5 + place / 1200).tolist(),
        "error": np.zeros(1537).tolist(),
    }
    drawn = traces(profile_figure(profile))["light"]
    assert 400 <= len(drawn["x"]) <= 800
    assert np.ptp(np.diff(drawn["x"])) < 1e-3


def test_a_profile_that_stays_below_the_bright_level_states_no_width():
    profile = {"place_um": [-1.0, 0.0, 1.0], "level": [0.0, 0.4, 0.8], "error": [0.0, 0.01, 0.01]}
    assert "takes" not in profile_figure(profile)["meta"]["description"]


def test_an_edge_measured_before_profiles_were_kept_has_its_curve_and_no_profile(edge):
    older = {name: value for name, value in edge.items() if name != "profile"}
    shown = edge_shown({"edge": older})
    assert shown.profile is None and shown.profile_rows == [] and shown.figure is not None


def test_the_profiles_table_holds_the_rise_alone(edge):
    rows = edge_shown({"edge": edge}).profile_rows
    levels = [level for _, level, _ in rows]
    assert levels == sorted(levels) and 0.005 < levels[0] < 0.05 and 0.95 < levels[-1] < 0.995
    assert 12 <= len(rows) <= 25


def test_the_curve_is_drawn_with_its_two_levels(edge):
    figure = mtf_figure(edge)
    levels = [trace["y"][0] for trace in figure["data"] if trace["meta"]["role"] == "construction"]
    assert levels == [0.5, 0.1]
    assert traces(figure)["together"]["y"] == pytest.approx(edge["mtf"]["mtf"], abs=5e-5)


def test_an_edge_without_numbers_draws_nothing():
    shown = edge_shown({"edge": measure_edge(np.full((60, 60), 0.4), PPI).to_dict()})
    assert shown.figure is None and shown.profile is None
    assert {said.text for said in shown.measures} == {""}


def test_a_stripe_in_the_two_dimensional_spectrum_is_seen_in_the_tables_shades():
    """Columns that vary alike all the way down have their power at no frequency downwards."""
    rng = np.random.default_rng(3)
    stripes = 0.1 * (1 + 0.02 * rng.standard_normal((1, 300)) + 0.002 * rng.standard_normal((300, 300)))
    power = measure_patch(stripes, PPI).noise_power
    table = coarse_2d(
        {"frequency_x": power.frequency_x, "frequency_y": power.frequency_y, "power_um2": power.power}
    )
    shades = np.array([[shade for _, shade in means] for _, means in table["rows"]])
    assert shades[0].max() == 9 and shades[0].mean() >= 4
    assert shades[1:].max() <= 1
