"""Two admins at once: one revision in force, numbers given once, and words instead of a fault.

Real threads with connections of their own: on SQLite its one writer keeps them apart, on PostgreSQL the
lock on the standard's row does.
"""

import threading

import pytest
from django.db import connection

from curves.models import HouseReference, ProcessRevision, RevisionState
from curves.services import standards
from curves.services.processes import PROCESSES
from curves.services.references import appoint_reference
from curves.services.standards import edit_draft, put_in_force, revise_standard
from labsite.common.errors import LabError, WrongState
from tests.factories.standards import draft_process, make_exposure, make_process
from tests.factories.standing import result_row, stock_row


def at_once(*acts):
    """Run each act in a thread of its own, all let go together; return results and refusals."""
    outcomes, gate = [None] * len(acts), threading.Barrier(len(acts))

    def run(index, act):
        try:
            gate.wait(timeout=10)
            outcomes[index] = act()
        except LabError as refusal:
            outcomes[index] = refusal
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(index, act)) for index, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return outcomes


def second_draft(admin, first, number, temperature_c):
    """A draft beside others, as no service makes it: the rule against it is not what is tested here."""
    values = PROCESSES.values_of(first) | {"temperature_c": temperature_c}
    return ProcessRevision.objects.create(standard=first.standard, number=number, created_by=admin, **values)


@pytest.mark.django_db(transaction=True)
def test_two_drafts_put_in_force_at_once_leave_one_in_force(admin):
    first = make_process(admin)
    drafts = [second_draft(admin, first, 2, 21.0), second_draft(admin, first, 3, 22.0)]
    outcomes = at_once(
        *(
            lambda draft=draft: put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk)
            for draft in drafts
        )
    )
    assert all(isinstance(outcome, ProcessRevision | WrongState) for outcome in outcomes), outcomes
    states = ProcessRevision.objects.values_list("state", flat=True)
    assert list(states).count(RevisionState.IN_FORCE) == 1
    first.refresh_from_db()
    assert first.state == RevisionState.SUPERSEDED


@pytest.mark.django_db(transaction=True)
def test_one_draft_put_in_force_twice_at_once_is_put_once(admin):
    draft = draft_process(admin)
    act = lambda: put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk)  # noqa: E731
    outcomes = at_once(act, act)
    assert sorted(type(outcome).__name__ for outcome in outcomes) == ["ProcessRevision", "WrongState"]


@pytest.mark.django_db(transaction=True)
def test_a_draft_is_either_edited_first_or_not_at_all(admin):
    draft = draft_process(admin)
    enforced, edited = at_once(
        lambda: put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk),
        lambda: edit_draft(kind=PROCESSES, actor=admin, revision_id=draft.pk, temperature_c=24.0),
    )
    draft.refresh_from_db()
    assert isinstance(enforced, ProcessRevision)
    assert draft.temperature_c == (20.0 if isinstance(edited, WrongState) else 24.0)


@pytest.mark.django_db(transaction=True)
def test_two_revisions_begun_at_once_are_one_draft(admin):
    first = make_process(admin)

    def revise():
        return revise_standard(
            kind=PROCESSES, actor=admin, standard_id=first.standard_id, change_note="warmer"
        )

    outcomes = at_once(revise, revise)
    assert sorted(type(outcome).__name__ for outcome in outcomes) == ["ProcessRevision", "WrongState"]
    assert sorted(first.standard.revisions.values_list("number", flat=True)) == [1, 2]


@pytest.mark.django_db(transaction=True)
def test_two_references_appointed_at_once_leave_one_standing(admin):
    process, exposure = make_process(admin), make_exposure(admin)
    stocks = [stock_row(admin, "Aldermoor 100"), stock_row(admin, "Brackenhill 125")]
    for stock in stocks:
        result_row(stock, process, exposure)
    outcomes = at_once(
        *(
            lambda stock=stock: appoint_reference(
                actor=admin,
                stock_id=stock.pk,
                process_revision_id=process.pk,
                exposure_revision_id=exposure.pk,
            )
            for stock in stocks
        )
    )
    assert all(isinstance(outcome, HouseReference) for outcome in outcomes), outcomes
    assert HouseReference.objects.filter(ended_at__isnull=True).count() == 1
    assert HouseReference.objects.count() == 2


def test_whatever_gets_past_the_lock_meets_the_constraint_and_is_told_in_words(admin, monkeypatch):
    first = make_process(admin)
    draft = second_draft(admin, first, 2, 21.0)
    # As if the revision in force had come into force after it was looked for.
    monkeypatch.setattr(standards, "_supersede", lambda standing, now: None)
    with pytest.raises(WrongState, match="was put in force meanwhile"):
        put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk)
    draft.refresh_from_db()
    first.refresh_from_db()
    assert (first.state, draft.state) == (RevisionState.IN_FORCE, RevisionState.DRAFT)
