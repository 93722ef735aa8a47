"""Addresses of papers and prints; papers share the views of the standards but for their own two pages."""

from django.urls import path

from curves.pages.control import standard_changes, standards
from curves.pages.printing import colours, papers, patch_files, patches, tones
from curves.pages.printing.papers import PAPER_AREA

KNOWN, NAME = {"area": PAPER_AREA}, PAPER_AREA.route
PAPERS = "control/papers/"
PAPER = f"{PAPERS}<int:standard_id>/"
ROLL_PATCHES = "rolls/<int:roll_id>/patches/"
PATCH_FILE = "patch-files/<int:staged_id>/"
CURVE = f"{PAPER}curves/<int:number>/"

urlpatterns = [
    path(PAPERS, standards.standard_list, KNOWN, NAME["list"]),
    path(f"{PAPERS}new/", standard_changes.new_standard, KNOWN, NAME["new"]),
    path(PAPER, papers.paper_page, KNOWN, NAME["page"]),
    path(f"{PAPER}rename/", standard_changes.rename, KNOWN, NAME["rename"]),
    path(f"{PAPER}revise/", standard_changes.revise, KNOWN, NAME["revise"]),
    path(f"{PAPER}difference/", standards.difference_page, KNOWN, NAME["difference"]),
    path(CURVE, papers.paper_revision, KNOWN, NAME["revision"]),
    path(f"{CURVE}edit/", standard_changes.edit_revision, KNOWN, NAME["edit"]),
    path(f"{CURVE}put-in-force/", standard_changes.enforce_revision, KNOWN, NAME["enforce"]),
    path(f"{CURVE}discard/", standard_changes.discard_revision, KNOWN, NAME["discard"]),
    path("compare/print-tones/", tones.tones_page, name="print_tones"),
    path("compare/print-tones/data.csv", tones.tones_data, name="print_tones_data"),
    path("compare/print-plan/", tones.plan_page, name="print_plan"),
    path("compare/print-plan/data.csv", tones.plan_data, name="print_plan_data"),
    path("compare/colour-response/", colours.colour_page, name="colour_response"),
    path("compare/colour-response/data.csv", colours.colour_data, name="colour_response_data"),
    path(ROLL_PATCHES, patches.roll_patches_page, name="roll_patches"),
    path(f"{ROLL_PATCHES}import/", patch_files.upload, name="roll_patches_import"),
    path(f"{ROLL_PATCHES}readings.csv", patch_files.readings_csv, name="roll_patches_csv"),
    path(f"{ROLL_PATCHES}template.csv", patch_files.template_csv, name="roll_patches_template"),
    path(PATCH_FILE, patch_files.preview, name="patch_file"),
    path(f"{PATCH_FILE}store/", patch_files.store, name="patch_file_store"),
    path(f"{PATCH_FILE}discard/", patch_files.discard, name="patch_file_discard"),
    path("control/patches/<int:revision_id>/", patches.patch_set_page, name="patch_set"),
]
