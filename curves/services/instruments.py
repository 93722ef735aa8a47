"""Instruments: added, described, retired; what past readings mean never changes under them."""

import math

from django.db import transaction

from curves.models import Instrument
from curves.services.fitting import request_fits_of_undecided
from curves.services.standard_kinds import refusal_of, refused_on_conflict
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import change_fields, check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

LOWEST_SD, HIGHEST_SD = 0.0005, 0.2
SMALLEST_MM, LARGEST_MM = 0.001, 50.0

TAKEN = InvalidInput("There is an instrument of this name already. Choose another.", field="name")


@transaction.atomic
def add_instrument(
    *,
    actor,
    name: str,
    kind: str = Instrument.Kind.DENSITOMETER,
    density_type: str = Instrument.DensityType.VISUAL,
    geometry: str = Instrument.Geometry.DIFFUSE,
    aperture_mm: float | None = None,
    reading_sd: float | None = None,
    notes: str = "",
) -> Instrument:
    """Add a densitometer or scanner that readings can name."""
    require_admin(actor)
    instrument = Instrument(
        name=name.strip(),
        kind=kind,
        density_type=density_type,
        geometry=geometry,
        aperture_mm=aperture_mm,
        reading_sd=reading_sd,
        notes=notes.strip(),
        created_by=actor,
    )
    named = ("name", "kind", "density_type", "geometry", "aperture_mm", "reading_sd", "notes")
    problems = _problems(instrument, name=name, aperture_mm=aperture_mm, reading_sd=reading_sd)
    check_fields(instrument, *named, also=tuple(problems))
    with refused_on_conflict(TAKEN):
        instrument.save()
    after = {field: getattr(instrument, field) for field in named}
    record_audit(actor=actor, action="add instrument", subject=instrument, after=after)
    return instrument


@transaction.atomic
def edit_instrument(
    *,
    actor,
    instrument_id: int,
    name: str,
    kind: str,
    density_type: str,
    geometry: str,
    aperture_mm: float | None = None,
    reading_sd: float | None = None,
    notes: str = "",
) -> Instrument:
    """Describe an instrument anew; what kind of density it reads stays once it has readings.

    Another spread of its readings is other input for the fits of rolls that are not decided on, so these
    are fitted again. Accepted results stay as they were accepted.
    """
    require_admin(actor)
    instrument = _locked(instrument_id)
    problems = _problems(instrument, name=name, aperture_mm=aperture_mm, reading_sd=reading_sd)
    is_other_density = (density_type, geometry) != (instrument.density_type, instrument.geometry)
    if is_other_density and instrument.readings.exists():
        field = "density_type" if density_type != instrument.density_type else "geometry"
        message = (
            f"{instrument} has readings of {instrument.get_density_type_display()} density, "
            f"{instrument.get_geometry_display()}. Add another instrument for another kind of density."
        )
        problems.append({"field": field, "message": message})
    if problems:
        raise refusal_of(problems)
    with refused_on_conflict(TAKEN):
        before, after = change_fields(
            instrument,
            name=name,
            kind=kind,
            density_type=density_type,
            geometry=geometry,
            aperture_mm=aperture_mm,
            reading_sd=reading_sd,
            notes=notes,
        )
    if after:
        record_audit(actor=actor, action="edit instrument", subject=instrument, before=before, after=after)
    if "reading_sd" in after:
        request_fits_of_undecided(requested_by=actor, strips__readings__instrument=instrument)
    return instrument


@transaction.atomic
def retire_instrument(*, actor, instrument_id: int, reason: str = "") -> Instrument:
    """Let no new reading name the instrument; its past readings stay."""
    return _set_active(actor, instrument_id, is_active=False, action="retire instrument", reason=reason)


@transaction.atomic
def reactivate_instrument(*, actor, instrument_id: int, reason: str = "") -> Instrument:
    """Let readings name a retired instrument again."""
    return _set_active(actor, instrument_id, is_active=True, action="reactivate instrument", reason=reason)


def _set_active(actor, instrument_id: int, *, is_active: bool, action: str, reason: str) -> Instrument:
    require_admin(actor)
    instrument = _locked(instrument_id)
    if instrument.is_active == is_active:
        raise WrongState(f"{instrument} is {'in use' if is_active else 'retired'} already.")
    before, after = change_fields(instrument, is_active=is_active)
    record_audit(actor=actor, action=action, subject=instrument, before=before, after=after, reason=reason)
    return instrument


def _locked(instrument_id: int) -> Instrument:
    instrument = Instrument.objects.select_for_update().filter(pk=instrument_id).first()
    if instrument is None:
        raise NotFound("There is no such instrument.")
    return instrument


def _problems(instrument: Instrument, *, name: str, aperture_mm, reading_sd) -> list[dict]:
    problems = []
    if Instrument.objects.filter(name__iexact=name.strip()).exclude(pk=instrument.pk).exists():
        problems.append({"field": "name", "message": TAKEN.message})
    bounds = {
        "aperture_mm": (aperture_mm, SMALLEST_MM, LARGEST_MM, "mm"),
        "reading_sd": (reading_sd, LOWEST_SD, HIGHEST_SD, "density"),
    }
    for field, (value, lowest, highest, unit) in bounds.items():
        if value is not None and not (math.isfinite(value) and lowest <= value <= highest):
            message = f"Enter {lowest:g} to {highest:g} {unit}, or leave it empty; {value:g} can't be right."
            problems.append({"field": field, "message": message})
    return problems
