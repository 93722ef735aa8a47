"""Step tablets: a calibration gives every step its density, and says how well that is known."""

import math
from itertools import pairwise

from django.utils import timezone

from curves.models import StepTablet, TabletRevision, TabletStep
from curves.models.revisions import Revision
from curves.services.standard_kinds import Problems, StandardKind, Values

FEWEST_STEPS, MOST_STEPS = 2, 60
HIGHEST_DENSITY = 6.0


class TabletKind(StandardKind):
    """A tablet's calibrations. ``densities`` holds the density of step 1, 2, … in their order."""

    standard_model = StepTablet
    revision_model = TabletRevision
    noun = "step tablet"
    revision_noun = "calibration"
    link = "tablet"
    about = "notes"
    fields = ("calibrated_on", "source", "density_sd")
    bounds = {"density_sd": (0.0005, 0.2, "density")}

    def values_of(self, revision: Revision) -> Values:
        """Return the calibration's own values and its densities by step."""
        steps = revision.steps.order_by("step") if revision.pk else []
        return super().values_of(revision) | {"densities": [step.density for step in steps]}

    def values_to_revise(self, revision: Revision) -> Values:
        """Return the densities as a start for typing; date and source are the new calibration's own."""
        fresh = {"calibrated_on": timezone.localdate(), "source": ""}
        return self.values_of(revision) | fresh

    def save(self, revision: Revision, values: Values) -> None:
        """Save a calibration and its steps; those of a draft are written anew."""
        revision.save()
        revision.steps.all().delete()
        TabletStep.objects.bulk_create(
            TabletStep(revision=revision, step=step, density=density)
            for step, density in enumerate(values["densities"], start=1)
        )

    def rule_problems(self, values: Values) -> Problems:
        """Refuse a calibration of tomorrow, and steps that do not follow each other in density."""
        problems = []
        if values["calibrated_on"] > timezone.localdate():
            problems.append({"field": "calibrated_on", "message": "This day is still to come."})
        return problems + [
            {"field": "densities", "message": message} for message in _step_faults(values["densities"])
        ]


def nominal_densities(*, first: float, spacing: float, count: int) -> list[float]:
    """Return the densities that a tablet was made for: a start for typing, not a calibration."""
    return [round(first + spacing * index, 4) for index in range(count)]


def _step_faults(densities: list[float]) -> list[str]:
    if not FEWEST_STEPS <= len(densities) <= MOST_STEPS:
        return [f"Enter {FEWEST_STEPS} to {MOST_STEPS} steps; there are {len(densities)}."]
    faults = [
        f"Step {step}: a tablet's density lies between 0 and {HIGHEST_DENSITY:g}, not at {density:g}."
        for step, density in enumerate(densities, start=1)
        if not (math.isfinite(density) and 0 <= density <= HIGHEST_DENSITY)
    ]
    return faults or _order_faults(densities)


def _order_faults(densities: list[float]) -> list[str]:
    """Name every step that breaks the order; most steps decide whether it rises or falls."""
    changes = [after - before for before, after in pairwise(densities)]
    rises = sum(change > 0 for change in changes) >= sum(change < 0 for change in changes)
    word = "more" if rises else "less"
    return [
        f"Step {step} ({after:g}) has to be {word} dense than step {step - 1} ({before:g}): "
        "the steps of a tablet follow each other."
        for step, (before, after) in enumerate(pairwise(densities), start=2)
        if (after <= before if rises else after >= before)
    ]


TABLETS = TabletKind()
