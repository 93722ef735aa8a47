"""Who gets what from studies of agreement and from corrections of instruments."""

from django.utils import timezone

from curves.services.agreement import close_study
from curves.services.instrument_corrections import correct_by_study
from tests.factories.instruments import make_instrument
from tests.factories.studies import make_study, read_study

PAGES = """
# method route                   thing            owner labmate admin open closed stranger
GET    agreement_list            -                200 200 200 302 302 302
GET    agreement_new             -                200 200 200 302 302 302
POST   agreement_new             -                400 400 400 403 403 403
GET    agreement                 study            200 200 200 302 302 302
GET    agreement_readings        study            200 200 200 302 302 302
POST   agreement_readings        study            400 400 400 403 403 403
POST   agreement_withdraw        study            400 400 400 403 403 403
POST   agreement_close           study            302 403 302 403 403 403
POST   agreement_close           closed           409 403 409 403 403 403
POST   agreement_reopen          closed           400 400 400 403 403 403
GET    agreement_correct         closed           403 403 200 302 302 302
POST   agreement_correct         closed           403 403 400 403 403 403
GET    correction_list           closed           200 200 200 302 302 302
GET    correction                -                200 200 200 302 302 302
GET    correction_end            -                403 403 200 302 302 302
POST   correction_end            -                403 403 400 403 403 403
"""

OPERATIONS = """
# method route                   thing            owner labmate admin open closed stranger
GET    api_agreement_studies     -                200 200 200 401 401 401
POST   api_agreement_studies     -                400 400 400 401 401 401
GET    api_agreement_study       study            200 200 200 401 401 401
GET    api_agreement_readings    study            200 200 200 401 401 401
POST   api_agreement_readings    study            400 400 400 401 401 401
POST   api_agreement_withdraw    study            400 400 400 401 401 401
POST   api_agreement_close       study            200 403 200 401 401 401
POST   api_agreement_reopen      closed           200 403 200 401 401 401
GET    api_corrections           closed           200 200 200 401 401 401
POST   api_corrections           closed           403 403 400 401 401 401
GET    api_correction_preview    closed           403 403 400 401 401 401
GET    api_correction            -                200 200 200 401 401 401
POST   api_correction_end        -                403 403 400 401 401 401
"""

BODIES = {"api_agreement_reopen": {"reason": "one more reading"}}


def things(lab) -> tuple[dict, dict]:
    """Make an open study, and a closed one of two instruments with a correction in force from it."""
    owner, admin = lab.people["owner"], lab.people["admin"]
    good, off = make_instrument(admin, "Study A"), make_instrument(admin, "Study B")
    opened, closed = make_study(owner, "Spring round"), make_study(owner, "Autumn round")
    read_study(opened, owner, good)
    for seed, instrument in enumerate((good, off)):
        read_study(closed, owner, instrument, seed=seed)
    close_study(actor=owner, study_id=closed.pk)
    made = correct_by_study(
        actor=admin,
        study_id=closed.pk,
        instrument_id=off.pk,
        reference=str(good.pk),
        applies_from_on=timezone.localdate(),
        reason="reads high",
    )
    return {"correction_id": made.pk}, {
        "study": {"study_id": opened.pk},
        "closed": {"study_id": closed.pk, "instrument_id": off.pk},
    }
