"""Safety, and the short pages of help; what they state of limits and steps comes from the code itself."""

from dataclasses import dataclass

import numpy as np
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.importers import MAX_BYTES, MAX_ROWS, ReadingRow, write_readings_csv
from curves.pages.desk.sample import SAMPLE
from curves.services.readings import HIGHEST_DENSITY, LOWEST_DENSITY, MOST_REPLICATES
from labsite.accounts.services.access_tokens import PREFIX, TOKEN_DAYS_MAX
from labsite.accounts.services.invites import INVITE_DAYS_MAX
from labsite.common.errors import NotFound
from labsite.jobs.models import Job
from labsite.jobs.queries import CANARY_LATE_S

EXAMPLE_STEPS = 21
EXAMPLE_SPACING = 0.15
#: Log exposure of the example's clear area, lux seconds.
EXAMPLE_CLEAR = 0.30


@dataclass(frozen=True)
class Guide:
    """One page of help."""

    slug: str
    title: str
    summary: str
    is_for_admins: bool = False

    @property
    def template(self) -> str:
        """The page's own template."""
        return f"curves/desk/help/{self.slug}.html"


GUIDES = (
    Guide("first-test-roll", "The first test roll", "From the plan to the accepted result, step by step."),
    Guide("entering-readings", "Entering readings", "The keys of the grid, and files that can be uploaded."),
    Guide("scanning", "Scanning", "How a scanner becomes an instrument for density, grain and sharpness."),
    Guide("reading-a-curve", "Reading a curve", "What the figure shows, and what the numbers beside it say."),
    Guide("comparing", "Comparing and citing", "Like with like, what a verdict says, and links that last."),
    Guide("scripting", "Scripting", "The same by program: access tokens, the API, and fitting a file."),
    Guide("installing", "Installing", "A lab on one machine, or on a server with workers.", True),
    Guide("settings", "Settings and people", "What admins decide: visitors, invites, standards.", True),
    Guide("backup", "Backup and restore", "What to copy, how, and how to try that it works.", True),
    Guide("stuck-jobs", "Jobs are stuck", "How to see whether jobs are run, and what to do.", True),
)


@require_safe
def safety(request):
    """The customary cautions of a darkroom; open to everybody."""
    return render(request, "curves/desk/safety.html")


@require_safe
def contents(request):
    """All pages of help; open to everybody, as they hold nothing of the lab."""
    context = {
        "guides": [guide for guide in GUIDES if not guide.is_for_admins],
        "admin_guides": [guide for guide in GUIDES if guide.is_for_admins],
    }
    return render(request, "curves/desk/help.html", context)


@require_safe
def guide_page(request, slug: str):
    """One page of help."""
    place = next((number for number, guide in enumerate(GUIDES) if guide.slug == slug), None)
    if place is None:
        raise NotFound("There is no such page of help.")
    context = {
        "guide": GUIDES[place],
        "following": GUIDES[place + 1] if place + 1 < len(GUIDES) else None,
        "limits": _limits(),
        "site": request.build_absolute_uri("/").rstrip("/"),
    }
    return render(request, GUIDES[place].template, context)


@require_safe
def upload_example(request):
    """A file as a strip's upload takes it: steps, two readings each, and the unexposed area."""
    return _example(request, "readings-example.csv", has_exposures=False)


@require_safe
def fit_example(request):
    """A file as ``fit_readings`` takes it: the same with log exposures."""
    return _example(request, "fit-example.csv", has_exposures=True)


def _limits() -> dict:
    """Numbers of the code that the pages state."""
    return {
        "file_mb": MAX_BYTES // 1024**2,
        "file_rows": MAX_ROWS,
        "lowest_density": LOWEST_DENSITY,
        "highest_density": HIGHEST_DENSITY,
        "replicates": MOST_REPLICATES,
        "token_prefix": PREFIX,
        "token_days": TOKEN_DAYS_MAX,
        "invite_days": INVITE_DAYS_MAX,
        "attempts": Job._meta.get_field("max_attempts").default,
        "late_minutes": CANARY_LATE_S // 60,
    }


def _example(request: HttpRequest, filename: str, *, has_exposures: bool) -> HttpResponse:
    comments = ["an example: an invented strip of 21 steps of 0.15, each read twice; gross densities"]
    text = write_readings_csv(_example_rows(has_exposures=has_exposures), comments=comments)
    answer = HttpResponse(text, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{filename}"'
    return answer


def _example_rows(*, has_exposures: bool) -> list[ReadingRow]:
    """Readings of the sample film; the second reading of every other step is 0.01 higher."""
    rows = [
        ReadingRow(0, SAMPLE.base + 0.01 * (replicate == 2), None, replicate=replicate, is_unexposed=True)
        for replicate in (1, 2, 3)
    ]
    for step in range(1, EXAMPLE_STEPS + 1):
        log_exposure = round(EXAMPLE_CLEAR - EXAMPLE_SPACING * (step - 1), 2)
        density = float(np.round(SAMPLE.density(np.array([log_exposure])), 2)[0])
        for replicate in (1, 2):
            second = 0.01 if replicate == 2 and step % 2 else 0.0
            rows.append(
                ReadingRow(
                    0,
                    round(density + second, 2),
                    log_exposure if has_exposures else None,
                    step=step,
                    replicate=replicate,
                )
            )
    return rows
