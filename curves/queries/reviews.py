"""What waits for an admin's decision, and what was decided lately."""

from dataclasses import dataclass

from django.db.models import F, QuerySet

from curves.models import Review, Roll, RollState
from labsite.common.access import require_admin

LATELY = 8


@dataclass(frozen=True)
class ReviewQueue:
    """Submitted rolls, longest waiting first, each with ``flags``: what its curve's fit remarked."""

    waiting: tuple[Roll, ...]
    decided: tuple[Review, ...]


def submitted_rolls() -> QuerySet[Roll]:
    """Return the rolls that wait for a decision, longest waiting first."""
    return Roll.objects.filter(state=RollState.SUBMITTED).order_by("submitted_at", "pk")


def review_queue(user) -> ReviewQueue:
    """Return what an admin has to decide on."""
    require_admin(user)
    waiting = submitted_rolls().select_related(
        "batch__stock",
        "member",
        "run",
        "process_revision__standard",
        "exposure_revision__standard",
        "current_analysis",
    )
    # The flags alone: fifty rolls need not load fifty curves.
    waiting = waiting.annotate(flags=F("current_analysis__detail__flags"))
    waiting = waiting.defer("current_analysis__detail")
    decided = Review.objects.select_related("roll__batch__stock", "reviewer")
    return ReviewQueue(waiting=tuple(waiting), decided=tuple(decided[:LATELY]))
