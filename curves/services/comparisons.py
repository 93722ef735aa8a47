"""Keeping comparisons: saving one by name, renaming, deleting; freezing one for good; the lab's margins."""

import hashlib
import secrets

from django.db import transaction

from curves.models import EquivalenceMargins, FrozenComparison, PooledAnalysis, SavedComparison
from curves.queries.comparison_document import document_csv
from curves.sensitometry import ENGINE_VERSION
from curves.services.standard_kinds import refused_on_conflict
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

# No letters or digits that are taken for one another when a link is typed from paper.
ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
CODE_LENGTH = 8
LONGEST_NAME, LONGEST_TITLE, LONGEST_QUERY = 80, 120, 2000
WIDEST = {"speed_stops": 2.0, "contrast_share": 0.5, "shape_density": 0.5}


@transaction.atomic
def save_comparison(*, actor, name: str, query: str) -> SavedComparison:
    """Keep an address of the Compare page under a name of the member's own."""
    require_member(actor)
    if len(query) > LONGEST_QUERY:
        raise InvalidInput("This comparison is too long to be saved; choose fewer stocks.", field="query")
    name = _checked_name(actor, name)
    with refused_on_conflict(_taken(name)):
        saved = SavedComparison.objects.create(owner=actor, name=name, query=query)
    record_audit(actor=actor, action="save comparison", subject=saved, after={"name": name, "query": query})
    return saved


@transaction.atomic
def rename_comparison(*, actor, comparison_id: int, name: str) -> SavedComparison:
    """Give a saved comparison of one's own another name."""
    saved = _own(actor, comparison_id)
    name = _checked_name(actor, name, but=saved.pk)
    before = saved.name
    saved.name = name
    with refused_on_conflict(_taken(name)):
        saved.save(update_fields=["name", "changed_at"])
    record_audit(
        actor=actor, action="rename comparison", subject=saved, before={"name": before}, after={"name": name}
    )
    return saved


@transaction.atomic
def delete_comparison(*, actor, comparison_id: int) -> None:
    """Delete a saved comparison of one's own; the results that it showed stay."""
    saved = _own(actor, comparison_id)
    record_audit(
        actor=actor,
        action="delete comparison",
        subject=saved,
        before={"name": saved.name, "query": saved.query},
    )
    saved.delete()


@transaction.atomic
def freeze_comparison(*, actor, title: str, query: str, pair_ids: dict, document: dict) -> FrozenComparison:
    """Keep a comparison's document as it is now, for citing: nothing newer changes it."""
    require_member(actor)
    title = " ".join(title.split())
    if not title or len(title) > LONGEST_TITLE:
        raise InvalidInput(f"Give a title of 1 to {LONGEST_TITLE} characters.", field="title")
    if not document["stocks"]:
        raise InvalidInput("There is nothing to freeze: no stock has a result here.", field="title")
    if len(query) > LONGEST_QUERY:
        raise InvalidInput("This comparison is too long to be frozen; choose fewer stocks.", field="query")
    pinned = PooledAnalysis.objects.filter(pk__in=[stock["result"] for stock in document["stocks"]])
    table = document_csv(document)
    frozen = FrozenComparison.objects.create(
        code="".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH)),
        title=title,
        query=query,
        **pair_ids,
        document=document,
        table=table,
        digest=hashlib.sha256(table.encode()).hexdigest(),
        engine_version=ENGINE_VERSION,
        frozen_by=actor,
    )
    frozen.results.set(pinned)
    record_audit(
        actor=actor,
        action="freeze comparison",
        subject=frozen,
        after={"code": frozen.code, "digest": frozen.digest, "results": sorted(pinned_ids(document))},
    )
    return frozen


def pinned_ids(document: dict) -> set[int]:
    """Return the results that a document was made from."""
    return {stock["result"] for stock in document["stocks"]}


@transaction.atomic
def set_margins(*, actor, reason: str = "", **widths: float) -> EquivalenceMargins:
    """Set how far stocks may differ and still count as the same; earlier margins are kept as history."""
    require_admin(actor)
    problems = [
        {"field": name, "value": widths[name], "message": f"Give a width above 0, and at most {most:g}."}
        for name, most in WIDEST.items()
        if not 0 < widths[name] <= most
    ]
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))
    before = EquivalenceMargins.objects.first()
    if before is not None and all(getattr(before, name) == width for name, width in widths.items()):
        raise WrongState("These margins are in force already.")
    margins = EquivalenceMargins.objects.create(**widths, reason=reason.strip(), set_by=actor)
    record_audit(
        actor=actor,
        action="set equivalence margins",
        subject=margins,
        before={name: getattr(before, name) for name in WIDEST} if before else None,
        after=widths,
        reason=reason,
    )
    return margins


def _own(actor, comparison_id: int) -> SavedComparison:
    require_member(actor)
    saved = SavedComparison.objects.select_for_update(of=("self",)).filter(pk=comparison_id).first()
    if saved is None:
        raise NotFound("There is no such saved comparison.")
    if saved.owner_id != actor.pk:
        raise NotAllowed("Only whoever saved a comparison may change it. Save it under a name of your own.")
    return saved


def _checked_name(actor, name: str, but: int | None = None) -> str:
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_NAME:
        raise InvalidInput(f"Give a name of 1 to {LONGEST_NAME} characters.", field="name")
    if SavedComparison.objects.filter(owner=actor, name=name).exclude(pk=but).exists():
        raise _taken(name)
    return name


def _taken(name: str) -> InvalidInput:
    return InvalidInput(f"You have a comparison named “{name}” already.", field="name")
