"""The demo lab: as large and varied as it says, marked as a demo, and true to its invented films."""

import numpy as np
import pytest

from curves.models import FilmStock, HouseReference, ProcessRevision, Roll, StockResult
from curves.queries.colour_response import colour_response
from curves.queries.comparison import comparison_view
from labsite.accounts.models import User
from labsite.accounts.queries import current_lab
from labsite.demo.management.commands.demo import DemoFolder
from labsite.demo.patches import (
    CAST_SD,
    FILMS,
    GREYS,
    LIGHTS,
    PATCHES,
    YELLOW_FILTER,
    luminance_factor,
)
from labsite.demo.people import demo_accounts
from labsite.demo.scenario import REFERENCE, STOCKS
from labsite.demo.standards import LOG_EXPOSURE_CLEAR
from labsite.demo.tungsten import BY_TUNGSTEN
from labsite.jobs.models import Job

pytestmark = pytest.mark.one_database  # only an embedded lab is ever a demo


def test_the_lab_is_as_described(demo_lab):
    lab = current_lab()
    assert lab.is_demo and lab.is_open_to_visitors
    assert FilmStock.objects.count() >= 24
    accepted = Roll.objects.filter(state="accepted")
    counted = accepted.exclude(run__control_state="out_of_control")
    assert counted.count() == 56
    by_stock = {stock.pk: 0 for stock in FilmStock.objects.all()}
    for stock_id in counted.values_list("batch__stock_id", flat=True):
        by_stock[stock_id] += 1
    assert set(by_stock.values()) == {1, 2, 3, 6, 7, 8}
    assert ProcessRevision.objects.count() == 2
    states = set(Roll.objects.values_list("state", flat=True))
    assert {"draft", "submitted", "returned", "accepted"} <= states
    assert accepted.filter(run__control_state="out_of_control").exists()
    assert HouseReference.objects.filter(ended_at=None).count() == 3
    assert not Job.objects.exclude(state="done").exists()


def test_the_accounts_work_and_have_passwords_of_their_own(demo_lab):
    passwords = set()
    for username, password, role in demo_accounts():
        user = User.objects.get(username=username)
        assert user.check_password(password) and user.role == role
        passwords.add(password)
    assert len(passwords) == len(demo_accounts())


def test_the_fitted_speeds_hold_the_truth_they_were_made_from(demo_lab):
    """Second revision: every true speed point lies 0.02 higher; roll, tablet and lamp add what they add."""
    view = comparison_view(User.objects.get(username="bram"))
    truth = {stock.name: stock.emulsion.speed_log_h + 0.02 for stock in STOCKS}
    errors = []
    for stock in view.stocks:
        point = stock.analysis.measures["speed_point_log_exposure"]
        if point.value is not None:
            errors.append(abs(point.value - truth[stock.stock.name]))
    assert len(errors) >= 24
    # Between rolls 0.02 and reading 0.03 in log exposure: four times their root sum of squares.
    assert max(errors) < 4 * 0.036
    assert LOG_EXPOSURE_CLEAR == 0.05


def test_the_rebadged_pair_is_of_one_truth_and_no_other_is():
    pairs = [
        (one.name, other.name)
        for index, one in enumerate(STOCKS)
        for other in STOCKS[index + 1 :]
        if one.emulsion == other.emulsion
    ]
    assert pairs == [("Cordwain 100", "Skylark 100")]


def test_the_held_back_roll_does_not_count(demo_lab):
    result = StockResult.objects.get(stock__name="Pellam 400", process_revision__number=2)
    assert result.pooled.roll_count == 1
    assert Roll.objects.filter(batch__stock__name="Pellam 400", state="accepted").count() == 2


def test_the_reference_stands_under_both_revisions(demo_lab):
    references = HouseReference.objects.filter(stock__name=REFERENCE, ended_at=None)
    assert {reference.process_revision.number for reference in references} == {1, 2}


