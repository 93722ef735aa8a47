"""Addresses of the control area. The three kinds of standard share their views."""

from django.urls import path

from curves.pages.control import (
    aims,
    charts,
    checks,
    findings,
    instruments,
    overview,
    references,
    run_effects,
    runs,
    safety_sheets,
    spread,
    standard_changes,
    standards,
    strips,
    time_temperature,
    timers,
)
from curves.pages.control.agreement_urls import AGREEMENT_URLS
from curves.pages.control.areas import EXPOSURE_AREA, PROCESS_AREA, TABLET_AREA, StandardArea


def standard_routes(folder: str, area: StandardArea) -> list:
    """The addresses of one kind of standard."""
    known, name = {"area": area}, area.route
    one = f"{folder}/<int:standard_id>/"
    revision = f"{one}revisions/<int:number>/"
    return [
        path(f"{folder}/", standards.standard_list, known, name["list"]),
        path(f"{folder}/new/", standard_changes.new_standard, known, name["new"]),
        path(one, standards.standard_page, known, name["page"]),
        path(f"{one}rename/", standard_changes.rename, known, name["rename"]),
        path(f"{one}revise/", standard_changes.revise, known, name["revise"]),
        path(f"{one}difference/", standards.difference_page, known, name["difference"]),
        path(revision, standards.revision_page, known, name["revision"]),
        path(f"{revision}edit/", standard_changes.edit_revision, known, name["edit"]),
        path(f"{revision}put-in-force/", standard_changes.enforce_revision, known, name["enforce"]),
        path(f"{revision}discard/", standard_changes.discard_revision, known, name["discard"]),
    ]


PAIR = "reference/<int:process_revision_id>/<int:exposure_revision_id>/"

urlpatterns = [
    path("", overview.overview, name="control"),
    *standard_routes("processes", PROCESS_AREA),
    *standard_routes("exposures", EXPOSURE_AREA),
    *standard_routes("tablets", TABLET_AREA),
    path("instruments/", instruments.instrument_list, name="instrument_list"),
    path("instruments/new/", instruments.new_instrument, name="instrument_new"),
    path("instruments/<int:instrument_id>/", instruments.instrument_page, name="instrument"),
    path("instruments/<int:instrument_id>/edit/", instruments.edit_instrument_page, name="instrument_edit"),
    path("instruments/<int:instrument_id>/retire/", instruments.retire, name="instrument_retire"),
    path("instruments/<int:instrument_id>/reactivate/", instruments.reactivate, name="instrument_reactivate"),
    *AGREEMENT_URLS,
    path("instruments/<int:instrument_id>/checks/", checks.checks, name="instrument_checks"),
    path("instruments/<int:instrument_id>/checks/new/", checks.new_check, name="instrument_check_new"),
    path("instruments/<int:instrument_id>/checks/plan/", checks.plan, name="instrument_check_plan"),
    path("instruments/checks/<int:check_id>/strike/", checks.strike, name="instrument_check_strike"),
    path("runs/", runs.run_list, name="run_list"),
    path("runs/new/", runs.new_run, name="run_new"),
    path("runs/<int:run_id>/", runs.run, name="run"),
    path("runs/<int:run_id>/correct/", runs.correct, name="run_correct"),
    path("runs/<int:run_id>/judge/", runs.judge, name="run_judge"),
    path("runs/<int:run_id>/strips/new/", strips.read, name="run_strip_new"),
    path("runs/<int:run_id>/timer/", timers.run_timer, name="run_timer"),
    path(
        "processes/<int:standard_id>/revisions/<int:number>/timer/",
        timers.revision_timer,
        name="revision_timer",
    ),
    path(
        "processes/<int:standard_id>/revisions/<int:number>/temperature/",
        time_temperature.time_temperature,
        name="time_temperature",
    ),
    path("safety-sheets/", safety_sheets.sheet_list, name="safety_sheets"),
    path("safety-sheets/new/", safety_sheets.add_sheet, name="safety_sheet_add"),
    path("safety-sheets/<int:sheet_id>/remove/", safety_sheets.remove_sheet, name="safety_sheet_remove"),
    path("runs/<int:run_id>/effects/", run_effects.effects, name="run_effects"),
    path("runs/<int:run_id>/void/", run_effects.void, name="run_void"),
    path("instruments/<int:instrument_id>/findings/", findings.finding_list, name="finding_list"),
    path("instruments/<int:instrument_id>/findings/new/", findings.new_finding, name="finding_new"),
    path("findings/<int:finding_id>/", findings.finding, name="finding"),
    path("findings/<int:finding_id>/lift/", findings.lift, name="finding_lift"),
    path(
        "findings/<int:finding_id>/rolls/<int:roll_id>/override/", findings.override, name="finding_override"
    ),
    path("findings/<int:finding_id>/rolls/<int:roll_id>/read-again/", findings.reread, name="finding_reread"),
    path("strips/", strips.strip_list, name="strip_list"),
    path("strips/batches/new/", strips.new_batch, name="strip_batch_new"),
    path("strips/<int:strip_id>/strike/", strips.strike, name="run_strip_strike"),
    path("strips/aims/from-strips/", aims.from_strips, name="strip_aims_from_strips"),
    path("strips/aims/by-hand/", aims.by_hand, name="strip_aims_by_hand"),
    path("strips/aims/<int:aims_id>/", aims.aims, name="strip_aims"),
    path("strips/aims/<int:aims_id>/carry-over/", aims.carry_over, name="strip_aims_carry_over"),
    path("strips/aims/<int:aims_id>/put-in-force/", aims.enforce, name="strip_aims_enforce"),
    path("strips/aims/<int:aims_id>/discard/", aims.discard, name="strip_aims_discard"),
    path("charts/", charts.charts, name="control_charts"),
    path("charts/notes/", charts.add_note, name="control_chart_note"),
    path("spread/", spread.spread, name="spread"),
    path("spread/values.csv", spread.values, name="spread_values"),
    path("reference/", references.reference_list, name="reference_list"),
    path(PAIR, references.reference, name="reference"),
    path(f"{PAIR}appoint/", references.appoint, name="reference_appoint"),
]
