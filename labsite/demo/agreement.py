"""A strip that went round in the demo lab: the club's tablet, read with three densitometers."""

import numpy as np
from django.utils import timezone

from curves.models import AgreementStudy, Instrument, RevisionState
from curves.services.agreement import close_study, create_study, record_study_readings
from curves.services.instrument_corrections import correct_by_study
from curves.services.instruments import add_instrument
from curves.services.readings import ReadingValue
from labsite.demo.standards import READING_SD, Conditions

#: What each densitometer adds to, and multiplies, the true density; the club's own is nearly right.
OFF = {"Densitometer 1": (0.004, 1.0), "Densitometer 2": (0.055, 0.992), "Densitometer 3": (-0.012, 1.015)}
READERS = {
    "bram": ("Densitometer 1", "Densitometer 2"),
    "odile": ("Densitometer 1", "Densitometer 2"),
    "piet": ("Densitometer 1", "Densitometer 3"),
}
HAND_SD = 0.003


def go_round(*, people: dict, conditions: Conditions, seed: int) -> AgreementStudy:
    """Let the tablet go round, close the study, and correct the second densitometer from today on."""
    rng = np.random.default_rng(seed)
    admin = people["warden"]
    instruments = {conditions.instrument.name: conditions.instrument}
    for name in list(OFF)[1:]:
        notes = "Given to the club; never checked against a certified tablet."
        instruments[name] = add_instrument(
            actor=admin, name=name, aperture_mm=2.0, reading_sd=READING_SD, notes=notes
        )
    tablet = conditions.exposure.tablet.revisions.get(state=RevisionState.IN_FORCE)
    study = create_study(
        actor=people["keeper"],
        name="Round of the winter",
        strip_name="The club's tablet, in its sleeve",
        tablet_revision_id=tablet.pk,
        density_type=conditions.instrument.density_type,
        geometry=conditions.instrument.geometry,
        notes="Each reads it twice, an hour apart.",
    )
    for person, used in READERS.items():
        hand = rng.normal(0, HAND_SD)
        for name in used:
            _read(study, people[person], instruments[name], conditions.tablet_truth, hand, rng)
    close_study(actor=people["keeper"], study_id=study.pk)
    correct_by_study(
        actor=admin,
        study_id=study.pk,
        instrument_id=instruments["Densitometer 2"].pk,
        reference="certified",
        applies_from_on=timezone.localdate(),
        reason="Its zero cannot be set any more; it reads high all along.",
    )
    return study


def _read(study, member, instrument: Instrument, truth: np.ndarray, hand: float, rng) -> None:
    zero, scale = OFF[instrument.name]
    values = [
        ReadingValue(step, replicate, round(float(zero + scale * density + hand + noise), 2))
        for step, density in enumerate(truth, 1)
        for replicate, noise in enumerate(rng.normal(0, READING_SD, 2), 1)
    ]
    record_study_readings(actor=member, study_id=study.pk, instrument_id=instrument.pk, values=values)
