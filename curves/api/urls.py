"""Addresses of the curves app for scripts."""

from django.urls import path

from curves.api import (
    comparisons_kept,
    instruments,
    readings,
    results,
    roll_reviews,
    roll_steps,
    rolls,
    runs,
    stocks,
    verdicts,
)
from curves.api.agreement_urls import AGREEMENT_URLS
from curves.api.colour_response import ColourResponseOfStocks
from curves.api.comparison import ComparisonOfStocks
from curves.api.control_urls import CONTROL_URLS
from curves.api.measures import Measures
from curves.api.papers import PAPER_SIDE
from curves.api.patch_files import PatchFile
from curves.api.patch_readings import PatchReadings, PatchTarget
from curves.api.picture_measures import EndPictureMeasure, PictureMeasures
from curves.api.print_tones import PrintPlanOfStocks, PrintTonesOfStocks
from curves.api.readings_files import ReadingsFile
from curves.api.references import OneReferencePair, References
from curves.api.sheet_urls import SHEET_URLS
from curves.api.standard_sides import EXPOSURE_SIDE, PROCESS_SIDE, TABLET_SIDE
from curves.api.standards import standard_urls
from curves.api.trade_offs import TradeOffsOfStocks

STOCK = "stocks/<int:stock_id>/"
INSTRUMENT = "instruments/<int:instrument_id>/"
RUN = "process-runs/<int:run_id>/"
ROLL = "rolls/<int:roll_id>/"
VERDICT = "verdicts/<int:verdict_id>/"
STRIP = f"{ROLL}strips/<int:strip_number>/"

