"""Addresses of the rolls area."""

from django.urls import path

from curves.pages.rolls import (
    actions,
    downloads,
    imports,
    lists,
    pictures,
    planning,
    readings,
    reviewing,
    roll,
    run,
    sheets,
)

ROLL = "rolls/<int:roll_id>/"
STRIP = f"{ROLL}strips/<int:strip_number>/"
IMPORT = "imports/<int:staged_id>/"

urlpatterns = [
    path("rolls/", lists.roll_list, name="roll_list"),
    path("rolls/new/", planning.plan, name="roll_plan"),
    path(ROLL, roll.roll, name="roll"),
    path(f"{ROLL}edit/", planning.edit, name="roll_edit"),
    path(f"{ROLL}run/", run.run_step, name="roll_run"),
    path(f"{ROLL}exposure-sheet/", sheets.exposure_sheet_page, name="roll_exposure_sheet"),
    path(f"{ROLL}processing-sheet/", sheets.processing_sheet_page, name="roll_processing_sheet"),
    path(f"{ROLL}pictures/", pictures.roll_picture_page, name="roll_pictures"),
    path(f"{ROLL}pictures/<int:measure_id>/end/", pictures.end, name="roll_picture_end"),
    path(f"{ROLL}strips/", actions.add, name="roll_strips"),
    path(f"{STRIP}readings/", readings.enter, name="roll_readings"),
    path(f"{STRIP}readings.csv", downloads.readings_csv, name="roll_readings_csv"),
    path(f"{STRIP}import/", imports.upload, name="roll_import"),
    path(IMPORT, imports.preview, name="import"),
    path(f"{IMPORT}store/", imports.store, name="import_store"),
    path(f"{IMPORT}discard/", imports.discard, name="import_discard"),
    path(f"{ROLL}refit/", actions.refit, name="roll_refit"),
    path(f"{ROLL}submit/", actions.submit, name="roll_submit"),
    path(f"{ROLL}recall/", actions.recall, name="roll_recall"),
    path(f"{ROLL}remark/", actions.remark, name="roll_remark"),
    path(f"{ROLL}accept/", reviewing.accept, name="roll_accept"),
    path(f"{ROLL}return/", reviewing.give_back, name="roll_return"),
    path(f"{ROLL}withdraw/", reviewing.withdraw, name="roll_withdraw"),
    path(f"{ROLL}void/", reviewing.void, name="roll_void"),
    path(f"{ROLL}override/", reviewing.override, name="roll_override"),
    path(f"{ROLL}result.json", downloads.result_json, name="roll_result_json"),
    path(f"{ROLL}measures.csv", downloads.measures_csv, name="roll_measures_csv"),
    path(f"{ROLL}curve.csv", downloads.curve_csv, name="roll_curve_csv"),
    path("reviews/", reviewing.queue, name="review_queue"),
]
