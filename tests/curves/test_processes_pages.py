"""Process standards on their pages: the way of a revision, what is refused, who sees what."""

import re

import pytest
from django.urls import reverse

from curves.models import ProcessRevision, ProcessStandard, RevisionState
from curves.services.processes import PROCESSES
from curves.services.standards import edit_draft, fingerprint_of, put_in_force, revise_standard
from labsite.accounts.models import Lab
from tests.factories.standards import draft_process, make_process

TYPED = {
    "name": "House process",
    "about": "Everyday comparisons.",
    "developer": "Hearth D",
    "dilution": "1 + 1",
    "temperature_c": "20,0",
    "temperature_tolerance_c": "0.5",
    "time_rule": "fixed",
    "development_time_s": "8:30",
    "time_tolerance_s": "10",
    "aim_contrast": "",
    "agitation": "first 30 s, then 5 s in every 30 s",
    "stop_bath": "",
    "fixer": "",
    "wash": "",
    "cautions": "Sheets in the red folder.",
}


@pytest.fixture
def open_lab(db):
    Lab.objects.update_or_create(pk=1, defaults={"is_open_to_visitors": True})


def address(name, revision):
    return reverse(name, args=[revision.standard_id, revision.number])


def test_an_admin_takes_a_standard_from_draft_to_revision(client_for, admin):
    client = client_for(admin)
    answer = client.post(reverse("process_new"), TYPED, follow=True)
    draft = ProcessRevision.objects.get()
    assert (draft.temperature_c, draft.development_time_s) == (20.0, 510)
    assert "is saved as a draft" in answer.text
    assert "8 min 30 s" in answer.text

    page = client.get(address("process_revision_enforce", draft))
    seen = re.search(r'name="seen" value="(\w+)"', page.text)[1]
    answer = client.post(address("process_revision_enforce", draft), {"seen": seen}, follow=True)
    assert "is in force. It can&#x27;t be edited any more." in answer.text

    answer = client.post(
        reverse("process_revise", args=[draft.standard_id]), {"change_note": "warmer"}, follow=True
    )
    assert "copied from the one before" in answer.text
    second = ProcessRevision.objects.get(number=2)
    seen = re.search(r'name="seen" value="(\w+)"', answer.text)[1]
    typed = {name: value for name, value in TYPED.items() if name not in ("name", "about")}
    typed |= {"temperature_c": "22", "change_note": "warmer", "seen": seen}
    answer = client.post(address("process_revision_edit", second), typed, follow=True)
    assert "it is still a draft" in answer.text

    page = client.get(address("process_revision_enforce", second))
    assert "1 changed, 11 the same" in page.text
    assert "<del>20 °C</del>" in page.text
    assert "<ins>22 °C</ins>" in page.text
    seen = re.search(r'name="seen" value="(\w+)"', page.text)[1]
    client.post(address("process_revision_enforce", second), {"seen": seen})
    draft.refresh_from_db()
    assert draft.state == RevisionState.SUPERSEDED
    assert "<ins>22 °C</ins>" in client.get(reverse("process_difference", args=[draft.standard_id])).text


def test_what_is_refused_is_shown_beside_its_field_and_nothing_typed_is_lost(client_for, admin):
    client = client_for(admin)
    wrong = TYPED | {"temperature_c": "200", "developer": "Very particular D", "development_time_s": "8"}
    answer = client.post(reverse("process_new"), wrong)
    assert answer.status_code == 400
    assert "Write minutes and seconds with a colon" in answer.text
    assert 'value="Very particular D"' in answer.text
    answer = client.post(reverse("process_new"), wrong | {"development_time_s": "8:30"})
    assert "200 can't be right" in answer.context["form"].errors["temperature_c"][0]
    assert 'value="8:30"' in answer.text
    assert not ProcessStandard.objects.exists()


def test_a_name_that_is_taken_is_refused_when_new_and_when_renamed(client_for, admin):
    first, _ = make_process(admin), make_process(admin, "Push process")
    client = client_for(admin)
    answer = client.post(reverse("process_new"), TYPED | {"name": "house process"})
    assert "of this name already" in answer.context["form"].errors["name"][0]
    rename = reverse("process_rename", args=[first.standard_id])
    answer = client.post(rename, {"name": "Push process", "about": ""})
    assert answer.status_code == 400
    answer = client.post(rename, {"name": "Daily process", "about": "For all."}, follow=True)
    assert "Daily process" in answer.text


def test_a_revision_in_force_opens_no_form(client_for, admin):
    revision = make_process(admin)
    client = client_for(admin)
    for name in ("process_revision_edit", "process_revision_enforce", "process_revision_discard"):
        answer = client.get(address(name, revision))
        assert answer.status_code == 409
        assert "Revise the process standard" in answer.text
    answer = client.post(address("process_revision_enforce", revision), {"seen": "x"})
    assert answer.status_code == 409


