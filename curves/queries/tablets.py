"""Step tablets and their calibrations as people read them."""

from curves.models import StepTablet, TabletRevision
from curves.queries.revisions import Catalogue, Facts, number_text


def tablet_facts(revision: TabletRevision) -> Facts:
    """Return what a calibration says of itself."""
    return [
        ("Calibrated on", f"{revision.calibrated_on:%Y-%m-%d}"),
        ("Source", revision.source),
        ("Standard uncertainty of a step", number_text(revision.density_sd, "density")),
    ]


def step_facts(revision: TabletRevision) -> Facts:
    """Return the density of every step."""
    return [(f"Step {step.step}", f"{step.density:.3f}") for step in revision.steps.all()]


TABLET_CATALOGUE = Catalogue(
    standard_model=StepTablet,
    revision_model=TabletRevision,
    noun="step tablet",
    link="tablet",
    uses="strips",
    facts=tablet_facts,
    part_facts=step_facts,
    parts=("steps",),
)
