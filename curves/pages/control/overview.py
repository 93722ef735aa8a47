"""The control area's first page: what is in force, the latest runs, what is due."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.control.areas import EXPOSURE_AREA, PROCESS_AREA, TABLET_AREA, control_tabs
from curves.queries.control import control_overview


@require_safe
@readers_only
def overview(request):
    """Show what the lab stands on at the moment."""
    shown = control_overview(request.user)
    context = {
        "tabs": control_tabs(request.user, "control"),
        "shown": shown,
        "in_force": [
            (PROCESS_AREA, shown.processes),
            (EXPOSURE_AREA, shown.exposures),
            (TABLET_AREA, shown.calibrations),
        ],
        "drafts": [
            (PROCESS_AREA, shown.process_drafts),
            (EXPOSURE_AREA, shown.exposure_drafts),
            (TABLET_AREA, shown.calibration_drafts),
        ],
    }
    return render(request, "curves/control/overview.html", context)
