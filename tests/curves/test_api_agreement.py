"""Pages and API agree: the same wrong deed meets the same words, and changes nothing on either side."""

import html
import re
from dataclasses import dataclass, field

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from curves.models import Instrument, Reading, Roll
from labsite.accounts.models import AuditRecord
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_read_roll,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)
from tests.factories.scripts import Script


@dataclass(frozen=True)
class Deed:
    """The same thing done on a page and by a script; ``who`` does it to the ``thing``."""

    who: str
    thing: str
    page: str
    path: str
    status: int
    code: str
    form: dict = field(default_factory=dict)
    body: dict | None = None
    method: str = "post"
    strip: bool = False


DEEDS = {
    "edit somebody else's roll": Deed(
        "labmate",
        "draft",
        "roll_edit",
        "rolls/{}/",
        403,
        "not_allowed",
        {"notes": "x"},
        {"notes": "x"},
        "patch",
    ),
    "read into somebody else's roll": Deed(
        "labmate",
        "draft",
        "roll_readings",
        "rolls/{}/strips/1/readings/",
        403,
        "not_allowed",
        {"d-3-1": "0.42"},
        {"readings": [{"step": 3, "replicate": 1, "density": 0.42}]},
        "put",
        strip=True,
    ),
    "submit a roll without a run": Deed(
        "owner", "draft", "roll_submit", "rolls/{}/submit/", 409, "wrong_state"
    ),
    "submit somebody else's roll": Deed(
        "labmate", "draft", "roll_submit", "rolls/{}/submit/", 403, "not_allowed"
    ),
    "take back a draft": Deed("owner", "draft", "roll_recall", "rolls/{}/recall/", 409, "wrong_state"),
    "edit a submitted roll": Deed(
        "owner",
        "submitted",
        "roll_edit",
        "rolls/{}/",
        409,
        "wrong_state",
        {"notes": "x"},
        {"notes": "x"},
        "patch",
    ),
    "read into a submitted roll": Deed(
        "owner",
        "submitted",
        "roll_readings",
        "rolls/{}/strips/1/readings/",
        409,
        "wrong_state",
        {"d-3-1": "0.42"},
        {"readings": [{"step": 3, "replicate": 1, "density": 0.42}]},
        "put",
        strip=True,
    ),
    "accept as a member": Deed(
        "owner", "submitted", "roll_accept", "rolls/{}/accept/", 403, "not_allowed", {}, {}
    ),
    "accept a draft": Deed("admin", "draft", "roll_accept", "rolls/{}/accept/", 409, "wrong_state", {}, {}),
    "accept what was refitted since": Deed(
        "admin",
        "submitted",
        "roll_accept",
        "rolls/{}/accept/",
        409,
        "wrong_state",
        {"seen_analysis_id": 987654},
        {"seen_analysis_id": 987654},
    ),
    "return without saying why": Deed(
        "admin", "submitted", "roll_return", "rolls/{}/return/", 400, "invalid", {}, {}
    ),
    "withdraw without saying why": Deed(
        "owner",
        "accepted",
        "roll_withdraw",
        "rolls/{}/withdraw/",
        400,
        "invalid",
        {"reason": ""},
        {"reasons": ""},
    ),
    "withdraw somebody else's roll": Deed(
        "labmate",
        "accepted",
        "roll_withdraw",
        "rolls/{}/withdraw/",
        403,
        "not_allowed",
        {"reason": "x"},
        {"reasons": "x"},
    ),
    "void as a member": Deed(
        "owner",
        "accepted",
        "roll_void",
        "rolls/{}/void/",
        403,
        "not_allowed",
        {"reason": "x"},
        {"reasons": "x"},
    ),
    "hold back what is not held back": Deed(
        "admin",
        "accepted",
        "roll_override",
        "rolls/{}/override/",
        409,
        "wrong_state",
        {"lift": "1"},
        {"reason": ""},
    ),
    "assign a run that there is not": Deed(
        "owner",
        "draft",
        "roll_run",
        "rolls/{}/assign-run/",
        400,
        "invalid",
        {"run_id": "987654"},
        {"run_id": 987654},
    ),
    "a density that is none": Deed(
        "owner",
        "draft",
        "roll_readings",
        "rolls/{}/strips/1/readings/",
        400,
        "invalid",
        {"d-3-1": "9.9", "d-unexposed-1": "-0.5"},
        {
            "readings": [
                {"step": 3, "replicate": 1, "density": 9.9},
                {"step": "unexposed", "replicate": 1, "density": -0.5},
            ]
        },
        "put",
        strip=True,
    ),
    "readings over others that were changed": Deed(
        "owner",
        "read",
        "roll_readings",
        "rolls/{}/strips/1/readings/",
        409,
        "stale",
        {"d-3-1": "0.42", "version": "0" * 16},
        {"readings": [{"step": 3, "replicate": 1, "density": 0.42}], "version": "0" * 16},
        "put",
        strip=True,
    ),
    "a remark without words": Deed(
        "owner",
        "read",
        "roll_remark",
        "rolls/{}/remarks/",
        400,
        "invalid",
        {"text": ""},
        {},
    ),
}


@pytest.fixture
def things(owner, admin):
    """A roll of the owner's in the state that a deed asks for."""
    standards = make_standards(admin)
    batch, run = make_batch(owner), make_run(owner, standards[0])
    makers = {
        "draft": lambda: make_roll(owner, batch, standards),
        "read": lambda: make_read_roll(owner, batch, standards, run=run),
        "submitted": lambda: make_submitted_roll(owner, batch, standards, run=run),
        "accepted": lambda: make_accepted_roll(owner, admin, batch, standards, run=run),
    }
    return lambda state: makers[state]()


