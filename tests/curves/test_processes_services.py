"""Process standards: what a revision may say, and its one way from draft to superseded."""

import math

import pytest

from curves.models import ProcessRevision, ProcessStandard, RevisionState
from curves.services.processes import PROCESSES
from curves.services.standards import (
    create_standard,
    discard_draft,
    edit_draft,
    fingerprint_of,
    put_in_force,
    rename_standard,
    revise_standard,
)
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from tests.factories.standards import PROCESS, draft_process, make_process


def revise(admin, revision, note="warmer, as summer tap water is"):
    return revise_standard(kind=PROCESSES, actor=admin, standard_id=revision.standard_id, change_note=note)


def edit(admin, revision, **values):
    return edit_draft(kind=PROCESSES, actor=admin, revision_id=revision.pk, **values)


def enforce(admin, revision, **values):
    return put_in_force(kind=PROCESSES, actor=admin, revision_id=revision.pk, **values)


def test_a_new_standard_starts_with_a_draft_and_leaves_a_record(admin):
    draft = create_standard(
        kind=PROCESSES, actor=admin, name=" House process ", about="Everyday comparisons.", **PROCESS
    )
    assert (draft.number, draft.state, draft.created_by) == (1, RevisionState.DRAFT, admin)
    assert draft.standard.name == "House process"
    assert draft.standard.purpose == "Everyday comparisons."
    record = AuditRecord.objects.get(action="create process standard")
    assert record.after["temperature_c"] == 20.0
    assert record.subject_label == "House process"


def test_putting_in_force_fixes_the_revision(admin):
    revision = make_process(admin)
    assert revision.state == RevisionState.IN_FORCE
    assert revision.in_force_at is not None
    with pytest.raises(WrongState, match=r"is in force and can't be changed any more\. Revise the process"):
        edit(admin, revision, temperature_c=21.0)
    revision.refresh_from_db()
    assert revision.temperature_c == 20.0


def test_a_revision_is_copied_changed_and_supersedes(admin):
    first = make_process(admin, stop_bath="water, 30 s")
    second = revise(admin, first)
    assert (second.number, second.state) == (2, RevisionState.DRAFT)
    assert PROCESSES.values_of(second) == PROCESSES.values_of(first)
    assert second.change_note == "warmer, as summer tap water is"
    edit(admin, second, temperature_c=22.0)
    enforce(admin, second)
    first.refresh_from_db()
    assert first.state == RevisionState.SUPERSEDED
    assert first.superseded_at is not None
    assert first.temperature_c == 20.0
    record = AuditRecord.objects.filter(action="put process standard in force").latest("id")
    assert record.before == {"in_force": 1}
    assert record.after["in_force"] == 2
    assert record.reason == second.change_note
    with pytest.raises(WrongState, match="superseded"):
        edit(admin, first, temperature_c=21.0)


def test_there_is_one_draft_at_a_time(admin):
    first = make_process(admin)
    revise(admin, first)
    with pytest.raises(WrongState, match="revision 2 is a draft already"):
        revise(admin, first)


def test_a_change_needs_its_note(admin):
    with pytest.raises(InvalidInput) as refused:
        revise(admin, make_process(admin), note="  ")
    assert refused.value.field == "change_note"


def test_a_draft_that_changes_nothing_is_not_put_in_force(admin):
    first = make_process(admin)
    second = revise(admin, first)
    with pytest.raises(WrongState, match="says just what"):
        enforce(admin, second)
    first.refresh_from_db()
    assert first.state == RevisionState.IN_FORCE


def test_a_discarded_draft_frees_its_number(admin):
    first = make_process(admin)
    second = revise(admin, first)
    discard_draft(kind=PROCESSES, actor=admin, revision_id=second.pk)
    assert not ProcessRevision.objects.filter(pk=second.pk).exists()
    assert AuditRecord.objects.get(action="discard process standard draft").before["temperature_c"] == 20.0
    assert revise(admin, first).number == 2


def test_neither_a_revision_in_force_nor_the_only_draft_is_discarded(admin):
    only = draft_process(admin)
    with pytest.raises(WrongState, match="is all there is"):
        discard_draft(kind=PROCESSES, actor=admin, revision_id=only.pk)
    enforce(admin, only)
    with pytest.raises(WrongState, match="is in force"):
        discard_draft(kind=PROCESSES, actor=admin, revision_id=only.pk)


def test_nobody_decides_on_a_draft_that_moved_meanwhile(admin):
    draft = draft_process(admin)
    seen = fingerprint_of(kind=PROCESSES, revision=draft)
    edit(admin, draft, temperature_c=24.0, seen=seen)
    for act in (enforce, edit):
        with pytest.raises(WrongState, match="changed by somebody else") as refused:
            act(admin, draft, seen=seen)
        assert refused.value.code == "changed_meanwhile"
    draft.refresh_from_db()
    now = fingerprint_of(kind=PROCESSES, revision=draft)
    assert enforce(admin, draft, seen=now).state == RevisionState.IN_FORCE


