"""Printing papers as people read them: their facts, and what the engine makes of their curves."""

import math
from dataclasses import replace

import numpy as np
from django.db.models import Q

from curves.models import Paper, PaperRevision, RevisionState
from curves.queries.revisions import Catalogue, Facts, number_text
from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.printing.paper import analyse_paper, grade_number
from curves.sensitometry.sampled_curve import SampledCurve

RELATIVE = "relative only, counted from a zero of its own"
#: Measures of a paper, in the order in which a page shows them.
PAPER_MEASURES = (
    "iso_range",
    "paper_exposure_range",
    "paper_speed",
    "paper_d_max",
    "paper_base_plus_fog",
    "paper_toe_point",
    "paper_speed_point",
    "paper_shoulder_point",
)


def paper_facts(revision: PaperRevision) -> Facts:
    """Return what a paper's curve says of itself."""
    return [
        ("Grade or filter", revision.grade),
        ("Paper developer", revision.developer),
        ("Measured on", f"{revision.measured_on:%Y-%m-%d}"),
        ("Measured by, with", revision.source),
        ("Standard uncertainty of a density", number_text(revision.density_sd, "D")),
        ("Unexposed, processed paper", number_text(revision.base_plus_fog, "D")),
        ("Exposure at log exposure 0", _exposure_text(revision)),
    ]


def point_facts(revision: PaperRevision) -> Facts:
    """Return the density at every log exposure."""
    return [
        (f"Log exposure {number_text(round(point.log_exposure, 4))}", f"{point.density:.3f}")
        for point in revision.points.all()
    ]


def _exposure_text(revision: PaperRevision) -> str:
    if not revision.is_absolute:
        return RELATIVE
    log = f"{revision.log_exposure_zero:.3f}".replace("-", "−")
    return f"{log} log lux·s, standard uncertainty {number_text(revision.log_exposure_sd)}"


def paper_curve(revision: PaperRevision) -> SampledCurve:
    """Return the curve for the engine, at exposures in lux seconds where they are known."""
    points = list(revision.points.all())
    x = np.array([point.log_exposure for point in points]) + (revision.log_exposure_zero or 0.0)
    return SampledCurve.through(x, [point.density for point in points], revision.density_sd)


def paper_measures(revision: PaperRevision) -> dict[str, Measure]:
    """Return the measures of a paper; what needs lux seconds is withheld where they are not known."""
    measures = analyse_paper(paper_curve(revision), revision.base_plus_fog, revision.density_sd)
    speed = measures["paper_speed"]
    if speed.value is None:
        return measures
    if not revision.is_absolute:
        return measures | {"paper_speed": withheld("paper_speed", "UNCALIBRATED", "ISO P")}
    return measures | {"paper_speed": _with_exposure_error(speed, revision.log_exposure_sd)}


def _with_exposure_error(speed: Measure, log_exposure_sd: float) -> Measure:
    """All exposures of a strip err together: that moves its speed, and no range."""

    def further(end: float | None) -> float | None:
        if end is None:
            return None
        log_side = math.log10(end / speed.value)
        return speed.value * 10 ** math.copysign(math.hypot(log_side, Z95 * log_exposure_sd), log_side)

    return replace(speed, low=further(speed.low), high=further(speed.high))


def paper_grade(measures: dict[str, Measure]) -> int | None:
    """Return the old grade number of a measured range, None outside the scale or without a range."""
    found = measures["paper_exposure_range"].value
    return None if found is None else grade_number(found)


def printable_papers(user, *, also: int | None = None) -> list[PaperRevision]:
    """Return the papers' curves in force, by name, for a choice; and one more that was named."""
    wanted = Q(state=RevisionState.IN_FORCE) | Q(pk=also)
    found = PAPER_CATALOGUE.revisions(user).prefetch_related(None).filter(wanted)
    return list(found.order_by("paper__name", "-number"))


PAPER_CATALOGUE = Catalogue(
    standard_model=Paper,
    revision_model=PaperRevision,
    noun="printing paper",
    link="paper",
    uses="points",
    facts=paper_facts,
    part_facts=point_facts,
    parts=("points",),
)
