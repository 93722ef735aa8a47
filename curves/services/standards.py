"""The life of everything that is kept in revisions: draft, in force, superseded, one way only.

What a kind fixes is said in ``processes``, ``exposures`` and ``tablets``; the verbs are here, once. A
standard has at most one revision in force and at most one draft; every verb locks the standard's row
first, so that numbers and states are decided one after the other.
"""

import hashlib
import json

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models, transaction
from django.utils import timezone

from curves.models import RevisionState
from curves.models.revisions import Revision
from curves.services.standard_kinds import StandardKind, Values, refusal_of, refused_on_conflict
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import change_fields, check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState


@transaction.atomic
def create_standard(*, kind: StandardKind, actor, name: str, about: str = "", **values) -> Revision:
    """Keep a new standard under a name, and return its first revision, a draft."""
    require_admin(actor)
    standard = kind.standard_model(name=name.strip(), created_by=actor, **{kind.about: about.strip()})
    draft = _new_draft(kind, standard, actor, number=1)
    values = _completed(kind, draft, values)
    problems = _name_problems(kind, standard) + kind.problems(draft, values)
    check_fields(standard, "name", kind.about, also=tuple(problems))
    with refused_on_conflict(_taken(kind)):
        standard.save()
    setattr(draft, kind.link, standard)
    kind.save(draft, values)
    record_audit(
        actor=actor,
        action=f"create {kind.noun}",
        subject=standard,
        after={"name": standard.name, kind.about: about.strip(), **values},
    )
    return draft


@transaction.atomic
def rename_standard(*, kind: StandardKind, actor, standard_id: int, name: str, about: str = ""):
    """Change a standard's name and what is said about it; what it fixes stays in its revisions."""
    require_admin(actor)
    standard = _locked_standard(kind, standard_id)
    problems = _name_problems(kind, standard, name=name.strip())
    if problems:
        raise refusal_of(problems)
    with refused_on_conflict(_taken(kind)):
        before, after = change_fields(standard, **{"name": name, kind.about: about})
    if after:
        record_audit(actor=actor, action=f"rename {kind.noun}", subject=standard, before=before, after=after)
    return standard


@transaction.atomic
def revise_standard(*, kind: StandardKind, actor, standard_id: int, change_note: str) -> Revision:
    """Begin a change: a draft with the next number, copied from the newest revision."""
    require_admin(actor)
    standard = _locked_standard(kind, standard_id)
    newest = _revisions_of(kind, standard).order_by("-number").first()
    if newest is None:
        raise NotFound(f"{standard} has no {kind.revision_noun} to start from.")
    if newest.is_editable:
        raise WrongState(f"{newest} is a draft already. Edit it, or discard it first.")
    if not change_note.strip():
        raise InvalidInput("Say what is going to change, and why.", field="change_note")
    draft = _new_draft(kind, standard, actor, number=newest.number + 1)
    draft.change_note = change_note.strip()
    values = kind.values_to_revise(newest)
    kind.set_values(draft, values)
    kind.save(draft, values)
    record_audit(
        actor=actor,
        action=f"revise {kind.noun}",
        subject=draft,
        after={"copied_from": newest.number},
        reason=change_note,
    )
    return draft


@transaction.atomic
def edit_draft(
    *,
    kind: StandardKind,
    actor,
    revision_id: int,
    change_note: str | None = None,
    seen: str | None = None,
    **values,
) -> Revision:
    """Change the given values of a draft; a revision in force, or one that was, is refused.

    ``seen`` is the fingerprint of the draft that the person had before them: a draft that somebody else
    changed meanwhile is refused too.
    """
    require_admin(actor)
    draft = _locked_draft(kind, revision_id, seen)
    before = kind.values_of(draft) | {"change_note": draft.change_note}
    if change_note is not None:
        draft.change_note = change_note.strip()
    values = _completed(kind, draft, values)
    problems = kind.problems(draft, values)
    if problems:
        raise refusal_of(problems)
    kind.save(draft, values)
    after = values | {"change_note": draft.change_note}
    changed = [name for name in after if before[name] != after[name]]
    if changed:
        record_audit(
            actor=actor,
            action=f"edit {kind.noun} draft",
            subject=draft,
            before={name: before[name] for name in changed},
            after={name: after[name] for name in changed},
        )
    return draft