def test_an_edit_changes_only_what_is_given_and_records_only_that(admin):
    draft = draft_process(admin)
    edit(admin, draft, agitation="  continuous  ")
    draft.refresh_from_db()
    assert draft.agitation == "continuous"
    assert draft.developer == PROCESS["developer"]
    record = AuditRecord.objects.get(action="edit process standard draft")
    assert record.after == {"agitation": "continuous"}
    edit(admin, draft, agitation="continuous")
    assert AuditRecord.objects.filter(action="edit process standard draft").count() == 1


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"temperature_c": 200.0}, "temperature_c", "10 to 45 °C; 200 can't be right"),
        ({"temperature_c": math.nan}, "temperature_c", "can't be right"),
        ({"temperature_c": None}, "temperature_c", "null"),
        ({"temperature_tolerance_c": 0.0}, "temperature_tolerance_c", "0.05 to 5"),
        ({"development_time_s": None}, "development_time_s", "Enter the developing time"),
        ({"development_time_s": 5}, "development_time_s", "10 to 7200 s"),
        ({"time_rule": "recommended"}, "development_time_s", "each stock's recommended time"),
        ({"time_rule": "aim_contrast", "development_time_s": None}, "aim_contrast", "contrast to aim at"),
        ({"aim_contrast": 0.58}, "aim_contrast", "Leave this empty"),
        ({"time_rule": "by feel"}, "time_rule", "not a valid choice"),
        ({"developer": "  "}, "developer", "blank"),
        ({"developer": "x" * 121}, "developer", "120"),
        ({"agitation": ""}, "agitation", "blank"),
    ],
)
def test_values_that_cannot_be_right_are_refused_beside_their_field(admin, values, field, words):
    with pytest.raises(InvalidInput) as refused:
        draft_process(admin, **values)
    assert [problem["field"] for problem in refused.value.problems] == [field]
    assert words in refused.value.message
    assert not ProcessStandard.objects.exists()


def test_every_faulty_value_is_told_at_once(admin):
    with pytest.raises(InvalidInput) as refused:
        draft_process(admin, name="", developer="", temperature_c=2.0)
    assert {problem["field"] for problem in refused.value.problems} == {
        "name",
        "developer",
        "temperature_c",
    }


@pytest.mark.parametrize(
    "values",
    [
        {"time_rule": "recommended", "development_time_s": None},
        {"time_rule": "aim_contrast", "development_time_s": None, "aim_contrast": 0.58},
    ],
)
def test_the_other_time_rules_need_no_fixed_time(admin, values):
    assert make_process(admin, **values).state == RevisionState.IN_FORCE


def test_names_are_unique_whatever_their_capitals(admin):
    first = draft_process(admin)
    with pytest.raises(InvalidInput, match="name already"):
        draft_process(admin, name="HOUSE process")
    other = draft_process(admin, name="Push process")
    with pytest.raises(InvalidInput, match="name already"):
        rename_standard(kind=PROCESSES, actor=admin, standard_id=other.standard_id, name="house process")
    renamed = rename_standard(
        kind=PROCESSES, actor=admin, standard_id=first.standard_id, name="House Process", about="Daily."
    )
    assert (renamed.name, renamed.purpose) == ("House Process", "Daily.")


@pytest.mark.parametrize(
    "act",
    [
        lambda person, draft: draft_process(person, name="Another"),
        lambda person, draft: edit(person, draft, agitation="none"),
        enforce,
        revise,
        lambda person, draft: discard_draft(kind=PROCESSES, actor=person, revision_id=draft.pk),
        lambda person, draft: rename_standard(
            kind=PROCESSES, actor=person, standard_id=draft.standard_id, name="Mine"
        ),
    ],
    ids=["create", "edit", "put in force", "revise", "discard", "rename"],
)
def test_only_admins_decide(admin, owner, stranger, visitor, act):
    draft = draft_process(admin)
    history = AuditRecord.objects.count()
    for person in (owner, stranger, visitor):
        with pytest.raises(NotAllowed):
            act(person, draft)
    draft.refresh_from_db()
    assert (draft.state, draft.agitation) == (RevisionState.DRAFT, PROCESS["agitation"])
    assert AuditRecord.objects.count() == history


def test_what_is_not_there_is_not_found(admin):
    with pytest.raises(NotFound):
        put_in_force(kind=PROCESSES, actor=admin, revision_id=999)
    with pytest.raises(NotFound):
        revise_standard(kind=PROCESSES, actor=admin, standard_id=999, change_note="why")


def test_a_value_that_the_kind_does_not_know_is_a_fault_of_the_caller(admin):
    with pytest.raises(TypeError, match="colour"):
        draft_process(admin, colour="sepia")
