"""What the engine is given for a roll: gathered from the rows, in canonical form, with its digest.

The digest covers every value that could change the result, so that the same inputs under the same
engine version are recognised and never computed or stored twice.
"""

import hashlib
import json
from collections.abc import Sequence

from curves.models import UNEXPOSED_STEP, Analysis, InstrumentCorrection, Reading, Roll, Strip
from curves.queries.applied_corrections import correction_numbers, correction_of, standing_corrections
from curves.sensitometry import ENGINE_VERSION, Readings
from curves.sensitometry.density_corrections import DensityCorrection


def roll_inputs(roll: Roll) -> dict:
    """Return the canonical inputs of the roll's fit: every current reading with its exposure."""
    return inputs_of_rolls([roll])[roll.pk]


def inputs_of_rolls(rolls: Sequence[Roll]) -> dict[int, dict]:
    """Return roll id → canonical inputs; many rolls take no more queries than one."""
    strips: dict[int, list[Strip]] = {roll.pk: [] for roll in rolls}
    for strip in (
        Strip.objects.filter(roll__in=rolls)
        .select_related("tablet_revision")
        .prefetch_related("tablet_revision__steps")
        .order_by("number")
    ):
        strips[strip.roll_id].append(strip)
    readings: dict[int, list[Reading]] = {strip.pk: [] for own in strips.values() for strip in own}
    for reading in (
        Reading.objects.filter(strip__in=list(readings), is_current=True)
        .select_related("instrument")
        .order_by("step", "replicate")
    ):
        readings[reading.strip_id].append(reading)
    inputs = {roll.pk: _roll_inputs(roll, strips[roll.pk], readings) for roll in rolls}
    by_instrument = standing_corrections(r.instrument_id for own in readings.values() for r in own)
    if by_instrument:
        for roll in rolls:
            _name_corrections(inputs[roll.pk], strips[roll.pk], readings, by_instrument)
    return inputs


def _name_corrections(
    inputs: dict,
    strips: list[Strip],
    readings: dict[int, list[Reading]],
    by_instrument: dict[int, list[InstrumentCorrection]],
) -> None:
    """Say which reading is corrected how. Densities stay as read; without corrections nothing is said."""
    found = {
        reading.pk: correction
        for strip in strips
        for reading in readings[strip.pk]
        if (correction := correction_of(by_instrument, reading.instrument_id, reading.read_at))
    }
    if not found:
        return
    used = {correction.pk: correction for correction in found.values()}
    place = {pk: number for number, pk in enumerate(sorted(used))}
    inputs["corrections"] = [correction_numbers(used[pk]) for pk in place]
    for strip, own in zip(strips, inputs["strips"], strict=True):
        places = [
            (reading.step == UNEXPOSED_STEP, place[found[reading.pk].pk] if reading.pk in found else -1)
            for reading in readings[strip.pk]
        ]
        own["corrected_by"] = [number for is_base, number in places if not is_base]
        own["unexposed_corrected_by"] = [number for is_base, number in places if is_base]


def _roll_inputs(roll: Roll, strips: list[Strip], readings: dict[int, list[Reading]]) -> dict:
    exposure = roll.exposure_revision
    instruments = [r.instrument for strip in strips for r in readings[strip.pk] if r.instrument_id]
    known_sds = {instrument.reading_sd for instrument in instruments if instrument.reading_sd}
    return {
        "exposure": "absolute" if exposure.is_absolute else "relative",
        "log_exposure_sd": exposure.log_exposure_sd,
        "box_speed": roll.batch.stock.box_speed,
        "reading_sd": max(known_sds) if known_sds else None,
        "strips": [_strip_inputs(strip, exposure.log_exposure_clear, readings[strip.pk]) for strip in strips],
    }


def _strip_inputs(strip: Strip, log_exposure_clear: float | None, readings: list[Reading]) -> dict:
    exposures = log_exposures(strip, log_exposure_clear)
    return {
        "number": strip.number,
        "tablet_sd": strip.tablet_revision.density_sd,
        "rows": [
            [r.step, exposures[r.step], r.replicate, r.density] for r in readings if r.step != UNEXPOSED_STEP
        ],
        "unexposed": [r.density for r in readings if r.step == UNEXPOSED_STEP],
    }


def log_exposures(strip: Strip, log_exposure_clear: float | None) -> dict[int, float]:
    """Return step → log₁₀ exposure (lux·s; relative to the tablet's clear area when that is unknown)."""
    clear = 0.0 if log_exposure_clear is None else log_exposure_clear
    return {s.step: round(clear - s.density, 6) for s in strip.tablet_revision.steps.all()}


def digest_of(inputs: dict) -> str:
    """Return the SHA-256 of the canonical JSON of the inputs."""
    canonical = json.dumps(inputs, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(canonical.encode()).hexdigest()


def has_steps(inputs: dict) -> bool:
    """Whether there is anything to fit a curve to: the unexposed area alone is nothing."""
    return any(strip["rows"] for strip in inputs["strips"])


def engine_readings(inputs: dict) -> Readings:
    """Return the engine's own input made from canonical inputs."""
    rows = [(strip["number"], *row) for strip in inputs["strips"] for row in strip["rows"]]
    unexposed = [density for strip in inputs["strips"] for density in strip["unexposed"]]
    return Readings(
        log_exposure=[row[2] for row in rows],
        density=[row[4] for row in rows],
        unexposed=unexposed,
        step=[row[1] for row in rows],
        replicate=[row[3] for row in rows],
        strip=[row[0] for row in rows],
        exposure=inputs["exposure"],
        reading_sd=inputs["reading_sd"],
        tablet_sd=max((strip["tablet_sd"] for strip in inputs["strips"]), default=0.0),
        **_engine_corrections(inputs),
    )


def _engine_corrections(inputs: dict) -> dict:
    if "corrections" not in inputs:
        return {}
    return {
        "corrections": [
            DensityCorrection(
                each["title"],
                each["offset"],
                each["slope"],
                tuple(tuple(row) for row in each["covariance"]),
                tuple(each["tested"]),
            )
            for each in inputs["corrections"]
        ],
        "corrected_by": [place for strip in inputs["strips"] for place in strip["corrected_by"]],
        "unexposed_corrected_by": [
            place for strip in inputs["strips"] for place in strip["unexposed_corrected_by"]
        ],
    }


def has_current_analysis(roll: Roll) -> bool:
    """Whether the roll's standing analysis was made from just the readings that stand now."""
    return roll.pk in rolls_with_current_analysis([roll])


def rolls_with_current_analysis(rolls: Sequence[Roll]) -> set[int]:
    """Return the ids of those rolls whose standing analysis was made from just what stands now."""
    fitted = [roll for roll in rolls if _is_of_this_engine(roll.current_analysis)]
    inputs = inputs_of_rolls(fitted)
    return {roll.pk for roll in fitted if roll.current_analysis.input_digest == digest_of(inputs[roll.pk])}


def _is_of_this_engine(standing: Analysis | None) -> bool:
    return standing is not None and standing.engine_version == ENGINE_VERSION
