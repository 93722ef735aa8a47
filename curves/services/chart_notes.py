"""Notes on control charts: what happened on a day."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from curves.models import ChartNote, ProcessRevision, RevisionState
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotFound


@transaction.atomic
def add_chart_note(
    *, actor, process_revision_id: int | None, noted_on: date, text: str, kind: str = ChartNote.Kind.OTHER
) -> ChartNote:
    """Keep what happened on a day, such as a thermometer that was checked."""
    require_member(actor)
    revisions = ProcessRevision.objects.exclude(state=RevisionState.DRAFT)
    revision = revisions.filter(pk=process_revision_id).first()
    if revision is None:
        raise NotFound("There is no such process revision.")
    if not text.strip():
        raise InvalidInput("Say what happened.", field="text")
    note = ChartNote(process_revision=revision, noted_on=noted_on, kind=kind, text=text.strip(), author=actor)
    is_to_come = noted_on > timezone.localdate()
    problems = ({"field": "noted_on", "message": "This day is still to come."},) if is_to_come else ()
    check_fields(note, "noted_on", "kind", "text", also=problems)
    note.save()
    record_audit(
        actor=actor,
        action="note on control chart",
        subject=note,
        after={"noted_on": str(noted_on), "text": note.text},
    )
    return note
