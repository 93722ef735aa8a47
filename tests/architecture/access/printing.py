"""Who gets what of papers, prints, patches, sheets and the coverage board."""

from curves.services.patch_files import stage_patch_file
from curves.services.patch_sets import PatchValue, enter_patch_set
from tests.factories.papers import draft_paper, make_paper
from tests.factories.rolls import make_batch, make_roll
from tests.factories.standards import make_exposure, make_process

PAGES = """
# method route                   thing            owner labmate admin open closed stranger
GET   paper_list                 -                200 200 200 200 302 302
GET   paper_new                  -                403 403 200 302 302 302
POST  paper_new                  -                403 403 400 403 403 403
GET   paper                      paper-in-force   200 200 200 200 302 302
GET   paper                      paper-draft      200 200 200 404 302 302
GET   paper_rename               paper-in-force   403 403 200 302 302 302
POST  paper_rename               paper-in-force   403 403 400 403 403 403
GET   paper_revise               paper-in-force   403 403 200 302 302 302
POST  paper_revise               paper-in-force   403 403 400 403 403 403
GET   paper_difference           paper-in-force   200 200 200 200 302 302
GET   paper_revision             paper-in-force   200 200 200 200 302 302
GET   paper_revision             paper-draft      200 200 200 404 302 302
GET   paper_revision_edit        paper-draft      403 403 200 302 302 302
POST  paper_revision_edit        paper-draft      403 403 400 403 403 403
GET   paper_revision_enforce     paper-draft      403 403 200 302 302 302
POST  paper_revision_enforce     paper-draft      403 403 409 403 403 403
GET   paper_revision_discard     paper-draft      403 403 200 302 302 302
POST  paper_revision_discard     paper-draft      403 403 409 403 403 403

GET   print_tones                -                200 200 200 200 302 302
GET   print_tones_data           -                200 200 200 200 302 302
GET   print_plan                 -                200 200 200 200 302 302
GET   print_plan_data            -                200 200 200 200 302 302
GET   colour_response            -                200 200 200 200 302 302
GET   colour_response_data       -                200 200 200 200 302 302
GET   coverage                   -                200 200 200 200 302 302
GET   roll_exposure_sheet        draft            200 200 200 302 302 302
GET   roll_processing_sheet      draft            200 200 200 302 302 302
GET   roll_patches               draft            200 200 200 302 302 302
GET   roll_patches               accepted         200 200 200 302 302 302
POST  roll_patches               draft            400 400 400 403 403 403
GET   roll_patches_import        patch-roll       200 403 403 302 302 302
POST  roll_patches_import        patch-roll       400 403 403 403 403 403
GET   roll_patches_csv           patch-roll       200 200 200 302 302 302
GET   roll_patches_template      patch-roll       200 200 200 302 302 302
GET   patch_file                 patch-roll       200 404 404 302 302 302
POST  patch_file_store           patch-roll       302 404 404 403 403 403
POST  patch_file_discard         patch-roll       302 404 404 403 403 403
GET   patch_set                  exposure-draft   403 403 200 302 302 302
POST  patch_set                  exposure-draft   403 403 400 403 403 403
"""

OPERATIONS = """
# method route                   thing            owner labmate admin open closed stranger
GET    api_paper_standards       -                  200 200 200 200 401 401
POST   api_paper_standards       -                  403 403 400 401 401 401
GET    api_paper_standard        paper-in-force     200 200 200 200 401 401
GET    api_paper_standard        paper-draft        200 200 200 404 401 401
PATCH  api_paper_standard        paper-in-force     403 403 200 401 401 401
POST   api_paper_revise          paper-in-force     403 403 400 401 401 401
GET    api_paper_revisions       -                  200 200 200 200 401 401
GET    api_paper_revision        paper-in-force     200 200 200 200 401 401
GET    api_paper_revision        paper-draft        200 200 200 404 401 401
PATCH  api_paper_revision        paper-draft        403 403 200 401 401 401
PATCH  api_paper_revision        paper-in-force     403 403 409 401 401 401
DELETE api_paper_revision        paper-draft        403 403 409 401 401 401
POST   api_paper_enforce         paper-draft        403 403 200 401 401 401
GET    api_print_tones           -                  400 400 400 400 401 401
GET    api_print_plan            -                  200 200 200 200 401 401
GET    api_colour_response       -                  200 200 200 200 401 401
GET    api_patch_readings        patch-roll         200 200 200 401 401 401
PUT    api_patch_readings        patch-roll         200 403 403 401 401 401
POST   api_patch_file            patch-roll         200 403 403 401 401 401
GET    api_patch_set             patch-roll         200 200 200 401 401 401
PUT    api_patch_set             patch-roll         403 403 400 401 401 401
"""

BODIES = {"api_patch_readings": {"frames": []}}
FILES = {"api_patch_file": ("patches.csv", b"frame,patch,density\n3,Grey,0.71\n3,Red,0.5\n")}


def things(lab) -> tuple[dict, dict]:
    """Make papers in force and drafted, and a roll with a known target and a file that waits."""
    admin = lab.people["admin"]
    curves = {"in-force": make_paper(admin), "draft": draft_paper(admin, "Lantern Gloss")}
    papers = {
        f"paper-{state}": {
            "standard_id": curve.paper_id,
            "revision_id": curve.pk,
            "number": curve.number,
        }
        for state, curve in curves.items()
    }
    return {}, papers | {"patch-roll": _patch_roll(lab)}


def _patch_roll(lab) -> dict:
    owner, admin = lab.people["owner"], lab.people["admin"]
    standards = make_process(admin, "Dish, for patches"), make_exposure(admin, "Patches by daylight")
    exposure_id = standards[1].pk
    patches = [PatchValue("Grey", 0.18, True), PatchValue("Red", 0.1)]
    enter_patch_set(
        actor=admin, exposure_revision_id=exposure_id, name="Target", source="Lin", patches=patches
    )
    roll = make_roll(owner, make_batch(owner, "Alder of patches"), standards)
    name, data = FILES["api_patch_file"]
    staged = stage_patch_file(actor=owner, roll_id=roll.pk, filename=name, data=data)
    return {"roll_id": roll.pk, "staged_id": staged.pk, "revision_id": exposure_id}