@transaction.atomic
def put_in_force(*, kind: StandardKind, actor, revision_id: int, seen: str | None = None) -> Revision:
    """Fix a draft for good; the revision in force before is superseded, and results stay with theirs."""
    require_admin(actor)
    draft = _locked_draft(kind, revision_id, seen)
    values = kind.values_of(draft)
    problems = kind.problems(draft, values)
    if problems:
        raise refusal_of(problems)
    kind.refuse_unready(draft)
    standing = _revisions_of(kind, kind.standard_of(draft)).filter(state=RevisionState.IN_FORCE).first()
    if standing is not None and kind.values_of(standing) == values:
        raise WrongState(f"{draft} says just what {standing} says. Edit it first, or discard it.")
    now = timezone.now()
    _supersede(standing, now)
    draft.state, draft.in_force_at = RevisionState.IN_FORCE, now
    # The lock keeps services apart; whatever gets past it meets the constraint.
    with refused_on_conflict(
        WrongState(
            f"Another {kind.revision_noun} of {kind.standard_of(draft)} was put in force meanwhile. "
            "Look at it before you go on."
        )
    ):
        draft.save(update_fields=["state", "in_force_at"])
    record_audit(
        actor=actor,
        action=f"put {kind.noun} in force",
        subject=draft,
        before={"in_force": standing.number if standing else None},
        after={"in_force": draft.number, **values},
        reason=draft.change_note,
    )
    return draft


@transaction.atomic
def discard_draft(*, kind: StandardKind, actor, revision_id: int) -> None:
    """Drop a draft that will not be wanted; the history keeps what it said."""
    require_admin(actor)
    draft = _locked_draft(kind, revision_id, seen=None)
    standard = kind.standard_of(draft)
    if not _revisions_of(kind, standard).exclude(pk=draft.pk).exists():
        raise WrongState(f"{draft} is all there is of {standard}; edit it instead.")
    record_audit(
        actor=actor,
        action=f"discard {kind.noun} draft",
        subject=draft,
        before=kind.values_of(draft),
        reason=draft.change_note,
    )
    draft.delete()


def fingerprint_of(*, kind: StandardKind, revision: Revision) -> str:
    """Return what a page hands back as ``seen``, so that nobody decides on what they have not read."""
    stated = [revision.pk, revision.change_note, kind.values_of(revision)]
    text = json.dumps(stated, cls=DjangoJSONEncoder, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _revisions_of(kind: StandardKind, standard: models.Model):
    return kind.revision_model.objects.filter(**{kind.link: standard})


def _new_draft(kind: StandardKind, standard: models.Model, actor, *, number: int) -> Revision:
    return kind.revision_model(**{kind.link: standard}, created_by=actor, number=number)


def _completed(kind: StandardKind, revision: Revision, given: Values) -> Values:
    """Return the revision's values with the given ones in their place, texts trimmed."""
    own = kind.values_of(revision)
    unknown = set(given) - set(own)
    if unknown:
        raise TypeError(f"{kind.noun} has no {', '.join(sorted(unknown))}")
    trimmed = {name: value.strip() if isinstance(value, str) else value for name, value in given.items()}
    return own | trimmed


def _locked_standard(kind: StandardKind, standard_id: int | None) -> models.Model:
    standard = kind.standard_model.objects.select_for_update().filter(pk=standard_id).first()
    if standard is None:
        raise NotFound(f"There is no such {kind.noun}.")
    return standard


def _locked_draft(kind: StandardKind, revision_id: int, seen: str | None) -> Revision:
    """Lock the standard, then read the draft: its state counts as of now, not as of the click."""
    revisions = kind.revision_model.objects.filter(pk=revision_id)
    _locked_standard(kind, revisions.values_list(f"{kind.link}_id", flat=True).first())
    draft = revisions.select_related(kind.link).first()
    if draft is None:
        raise NotFound(f"There is no such {kind.revision_noun}; the draft was discarded.")
    if not draft.is_editable:
        raise WrongState(
            f"{draft} is {draft.get_state_display()} and can't be changed any more. "
            f"Revise the {kind.noun}: that makes a new draft, copied from it."
        )
    if seen is not None and seen != fingerprint_of(kind=kind, revision=draft):
        raise WrongState(
            f"{draft} was changed by somebody else after you opened it. Nothing was saved; look at it again.",
            code="changed_meanwhile",
        )
    return draft


def _supersede(standing: Revision | None, now) -> None:
    if standing is not None:
        standing.state, standing.superseded_at = RevisionState.SUPERSEDED, now
        standing.save(update_fields=["state", "superseded_at"])


def _name_problems(kind: StandardKind, standard: models.Model, *, name: str | None = None) -> list[dict]:
    wanted = standard.name if name is None else name
    if kind.standard_model.objects.filter(name__iexact=wanted).exclude(pk=standard.pk).exists():
        return [{"field": "name", "message": _taken(kind).message}]
    return []


def _taken(kind: StandardKind) -> InvalidInput:
    return InvalidInput(f"There is a {kind.noun} of this name already. Choose another.", field="name")