def said(message: str, page) -> bool:
    """Whether a page shows these words; it may begin them with a capital letter."""
    shown = html.unescape(re.sub(r"<[^>]+>", " ", page.content.decode()))
    return " ".join(message.split()).casefold() in " ".join(shown.split()).casefold()


def state_of_the_lab() -> tuple:
    rolls = tuple(Roll.objects.values_list("pk", "state", "notes", "run_id", "control_override_reason"))
    return rolls, Reading.objects.count(), AuditRecord.objects.exclude(action="issue token").count()


@pytest.mark.parametrize("name", DEEDS)
def test_the_same_deed_meets_the_same_words(request, client_for, things, name):
    deed = DEEDS[name]
    roll, person = things(deed.thing), request.getfixturevalue(deed.who)
    before = state_of_the_lab()
    refusal = Script(person).refused(deed.method, deed.path.format(roll.pk), deed.body, status=deed.status)
    assert refusal["code"] == deed.code
    args = [roll.pk, 1] if deed.strip else [roll.pk]
    page = client_for(person).post(reverse(deed.page, args=args), deed.form, follow=True)
    # Behind a redirect the page shows how the thing stands now; a form that is shown again says 400.
    assert page.redirect_chain or page.status_code in (deed.status, 400)
    told = [problem["message"] for problem in refusal.get("problems", [])] or [refusal["message"]]
    assert all(said(message, page) for message in told), told
    assert state_of_the_lab() == before


FILES = {
    "letters in numbers": b"step,density\n1,0.2x\n2,0.3\n3,abc\n",
    "a step that the tablet has not": b"step,density\n1,0.2\n2,0.3\n99,0.4\n",
    "the same reading twice": b"step,replicate,density\n1,1,0.2\n1,1,0.3\n2,1,0.4\n",
    "nothing": b"",
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(60),
    "too large": b"step,density\n" + b"1,0.2\n" * 400_000,
}


@pytest.mark.parametrize("name", FILES)
def test_a_faulty_file_has_the_same_faults(client_for, owner, things, name):
    roll = things("draft")
    file = SimpleUploadedFile("roll.csv", FILES[name], content_type="text/csv")
    refusal = Script(owner).refused(
        "post",
        f"rolls/{roll.pk}/strips/1/readings-file/",
        {"file": file, "commit": "true"},
        status=400,
        form=True,
    )
    file.seek(0)
    page = client_for(owner).post(reverse("roll_import", args=[roll.pk, 1]), {"file": file})
    assert page.status_code == 400
    assert said(refusal["message"], page)
    assert refusal["field"] == "file"
    assert all(said(problem["message"], page) for problem in refusal["problems"][:20])
    assert not Reading.objects.exists()
    assert not roll.strips.get().staged_imports.exists()


def test_a_standard_in_force_is_edited_on_neither_side(client_for, admin, things):
    revision = things("draft").process_revision
    refusal = Script(admin).refused(
        "patch", f"process-revisions/{revision.pk}/", {"temperature_c": 21}, status=409
    )
    address = reverse("process_revision_edit", args=[revision.standard_id, revision.number])
    page = client_for(admin).get(address)
    assert page.status_code == 409
    assert said(refusal["message"], page)
    assert refusal["code"] == "wrong_state"


def test_every_fault_of_an_instrument_is_told_on_both_sides(client_for, admin):
    faulty = {
        "name": "",
        "kind": "densitometer",
        "density_type": "visual",
        "geometry": "diffuse",
        "aperture_mm": 900,
        "reading_sd": 7,
    }
    refusal = Script(admin).refused("post", "instruments/", faulty, status=400)
    assert {problem["field"] for problem in refusal["problems"]} == {"name", "aperture_mm", "reading_sd"}
    # The page's own form asks for the name first; the service tells the rest of it.
    page = client_for(admin).post(reverse("instrument_new"), faulty | {"name": "Bench"})
    assert page.status_code == 400
    assert all(
        said(problem["message"], page) for problem in refusal["problems"] if problem["field"] != "name"
    )
    assert not Instrument.objects.exists()


def test_a_run_that_cannot_have_happened_is_refused_in_the_same_words(client_for, owner, things):
    revision = things("draft").process_revision
    body = {
        "revision_id": revision.pk,
        "ran_on": "2026-05-04",
        "temperature_start_c": 200,
        "development_time_s": 510,
    }
    refusal = Script(owner).refused("post", "process-runs/", body, status=400)
    assert refusal["field"] == "temperature_start_c"
    form = body | {"development_time_s": "8:30", "films_through": 0}
    page = client_for(owner).post(reverse("run_new"), form)
    assert page.status_code == 400
    assert said(refusal["message"], page)


def test_a_stock_of_the_same_name_is_refused_in_the_same_words(client_for, owner, things):
    stock = things("draft").batch.stock
    body = {"name": stock.name, "maker": stock.maker, "box_speed": 100}
    refusal = Script(owner).refused("post", "stocks/", body, status=400)
    page = client_for(owner).post(reverse("stock_new"), body | {"sensitisation": "panchromatic"})
    assert page.status_code == 400
    assert said(refusal["message"], page)
