"""The control area's first page: what is in force, the latest runs, what is due."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.control.areas import EXPOSURE_AREA, PROCESS_AREA, TABLET_AREA, control_tabs
from curves.queries.control import control_overview
from curves.queries.instrument_checks import waiting_checks
from labsite.common.access import is_member


@require_safe
@readers_only
def overview(request):
    """Show what the lab stands on at the moment."""
    shown = control_overview(request.user)
    context = {
        "tabs": control_tabs(request.user, "control"),
        "shown": shown,
        "waiting_checks": waiting_checks() if is_member(request.user) else [],
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
