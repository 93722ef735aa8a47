"""The club's tablet, densitometer, exposure and process standards, made and put in force by its admin."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from curves.models import ExposureRevision, Instrument, ProcessRevision, TabletRevision
from curves.models.processes import TimeRule
from curves.services.exposures import EXPOSURES
from curves.services.instruments import add_instrument
from curves.services.processes import PROCESSES
from curves.services.standards import create_standard, edit_draft, put_in_force, revise_standard
from curves.services.tablets import TABLETS, nominal_densities

READING_SD = 0.01
TABLET_SD = 0.01
#: log₁₀ lux·s on the film where the tablet is clear.
LOG_EXPOSURE_CLEAR = 0.05


@dataclass(frozen=True)
class Conditions:
    """What the rolls are made under; ``tablet_truth`` is what the tablet's steps really are."""

    exposure: ExposureRevision
    camera_exposure: ExposureRevision
    process: ProcessRevision
    instrument: Instrument
    tablet_truth: np.ndarray


def set_standards(*, admin, today: date, rng: np.random.Generator) -> Conditions:
    """Calibrate the tablet and put the first revision of every standard in force."""
    nominal = np.array(nominal_densities(first=0.05, spacing=0.15, count=21))
    truth = nominal + rng.normal(0.0, 0.012, nominal.size)
    calibrated = np.round(truth + rng.normal(0.0, TABLET_SD / 2, nominal.size), 3)
    tablet = _calibrate(admin, today, [float(value) for value in calibrated])
    return Conditions(
        exposure=_contact_exposure(admin, tablet),
        camera_exposure=_camera_exposure(admin, tablet),
        process=_first_process(admin),
        instrument=_densitometer(admin),
        tablet_truth=truth,
    )


def revise_process(*, admin, process: ProcessRevision) -> ProcessRevision:
    """Shorten the developing time, as the club did once contrasts were found to run high."""
    draft = revise_standard(
        kind=PROCESSES,
        actor=admin,
        standard_id=process.standard_id,
        change_note="Contrasts ran a little high for condenser enlargers: 45 s less.",
    )
    edit_draft(kind=PROCESSES, actor=admin, revision_id=draft.pk, development_time_s=525)
    return put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk)


def _calibrate(admin, today: date, densities: list[float]) -> TabletRevision:
    draft = create_standard(
        kind=TABLETS,
        actor=admin,
        name="Tablet A, 21 steps",
        about="Kept in its sleeve in the densitometer drawer.",
        calibrated_on=today - timedelta(days=300),
        source="Read six times by two members on the club's densitometer",
        density_sd=TABLET_SD,
        densities=densities,
    )
    return put_in_force(kind=TABLETS, actor=admin, revision_id=draft.pk)


def _contact_exposure(admin, tablet: TabletRevision) -> ExposureRevision:
    draft = create_standard(
        kind=EXPOSURES,
        actor=admin,
        name="Contact, daylight lamp",
        about="The tablet in contact with the film under a metered lamp.",
        method="tablet_contact",
        tablet_id=tablet.tablet_id,
        target="Step tablet A, emulsion to emulsion",
        light="Lamp with daylight filter, 1.2 m",
        colour_temperature_k=5500,
        exposure_time_s=0.05,
        log_exposure_clear=LOG_EXPOSURE_CLEAR,
        log_exposure_sd=0.03,
    )
    return put_in_force(kind=EXPOSURES, actor=admin, revision_id=draft.pk)


def _camera_exposure(admin, tablet: TabletRevision) -> ExposureRevision:
    draft = create_standard(
        kind=EXPOSURES,
        actor=admin,
        name="Camera, lit tablet",
        about="The tablet photographed on a light box; how much light falls on the film is not known.",
        method="tablet_photographed",
        tablet_id=tablet.tablet_id,
        target="Step tablet A on the light box, with grey card",
        light="Light box with daylight tubes",
        colour_temperature_k=5200,
        exposure_time_s=1 / 64,
    )
    return put_in_force(kind=EXPOSURES, actor=admin, revision_id=draft.pk)


def tungsten_exposure(*, admin, daylight: ExposureRevision) -> ExposureRevision:
    """Put the standard of the series under tungsten in force: the same tablet, without the filter."""
    draft = create_standard(
        kind=EXPOSURES,
        actor=admin,
        name="Contact, tungsten lamp",
        about="For series under lamplight: as by daylight, with the filter taken off the lamp.",
        method="tablet_contact",
        tablet_id=daylight.tablet_id,
        target="Step tablet A, emulsion to emulsion",
        light="Halogen lamp without filter, 1.2 m, dimmed by a grey filter",
        colour_temperature_k=3200,
        exposure_time_s=0.05,
        log_exposure_clear=LOG_EXPOSURE_CLEAR,
        log_exposure_sd=0.03,
    )
    return put_in_force(kind=EXPOSURES, actor=admin, revision_id=draft.pk)


def _first_process(admin) -> ProcessRevision:
    draft = create_standard(
        kind=PROCESSES,
        actor=admin,
        name="Club tank, fixed time",
        about="One developer and one time for every stock, so that only the film differs.",
        developer="Clearwater general developer",
        dilution="1 + 9",
        temperature_c=20.0,
        temperature_tolerance_c=0.3,
        time_rule=TimeRule.FIXED,
        development_time_s=570,
        time_tolerance_s=10,
        agitation="First 30 s without pause, then 5 s each half minute",
        agitation_initial_s=30,
        agitation_every_s=30,
        agitation_for_s=5,
        stop_s=30,
        fix_s=300,
        wash_s=600,
        developer_keeps_days=60,
        developer_films=16,
        stop_bath="Acid stop, 30 s",
        fixer="Rapid fixer, 5 min",
        wash="Running water, 10 min",
        cautions="Ventilate the tank room; the developer can sensitise skin, so wear gloves.",
    )
    return put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk)


def _densitometer(admin) -> Instrument:
    return add_instrument(
        actor=admin,
        name="Densitometer 1",
        aperture_mm=3.0,
        reading_sd=READING_SD,
        notes="Zeroed on air before each session.",
    )
