"""Printing papers: what a measured curve may say."""

import math
from itertools import pairwise

from django.utils import timezone

from curves.models import Paper, PaperPoint, PaperRevision
from curves.models.revisions import Revision
from curves.services.standard_kinds import Problems, StandardKind, Values

FEWEST_POINTS, MOST_POINTS = 5, 60
LOWEST_DENSITY, HIGHEST_DENSITY = -0.1, 3.5
FURTHEST = 9.0  # log₁₀ from the zero; beyond it a digit was lost
LEAST_RISE = 0.3  # D from first to last point; less is no curve of a paper
#: Noise may let a density fall a little where the curve is flat; more is a slip or solarisation.
GREATEST_FALL = 0.05


class PaperKind(StandardKind):
    """A paper's curves. ``points`` are pairs of log exposure and density, in the order of exposure."""

    standard_model = Paper
    revision_model = PaperRevision
    noun = "printing paper"
    revision_noun = "curve"
    link = "paper"
    about = "notes"
    fields = (
        "grade",
        "developer",
        "measured_on",
        "source",
        "density_sd",
        "base_plus_fog",
        "log_exposure_zero",
        "log_exposure_sd",
    )
    bounds = {
        "density_sd": (0.001, 0.2, "density"),
        "base_plus_fog": (-0.1, 0.5, "density"),
        "log_exposure_zero": (-6, 6, "log lux·s"),
        "log_exposure_sd": (0, 0.5, ""),
    }

    def values_of(self, revision: Revision) -> Values:
        """Return the curve's own values and its points."""
        points = revision.points.order_by("number") if revision.pk else []
        pairs = [[point.log_exposure, point.density] for point in points]
        return super().values_of(revision) | {"points": pairs}

    def values_to_revise(self, revision: Revision) -> Values:
        """Return the points as a start for typing; date and source are the new curve's own."""
        return self.values_of(revision) | {"measured_on": timezone.localdate(), "source": ""}

    def save(self, revision: Revision, values: Values) -> None:
        """Save a curve and its points; those of a draft are written anew."""
        revision.save()
        revision.points.all().delete()
        PaperPoint.objects.bulk_create(
            PaperPoint(revision=revision, number=number, log_exposure=x, density=density)
            for number, (x, density) in enumerate(values["points"], start=1)
        )

    def rule_problems(self, values: Values) -> Problems:
        """Refuse a curve of tomorrow, a half-told exposure, and points that are no paper's."""
        problems = []
        if values["measured_on"] > timezone.localdate():
            problems.append({"field": "measured_on", "message": "This day is still to come."})
        problems += _exposure_problems(values)
        return problems + [{"field": "points", "message": message} for message in _faults(values["points"])]


def _exposure_problems(values: Values) -> Problems:
    if values["log_exposure_zero"] is None and values["log_exposure_sd"]:
        message = "There is no absolute exposure to be uncertain about. Enter it, or set this to 0."
        return [{"field": "log_exposure_sd", "message": message}]
    if values["log_exposure_zero"] is not None and not values["log_exposure_sd"]:
        message = "No exposure is known exactly. Enter its standard uncertainty, such as 0.03."
        return [{"field": "log_exposure_sd", "message": message}]
    return []


def _faults(points: list) -> list[str]:
    if not FEWEST_POINTS <= len(points) <= MOST_POINTS:
        return [f"Enter {FEWEST_POINTS} to {MOST_POINTS} points; there are {len(points)}."]
    faults = [
        fault for number, point in enumerate(points, start=1) if (fault := _point_fault(number, *point))
    ]
    return faults or _course_faults(points)


def _point_fault(number: int, log_exposure: float, density: float) -> str:
    if not (math.isfinite(log_exposure) and abs(log_exposure) <= FURTHEST):
        return (
            f"Point {number}: a log exposure lies within {FURTHEST:g} of its zero, not at {log_exposure:g}."
        )
    if not (math.isfinite(density) and LOWEST_DENSITY <= density <= HIGHEST_DENSITY):
        return (
            f"Point {number}: a print's density lies between −0.1 and {HIGHEST_DENSITY}, not at {density:g}."
        )
    return ""


def _course_faults(points: list) -> list[str]:
    """Name every point out of order; a paper darkens with exposure."""
    faults = []
    for number, ((x, density), (next_x, next_density)) in enumerate(pairwise(points), start=2):
        if next_x <= x:
            faults.append(
                f"Point {number}: log exposure {next_x:g} has to be above that of the point before, {x:g}."
            )
        elif next_density < density - GREATEST_FALL:
            faults.append(
                f"Point {number}: density {next_density:g} falls from {density:g}; "
                "a paper darkens with exposure. Leave out what lies beyond its black."
            )
    if not faults and points[-1][1] - points[0][1] < LEAST_RISE:
        faults.append(f"The curve rises by less than {LEAST_RISE:g} D from its first point to its last.")
    return faults


PAPERS = PaperKind()
