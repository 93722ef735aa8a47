"""Exposure standards as people read them."""

from curves.models import ExposureRevision, ExposureStandard
from curves.models.exposures import ExposureMethod
from curves.queries.revisions import Catalogue, Facts, number_text

RELATIVE = "relative only, counted from the tablet's clear area"


def exposure_facts(revision: ExposureRevision) -> Facts:
    """Return what an exposure revision fixes."""
    facts = [
        ("Method", revision.get_method_display()),
        ("Step tablet", str(revision.tablet)),
        ("Target", revision.target),
        ("Light", revision.light),
        ("Colour temperature", number_text(revision.colour_temperature_k, "K")),
        ("Exposure time", number_text(revision.exposure_time_s, "s")),
        ("Exposure where the tablet is clear", absolute_exposure_text(revision)),
    ]
    if revision.method == ExposureMethod.TABLET_PHOTOGRAPHED:
        facts.append(("Spacing of the bracket", f"{revision.bracket_spacing_stops:.3g} stops"))
    return facts


def absolute_exposure_text(revision: ExposureRevision) -> str:
    """Return the exposure of the clear area with its uncertainty, in log units and in lux seconds."""
    if not revision.is_absolute:
        return RELATIVE
    log = f"{revision.log_exposure_clear:.3f}".replace("-", "−")
    lux_seconds = f"{10**revision.log_exposure_clear:.3g}"
    return (
        f"{log} log lux·s, standard uncertainty {number_text(revision.log_exposure_sd)} ({lux_seconds} lux·s)"
    )


EXPOSURE_CATALOGUE = Catalogue(
    standard_model=ExposureStandard,
    revision_model=ExposureRevision,
    noun="exposure standard",
    link="standard",
    uses="rolls",
    facts=exposure_facts,
    related=("tablet",),
)
