"""A strip that went round: readings of known error, entered through the services."""

import numpy as np

from curves.models import AgreementStudy, Instrument
from curves.services.agreement import create_study, record_study_readings
from curves.services.readings import ReadingValue

DENSITIES = np.linspace(0.05, 3.05, 21)


def make_study(member, name="Autumn round", **values) -> AgreementStudy:
    """A study of a strip of 21 steps, visual diffuse density."""
    about = {
        "strip_name": "Strip 7, in the drawer of the reading bench",
        "density_type": Instrument.DensityType.VISUAL,
        "geometry": Instrument.Geometry.DIFFUSE,
        "step_count": len(DENSITIES),
    }
    return create_study(actor=member, name=name, **about | values)


def study_values(
    *, zero=0.0, scale=1.0, times=2, sd=0.006, seed=1, densities=DENSITIES
) -> list[ReadingValue]:
    """Readings by an instrument that adds ``zero`` and multiplies by ``scale``."""
    rng = np.random.default_rng(seed)
    return [
        ReadingValue(step, replicate, round(float(zero + scale * density + rng.normal(0, sd)), 2))
        for step, density in enumerate(densities, 1)
        for replicate in range(1, times + 1)
    ]


def read_study(study, member, instrument, *, seed=1, **off) -> int:
    """A member reads the whole strip with an instrument."""
    return record_study_readings(
        actor=member,
        study_id=study.pk,
        instrument_id=instrument.pk,
        values=study_values(seed=seed, **off),
    )
