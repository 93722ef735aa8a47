"""Who gets what from control strips, aims, charts, voids, findings and timers."""

from curves.models import ControlAims
from curves.services.control_aims import draft_stated_aims, put_aims_in_force
from curves.services.control_strips import add_strip_batch, read_strip
from curves.services.instrument_findings import find_instrument_wrong
from curves.services.safety_sheets import add_safety_sheet

PAGES = """
# method route                   thing            owner labmate admin open closed stranger
GET    strip_list                -                200 200 200 302 302 302
GET    strip_batch_new           -                403 403 200 302 302 302
POST   strip_batch_new           -                403 403 400 403 403 403
GET    run_strip_new             -                200 200 200 302 302 302
POST   run_strip_new             -                400 400 400 403 403 403
GET    run_strip_strike          -                200 403 200 302 302 302
POST   run_strip_strike          -                400 403 400 403 403 403
GET    strip_aims_from_strips    -                403 403 200 302 302 302
POST   strip_aims_from_strips    -                403 403 400 403 403 403
GET    strip_aims_by_hand        -                403 403 200 302 302 302
POST   strip_aims_by_hand        -                403 403 400 403 403 403
GET    strip_aims                aims-in-force    200 200 200 302 302 302
GET    strip_aims                aims-draft       200 200 200 302 302 302
GET    strip_aims_carry_over     aims-in-force    403 403 200 302 302 302
POST   strip_aims_carry_over     aims-in-force    403 403 400 403 403 403
POST   strip_aims_enforce        aims-draft       403 403 302 403 403 403
POST   strip_aims_enforce        aims-in-force    403 403 409 403 403 403
POST   strip_aims_discard        aims-draft       403 403 302 403 403 403
POST   strip_aims_discard        aims-in-force    403 403 409 403 403 403
GET    control_charts            -                200 200 200 302 302 302
POST   control_chart_note        -                400 400 400 403 403 403
GET    run_effects               -                200 200 200 302 302 302
GET    run_void                  -                403 403 200 302 302 302
POST   run_void                  -                403 403 400 403 403 403
GET    finding_list              -                200 200 200 302 302 302
GET    finding_new               -                403 403 200 302 302 302
POST   finding_new               -                403 403 400 403 403 403
GET    finding                   -                200 200 200 302 302 302
POST   finding_lift              -                403 403 400 403 403 403
POST   finding_override          accepted         403 403 400 403 403 403
POST   finding_reread            accepted         403 403 409 403 403 403
GET    run_timer                 -                200 403 200 302 302 302
POST   run_timer                 -                400 403 400 403 403 403
GET    revision_timer            process-in-force 200 200 200 302 302 302
POST   revision_timer            process-in-force 400 400 400 403 403 403
GET    time_temperature          process-in-force 200 200 200 200 302 302
GET    safety_sheets             -                200 200 200 200 302 302
GET    safety_sheet_add          -                403 403 200 302 302 302
POST   safety_sheet_add          -                403 403 400 403 403 403
POST   safety_sheet_remove       -                403 403 302 403 403 403
"""

OPERATIONS = """
# method route                   thing            owner labmate admin open closed stranger
GET    api_strip_batches         -                200 200 200 401 401 401
POST   api_strip_batches         -                403 403 400 401 401 401
GET    api_run_strips            -                200 200 200 401 401 401
POST   api_run_strips            -                201 403 201 401 401 401
POST   api_strip_strike          -                200 403 200 401 401 401
GET    api_control_charts        -                200 200 200 401 401 401
POST   api_chart_notes           -                400 400 400 401 401 401
GET    api_control_aims          -                200 200 200 401 401 401
POST   api_aims_from_strips      -                403 403 400 401 401 401
POST   api_aims_by_hand          -                403 403 400 401 401 401
GET    api_aims                  aims-in-force    200 200 200 401 401 401
DELETE api_aims                  aims-draft       403 403 204 401 401 401
DELETE api_aims                  aims-in-force    403 403 409 401 401 401
POST   api_aims_enforce          aims-draft       403 403 200 401 401 401
POST   api_aims_enforce          aims-in-force    403 403 409 401 401 401
POST   api_aims_carry_over       aims-in-force    403 403 400 401 401 401
GET    api_run_effects           -                200 200 200 401 401 401
POST   api_run_void              -                403 403 400 401 401 401
GET    api_findings              -                200 200 200 401 401 401
POST   api_findings              -                403 403 400 401 401 401
GET    api_finding               -                200 200 200 401 401 401
POST   api_finding_lift          -                403 403 400 401 401 401
POST   api_roll_override_hold    accepted         403 403 409 401 401 401
POST   api_roll_read_again       accepted         403 403 409 401 401 401
"""

#: Values of the one body that tells one's own run from somebody else's; filled in by `things`.
BODIES = {
    "api_run_strips": {},
    "api_strip_strike": {"reason": "misread"},
    "api_roll_override_hold": {"reason": "read twice"},
}
LIMITS = dict.fromkeys(("base_fog", "speed_step", "contrast", "dmax"), (0.06, 0.09))
CENTRES = {"base_fog": 0.28, "speed_step": 0.39, "contrast": 1.06, "dmax": 2.2}


def things(lab) -> tuple[dict, dict]:
    """Make a batch of strips, a strip of the owner's run, aims and a finding."""
    admin, known = lab.people["admin"], lab.known
    batch = add_strip_batch(actor=admin, code="CS-1")
    BODIES["api_run_strips"] = {"batch_id": batch.pk, "base_fog": 0.28}
    strip = read_strip(actor=lab.people["owner"], run_id=known["run_id"], batch_id=batch.pk, base_fog=0.28)
    in_force = _aims(admin, known["process_revision_id"], batch)
    put_aims_in_force(actor=admin, aims_id=in_force.pk)
    draft = _aims(admin, known["process_revision_id"], batch)
    finding = find_instrument_wrong(
        actor=admin, instrument_id=known["instrument_id"], first_on=strip.run.ran_on,
        last_on=strip.run.ran_on, reason="zero was off",
    )  # fmt: skip
    sheet = add_safety_sheet(actor=admin, chemical="Hearth D", url="https://sheets.example/hearth-d")
    return {"strip_id": strip.pk, "finding_id": finding.pk, "sheet_id": sheet.pk}, {
        "aims-in-force": {"aims_id": in_force.pk},
        "aims-draft": {"aims_id": draft.pk},
    }


def _aims(admin, process_revision_id: int, batch) -> ControlAims:
    return draft_stated_aims(
        actor=admin,
        process_revision_id=process_revision_id,
        batch_id=batch.pk,
        centres=CENTRES,
        limits=LIMITS,
        change_note="as bought",
    )
