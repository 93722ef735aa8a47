"""Control strips of the demo lab: one film, exposed alike, developed and read with the runs."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from curves.models import ChartNote, ProcessRevision, ProcessRun, StripBatch
from curves.services.chart_notes import add_chart_note
from curves.services.control_aims import draft_aims_from_strips, draft_stated_aims, put_aims_in_force
from curves.services.control_strips import add_strip_batch, read_strip
from labsite.demo.emulsions import Emulsion, density
from labsite.demo.rolls import Bench, develop
from labsite.demo.scenario import REFERENCE, STOCKS
from labsite.demo.standards import READING_SD

#: Where a strip is read: log exposure from the speed point.
SPEED_STEP, HIGH_STEP, DENSEST = 0.0, 1.8, 3.0
#: From run to run, apart from the reading: log₁₀ of speed, and ratio of contrast.
RUN_SPEED_SD, RUN_CONTRAST_SD = 0.008, 0.006
WARM_CONTRAST = 0.06
STATED_LIMITS = {
    "base_fog": (0.03, 0.05),
    "speed_step": (0.06, 0.08),
    "contrast": (0.06, 0.09),
    "dmax": (0.10, 0.15),
}


@dataclass(frozen=True)
class ControlStrips:
    """The club's strips, and the dice of its control runs, which are none of the rolls'."""

    batch: StripBatch
    film: Emulsion
    rng: np.random.Generator


def cut_strips(*, admin, seed: int) -> ControlStrips:
    """Add the club's batch of strips: the reference film, exposed on one evening."""
    batch = add_strip_batch(
        actor=admin,
        code="Strips 1",
        notes="Forty strips of one roll, exposed through the club's tablet on one evening; kept frozen.",
    )
    film = next(stock.emulsion for stock in STOCKS if stock.name == REFERENCE)
    return ControlStrips(batch, film, np.random.default_rng(seed))


def state_first_aims(*, admin, strips: ControlStrips, process: ProcessRevision) -> None:
    """State aims by hand for the first months, when no strip was there to draw them from."""
    truth = _densities(strips.film, 0.0, 1.0)
    centres = {
        "base_fog": truth["base_fog"],
        "speed_step": truth["speed_step"],
        "contrast": truth["high_step"] - truth["speed_step"],
        "dmax": truth["dmax"],
    }
    aims = draft_stated_aims(
        actor=admin,
        process_revision_id=process.pk,
        batch_id=strips.batch.pk,
        centres={name: round(value, 2) for name, value in centres.items()},
        limits=STATED_LIMITS,
        change_note="From the first strip of the box, with the limits that are usual.",
        rules="warning",
    )
    put_aims_in_force(actor=admin, aims_id=aims.pk)


def set_aims(*, admin, bench: Bench, strips: ControlStrips, operators: list, first_day: date) -> None:
    """Develop ten strips by themselves, a day apart, and draw the aims from them."""
    # Its own dice for the temperatures too: the rolls' must fall as they would without these runs.
    bench = replace(bench, rng=strips.rng)
    for number in range(10):
        operator = operators[number % len(operators)]
        day = first_day + timedelta(days=number)
        run = develop(bench=bench, operator=operator, ran_on=day, films_through=number)
        read(bench=bench, operator=operator, run=run, strips=strips)
    process = bench.conditions.process
    aims = draft_aims_from_strips(
        actor=admin, process_revision_id=process.pk, batch_id=strips.batch.pk, rules="warning"
    )
    put_aims_in_force(actor=admin, aims_id=aims.pk)
    add_chart_note(
        actor=admin,
        process_revision_id=process.pk,
        noted_on=first_day + timedelta(days=9),
        text="Thermometer held against the club's mercury one: 0.1 °C low",
        kind=ChartNote.Kind.THERMOMETER,
    )


def read(*, bench: Bench, operator, run: ProcessRun, strips: ControlStrips, too_warm_c: float = 0.0) -> None:
    """Read the strip that went with a run."""
    rng = strips.rng
    contrast = bench.contrast * (1.0 + rng.normal(0.0, RUN_CONTRAST_SD) + WARM_CONTRAST * too_warm_c)
    shift = bench.speed_shift + rng.normal(0.0, RUN_SPEED_SD) - 0.02 * too_warm_c
    truth = _densities(strips.film, shift, contrast)
    read_strip(
        actor=operator,
        run_id=run.pk,
        batch_id=strips.batch.pk,
        instrument_id=bench.conditions.instrument.pk,
        **{place: round(float(value + rng.normal(0.0, READING_SD / 2)), 2) for place, value in truth.items()},
    )


def _densities(film: Emulsion, shift: float, contrast: float) -> dict[str, float]:
    """The truth about a strip at its four places."""
    places = film.speed_log_h + np.array([SPEED_STEP, HIGH_STEP, DENSEST])
    speed, high, dmax = density(film, places, speed_shift=shift, contrast=contrast)
    return {
        "base_fog": film.base_fog,
        "speed_step": float(speed),
        "high_step": float(high),
        "dmax": float(dmax),
    }