def test_series_by_daylight_and_by_lamplight_stand_apart_and_hold_the_truth(demo_lab):
    """Shifts and filter factors that follow from the invented spectra lie within what was measured."""
    member = User.objects.get(username="bram")
    lights = {each.name: each.key for each in colour_response(member).lights}
    assert list(lights) == ["daylight", "tungsten"]
    for light, key in lights.items():
        view = colour_response(member, pair_key=key)
        assert len(view.stocks) >= len(BY_TUNGSTEN) and view.stocks[0].is_reference
        errors = []
        for each in view.stocks:
            film = np.array(FILMS[each.stock.sensitisation]) * np.array(LIGHTS[light])
            for factor in each.filters:
                truth = np.sum(film) / np.dot(film, YELLOW_FILTER)
                errors.append(
                    (factor.factor.value / truth - 1) / (factor.factor.high / factor.factor.value - 1)
                )
            for label, shift in each.shifts.items():
                if shift.value is not None:
                    seen = np.dot(PATCHES[label], film) / np.sum(film)
                    truth = np.log2(seen / luminance_factor(label, light))
                    errors.append((shift.value - truth) / (shift.high - shift.value))
        # Half-widths of 95 % intervals: of some fifty, a few lie outside of one, none beyond two.
        assert len(errors) > 15
        assert np.mean(np.abs(errors) < 1.0) > 0.85
        assert np.max(np.abs(errors)) < 2.0


def test_the_demo_knows_its_spread_in_colour_by_daylight_and_says_by_tungsten_that_it_does_not(demo_lab):
    """Rolls differ by the cast of their light; differences that are called real are true ones."""
    member = User.objects.get(username="bram")
    lights = {each.name: each.key for each in colour_response(member).lights}
    view = colour_response(member, pair_key=lights["daylight"])
    truths = {each.stock.name: _true_shifts(each.stock.sensitisation) for each in view.stocks}
    red, violet = (_true_shifts("panchromatic", cast) for cast in (CAST_SD, -CAST_SD))
    cast = np.sqrt(np.mean([((red[label] - violet[label]) / 2) ** 2 for label in red]))
    assert view.spread.sd.low <= cast <= view.spread.sd.high
    assert view.spread.degrees_of_freedom >= 10
    real = [
        (each.differences[label].value, truths[each.stock.name][label] - truths[REFERENCE][label])
        for each in view.stocks
        for label, verdict in each.verdicts.items()
        if verdict == "real"
    ]
    assert len(real) > 5 and all(read * truth > 0 for read, truth in real)
    assert colour_response(member, pair_key=lights["tungsten"]).spread.sd.reason == "TOO_FEW_GROUPS"


def _true_shifts(sensitisation: str, cast: float = 0.0) -> dict[str, float]:
    film = np.array(FILMS[sensitisation]) * 2 ** (cast * np.linspace(-1.0, 1.0, 5))
    return {
        label: np.log2(np.dot(spectrum, film) / np.sum(film) / luminance_factor(label))
        for label, spectrum in PATCHES.items()
        if label not in GREYS
    }


def test_only_a_folder_that_a_demo_began_is_cleared(tmp_path):
    from django.core.management import CommandError

    real = tmp_path / "real"
    real.mkdir()
    (real / "lab.sqlite3").write_text("somebody's lab")
    with pytest.raises(CommandError, match="no demo"):
        DemoFolder(real).begin_anew()
    assert (real / "lab.sqlite3").read_text() == "somebody's lab"

    fresh = DemoFolder(tmp_path / "fresh")
    fresh.begin_anew()
    assert not fresh.is_built, "a build that was interrupted is begun anew"
    (tmp_path / "fresh" / "lab.sqlite3").write_text("half a lab")
    fresh.begin_anew()
    assert not (tmp_path / "fresh" / "lab.sqlite3").exists()
    fresh.mark_built()
    assert fresh.is_built
