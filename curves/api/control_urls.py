"""Addresses of process control for scripts: strips, aims, charts, and what rests on a run."""

from django.urls import path

from curves.api import control_aims, control_strips, instrument_checks, lab_spread, run_effects

AIMS = "control-aims/<int:aims_id>/"
FINDING = "instrument-findings/<int:finding_id>/"
RUN = "process-runs/<int:run_id>/"
ROLL = "rolls/<int:roll_id>/"

CONTROL_URLS = [
    path("strip-batches/", control_strips.StripBatches.as_view(), name="api_strip_batches"),
    path(f"{RUN}control-strips/", control_strips.RunStrips.as_view(), name="api_run_strips"),
    path(
        "control-strips/<int:strip_id>/strike/",
        control_strips.StrikeStrip.as_view(),
        name="api_strip_strike",
    ),
    path("control-charts/", control_strips.ControlCharts.as_view(), name="api_control_charts"),
    path("control-charts/notes/", control_strips.ChartNotes.as_view(), name="api_chart_notes"),
    path("control-aims/", control_aims.ListOfAims.as_view(), name="api_control_aims"),
    path("control-aims/from-strips/", control_aims.AimsFromStrips.as_view(), name="api_aims_from_strips"),
    path("control-aims/by-hand/", control_aims.StatedAims.as_view(), name="api_aims_by_hand"),
    path(AIMS, control_aims.OneSetOfAims.as_view(), name="api_aims"),
    path(f"{AIMS}put-in-force/", control_aims.EnforceAims.as_view(), name="api_aims_enforce"),
    path(f"{AIMS}carry-over/", control_aims.CarryOverAims.as_view(), name="api_aims_carry_over"),
    path(
        "instruments/<int:instrument_id>/checks/",
        instrument_checks.InstrumentChecks.as_view(),
        name="api_instrument_checks",
    ),
    path(
        "instrument-checks/<int:check_id>/strike/",
        instrument_checks.StrikeCheck.as_view(),
        name="api_instrument_check_strike",
    ),
    path("lab-spread/", lab_spread.OwnSpread.as_view(), name="api_lab_spread"),
    path(f"{RUN}effects/", run_effects.RunEffects.as_view(), name="api_run_effects"),
    path(f"{RUN}void/", run_effects.VoidRun.as_view(), name="api_run_void"),
    path("instruments/<int:instrument_id>/findings/", run_effects.Findings.as_view(), name="api_findings"),
    path(FINDING, run_effects.OneFinding.as_view(), name="api_finding"),
    path(f"{FINDING}lift/", run_effects.LiftFinding.as_view(), name="api_finding_lift"),
    path(f"{ROLL}override-hold/", run_effects.OverrideHold.as_view(), name="api_roll_override_hold"),
    path(f"{ROLL}read-again/", run_effects.ReadAgain.as_view(), name="api_roll_read_again"),
]
