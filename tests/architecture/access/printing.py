"""Who gets what of papers, prints, patches, sheets and the coverage board."""

from tests.factories.papers import draft_paper, make_paper

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
"""


def things(lab) -> tuple[dict, dict]:
    """Make papers in force and drafted."""
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
    return {}, papers
