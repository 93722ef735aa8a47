"""Standards made through their services: drafts, and revisions in force."""

from datetime import date

from curves.models.revisions import Revision
from curves.services.exposures import EXPOSURES
from curves.services.processes import PROCESSES
from curves.services.standards import create_standard, put_in_force
from curves.services.tablets import TABLETS, nominal_densities

PROCESS = {
    "developer": "Hearth D",
    "dilution": "1 + 1",
    "temperature_c": 20.0,
    "temperature_tolerance_c": 0.5,
    "development_time_s": 510,
    "agitation": "first 30 s, then 5 s in every 30 s",
}
EXPOSURE = {
    "light": "lamp with daylight filter",
    "colour_temperature_k": 5500,
    "exposure_time_s": 0.05,
    "log_exposure_clear": 0.9,
    "log_exposure_sd": 0.03,
}
TABLET = {"calibrated_on": date(2026, 3, 2), "source": "certificate 118", "density_sd": 0.01}
DENSITIES = nominal_densities(first=0.05, spacing=0.15, count=21)


def draft_process(admin, name="House process", **values) -> Revision:
    """The first revision of a process standard, still a draft."""
    return create_standard(kind=PROCESSES, actor=admin, name=name, **PROCESS | values)


def make_process(admin, name="House process", **values) -> Revision:
    """A process revision in force."""
    return put_in_force(kind=PROCESSES, actor=admin, revision_id=draft_process(admin, name, **values).pk)


def draft_tablet(admin, name="Tablet A", **values) -> Revision:
    """The first calibration of a step tablet, still a draft."""
    return create_standard(kind=TABLETS, actor=admin, name=name, **TABLET | {"densities": DENSITIES} | values)


def make_tablet(admin, name="Tablet A", **values) -> Revision:
    """A tablet's calibration in force."""
    return put_in_force(kind=TABLETS, actor=admin, revision_id=draft_tablet(admin, name, **values).pk)


def draft_exposure(admin, name="Daylight contact", *, tablet=None, **values) -> Revision:
    """The first revision of an exposure standard, still a draft, with a tablet of its own unless given."""
    tablet = tablet or make_tablet(admin, name=f"Tablet of {name}").tablet
    return create_standard(
        kind=EXPOSURES, actor=admin, name=name, **EXPOSURE | {"tablet_id": tablet.pk} | values
    )


def make_exposure(admin, name="Daylight contact", *, tablet=None, **values) -> Revision:
    """An exposure revision in force."""
    draft = draft_exposure(admin, name, tablet=tablet, **values)
    return put_in_force(kind=EXPOSURES, actor=admin, revision_id=draft.pk)