urlpatterns = [
    path("stocks/", stocks.Stocks.as_view(), name="api_stocks"),
    path(STOCK, stocks.OneStock.as_view(), name="api_stock"),
    path(f"{STOCK}batches/", stocks.Batches.as_view(), name="api_batches"),
    path(f"{STOCK}results/", results.PastResults.as_view(), name="api_past_results"),
    *SHEET_URLS,
    *standard_urls(PROCESS_SIDE),
    *standard_urls(EXPOSURE_SIDE),
    path("exposure-revisions/<int:revision_id>/patches/", PatchTarget.as_view(), name="api_patch_set"),
    *standard_urls(TABLET_SIDE),
    *standard_urls(PAPER_SIDE),
    path("instruments/", instruments.Instruments.as_view(), name="api_instruments"),
    path(INSTRUMENT, instruments.OneInstrument.as_view(), name="api_instrument"),
    path(f"{INSTRUMENT}retire/", instruments.RetireInstrument.as_view(), name="api_instrument_retire"),
    path(
        f"{INSTRUMENT}reactivate/",
        instruments.ReactivateInstrument.as_view(),
        name="api_instrument_reactivate",
    ),
    path("process-runs/", runs.Runs.as_view(), name="api_runs"),
    path(RUN, runs.OneRun.as_view(), name="api_run"),
    path(f"{RUN}judge/", runs.JudgeRun.as_view(), name="api_run_judge"),
    path(f"{RUN}correct/", runs.CorrectRun.as_view(), name="api_run_correct"),
    *CONTROL_URLS,
    *AGREEMENT_URLS,
    path("references/", References.as_view(), name="api_references"),
    path(
        "references/<int:process_revision_id>/<int:exposure_revision_id>/",
        OneReferencePair.as_view(),
        name="api_reference_pair",
    ),
    path("rolls/", rolls.Rolls.as_view(), name="api_rolls"),
    path(ROLL, rolls.OneRoll.as_view(), name="api_roll"),
    path(f"{ROLL}assign-run/", roll_steps.AssignRun.as_view(), name="api_roll_assign_run"),
    path(f"{ROLL}strips/", roll_steps.Strips.as_view(), name="api_strips"),
    path(f"{STRIP}readings/", readings.Readings.as_view(), name="api_readings"),
    path(f"{STRIP}readings-file/", ReadingsFile.as_view(), name="api_readings_file"),
    path(f"{ROLL}fit/", roll_steps.FitRoll.as_view(), name="api_roll_fit"),
    path(f"{ROLL}submit/", roll_steps.SubmitRoll.as_view(), name="api_roll_submit"),
    path(f"{ROLL}recall/", roll_steps.RecallRoll.as_view(), name="api_roll_recall"),
    path(f"{ROLL}accept/", roll_reviews.AcceptRoll.as_view(), name="api_roll_accept"),
    path(f"{ROLL}return/", roll_reviews.ReturnRoll.as_view(), name="api_roll_return"),
    path(f"{ROLL}withdraw/", roll_reviews.WithdrawRoll.as_view(), name="api_roll_withdraw"),
    path(f"{ROLL}void/", roll_reviews.VoidRoll.as_view(), name="api_roll_void"),
    path(f"{ROLL}override/", roll_reviews.OverrideControl.as_view(), name="api_roll_override"),
    path(f"{ROLL}remarks/", roll_steps.Remarks.as_view(), name="api_remarks"),
    path(f"{ROLL}analysis/", results.RollAnalysis.as_view(), name="api_roll_analysis"),
    path(f"{ROLL}comparison/", results.RollComparison.as_view(), name="api_roll_comparison"),
    path(f"{ROLL}patch-readings/", PatchReadings.as_view(), name="api_patch_readings"),
    path(f"{ROLL}patch-file/", PatchFile.as_view(), name="api_patch_file"),
    path(f"{ROLL}picture-measures/", PictureMeasures.as_view(), name="api_picture_measures"),
    path(
        f"{ROLL}picture-measures/<int:measure_id>/end/",
        EndPictureMeasure.as_view(),
        name="api_picture_measure_end",
    ),
    path("analyses/<int:analysis_id>/", results.OneAnalysis.as_view(), name="api_analysis"),
    path("stock-results/", results.StockResults.as_view(), name="api_stock_results"),
    path("stock-results/<int:result_id>/", results.OneStockResult.as_view(), name="api_stock_result"),
    path("comparison/", ComparisonOfStocks.as_view(), name="api_comparison"),
    path(f"{STOCK}verdicts/", verdicts.Verdicts.as_view(), name="api_verdicts"),
    path("verdicts/waiting/", verdicts.WaitingVerdicts.as_view(), name="api_verdicts_waiting"),
    path(VERDICT, verdicts.OneVerdictView.as_view(), name="api_verdict"),
    path(f"{VERDICT}rewrite/", verdicts.RewriteVerdict.as_view(), name="api_verdict_rewrite"),
    path(f"{VERDICT}withdraw/", verdicts.WithdrawVerdict.as_view(), name="api_verdict_withdraw"),
    path(f"{VERDICT}approve/", verdicts.ApproveVerdict.as_view(), name="api_verdict_approve"),
    path(f"{VERDICT}decline/", verdicts.DeclineVerdict.as_view(), name="api_verdict_decline"),
    path("stocks-for-purpose/", verdicts.StocksForPurpose.as_view(), name="api_stocks_for"),
    path("trade-offs/", TradeOffsOfStocks.as_view(), name="api_trade_offs"),
    path(
        "saved-comparisons/",
        comparisons_kept.SavedComparisons.as_view(),
        name="api_saved_comparisons",
    ),
    path(
        "saved-comparisons/<int:comparison_id>/",
        comparisons_kept.OneSavedComparison.as_view(),
        name="api_saved_comparison",
    ),
    path(
        "frozen-comparisons/",
        comparisons_kept.FrozenComparisons.as_view(),
        name="api_frozen_comparisons",
    ),
    path(
        "frozen-comparisons/<slug:frozen_code>/",
        comparisons_kept.OneFrozenComparison.as_view(),
        name="api_frozen_comparison",
    ),
    path("print-tones/", PrintTonesOfStocks.as_view(), name="api_print_tones"),
    path("print-plan/", PrintPlanOfStocks.as_view(), name="api_print_plan"),
    path("colour-response/", ColourResponseOfStocks.as_view(), name="api_colour_response"),
    path("measures/", Measures.as_view(), name="api_measures"),
]