def test_a_draft_that_moved_meanwhile_is_not_overwritten(client_for, admin):
    draft = draft_process(admin)
    seen = fingerprint_of(kind=PROCESSES, revision=draft)
    edit_draft(kind=PROCESSES, actor=admin, revision_id=draft.pk, temperature_c=24.0)
    typed = TYPED | {"seen": seen, "change_note": "", "agitation": "my own words"}
    answer = client_for(admin).post(address("process_revision_edit", draft), typed)
    assert answer.status_code == 400
    assert "Open the draft as it is now" in answer.text
    assert "my own words" in answer.text
    answer = client_for(admin).post(address("process_revision_enforce", draft), {"seen": seen})
    assert answer.status_code == 409
    assert "changed by somebody else" in answer.text
    draft.refresh_from_db()
    assert (draft.temperature_c, draft.state) == (24.0, RevisionState.DRAFT)


def test_a_draft_is_discarded_after_asking(client_for, admin):
    first = make_process(admin)
    second = revise_standard(kind=PROCESSES, actor=admin, standard_id=first.standard_id, change_note="warmer")
    client = client_for(admin)
    assert "Discard this draft?" in client.get(address("process_revision_discard", second)).text
    client.post(address("process_revision_discard", second))
    assert ProcessRevision.objects.get() == first


def test_every_process_page_shows_the_cautions(client_for, admin, owner):
    revision = make_process(admin, cautions="Gloves for this developer in particular.")
    client = client_for(owner)
    for url in (reverse("process", args=[revision.standard_id]), address("process_revision", revision)):
        text = client.get(url).text
        assert "safety data sheet of each product, local codes and licensed practice come first" in text
        assert "Add acid to water, never water to acid." in text
        assert "Gloves for this developer in particular." in text


def test_visitors_of_an_open_lab_read_what_is_in_force_and_nothing_else(client_for, admin, visitor, open_lab):
    in_force = make_process(admin)
    draft = draft_process(admin, "Secret plan")
    newer = revise_standard(
        kind=PROCESSES, actor=admin, standard_id=in_force.standard_id, change_note="warmer"
    )
    client = client_for(visitor)
    listed = client.get(reverse("process_list")).text
    assert "House process" in listed
    assert "Secret plan" not in listed
    assert "Draft" not in listed
    assert "revision 2" not in client.get(reverse("process", args=[in_force.standard_id])).text
    assert client.get(address("process_revision", in_force)).status_code == 200
    for hidden in (draft, newer):
        assert client.get(address("process_revision", hidden)).status_code == 404
    assert client.get(reverse("process", args=[draft.standard_id])).status_code == 404


def test_visitors_of_a_closed_lab_are_asked_to_sign_in(client_for, admin, visitor):
    make_process(admin)
    answer = client_for(visitor).get(reverse("process_list"))
    assert answer.status_code == 302
    assert answer.url.startswith("/account/sign-in/?next=/control/processes/")


def test_members_read_all_and_change_nothing(client_for, admin, owner):
    in_force, draft = make_process(admin), draft_process(admin, "Push process")
    client = client_for(owner)
    listed = client.get(reverse("process_list")).text
    assert "Push process" in listed
    assert "New process standard" not in listed
    assert client.get(address("process_revision", draft)).status_code == 200
    assert "Put in force" not in client.get(address("process_revision", draft)).text
    forbidden = [
        reverse("process_new"),
        reverse("process_rename", args=[in_force.standard_id]),
        reverse("process_revise", args=[in_force.standard_id]),
        *(address(f"process_revision_{what}", draft) for what in ("edit", "enforce", "discard")),
    ]
    for url in forbidden:
        assert client.get(url).status_code == 403, url
        assert client.post(url, TYPED).status_code == 403, url


def test_the_list_filters_sorts_pages_and_exports(client_for, admin, owner):
    for number in range(52):
        make_process(admin, f"Process {number:02d}")
    draft_process(admin, "=Idea")
    client = client_for(owner)
    page = client.get(reverse("process_list"))
    assert "1 to 50 of 53" in page.text
    assert "Process 51" in client.get(reverse("process_list"), {"page": 2}).text
    assert "1 to 1 of 1" in client.get(reverse("process_list"), {"q": "process 07"}).text
    assert "1 to 1 of 1" in client.get(reverse("process_list"), {"state": "draft"}).text
    assert client.get(reverse("process_list"), {"sort": "-name"}).context["page"][0].name == "Process 51"
    assert "Nothing fits" in client.get(reverse("process_list"), {"state": "strange"}).text
    answer = client.get(reverse("process_list"), {"export": "csv", "sort": "name"})
    lines = answer.text.splitlines()
    assert lines[0] == "process standard,in force,since,draft"
    assert lines[1] == "'=Idea,,,1"
    assert len(lines) == 54


def test_queries_do_not_grow_with_the_rows(client_for, admin, owner, django_assert_max_num_queries):
    client = client_for(owner)
    for number in range(3):
        make_process(admin, f"Process {number}")
    revision = ProcessRevision.objects.get(standard__name="Process 0")
    # Session, user, lab, count, rows.
    with django_assert_max_num_queries(5):
        client.get(reverse("process_list"))
    for note in ("warmer", "cooler", "warmer again"):
        draft = revise_standard(
            kind=PROCESSES, actor=admin, standard_id=revision.standard_id, change_note=note
        )
        edit_draft(kind=PROCESSES, actor=admin, revision_id=draft.pk, agitation=f"as for {note}")
        put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk)
    # Session, user, lab, standard, revisions, safety data sheets.
    with django_assert_max_num_queries(6):
        client.get(reverse("process", args=[revision.standard_id]))
