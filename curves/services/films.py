"""Film stocks and batches: any member may enter what they bought; the history says who did."""

from datetime import date

from django.db import transaction

from curves.models import Batch, FilmStock
from curves.models.films import Sensitisation
from curves.services.fitting import request_fits_of_undecided
from curves.services.standard_kinds import refused_on_conflict
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotFound

FASTEST_BOX_SPEED = 25_600
LONGEST_FORMAT = 40
DESCRIBED = (
    "name",
    "maker",
    "box_speed",
    "formats",
    "sensitisation",
    "base_material",
    "is_in_production",
    "notes",
)


@transaction.atomic
def add_stock(
    *,
    actor,
    name: str,
    maker: str,
    box_speed: int,
    formats: list[str] | None = None,
    sensitisation: str = Sensitisation.PANCHROMATIC,
    base_material: str = "",
    is_in_production: bool = True,
    notes: str = "",
) -> FilmStock:
    """Enter a film stock; its name and maker together are unique in the lab."""
    require_member(actor)
    stock = FilmStock(created_by=actor)
    _fill(stock, name, maker, box_speed, formats, sensitisation, base_material, is_in_production, notes)
    with refused_on_conflict(_taken(stock)):
        stock.save()
    record_audit(actor=actor, action="add stock", subject=stock, after=_described(stock))
    return stock


@transaction.atomic
def edit_stock(
    *,
    actor,
    stock_id: int,
    name: str,
    maker: str,
    box_speed: int,
    formats: list[str] | None = None,
    sensitisation: str = Sensitisation.PANCHROMATIC,
    base_material: str = "",
    is_in_production: bool = True,
    notes: str = "",
) -> FilmStock:
    """Correct what is said about a stock; results keep the readings they rest on.

    Another box speed is other input for the fits of rolls that are not decided on, so these are fitted
    again. Accepted results stay as they were accepted.
    """
    require_member(actor)
    stock = FilmStock.objects.select_for_update().filter(pk=stock_id).first()
    if stock is None:
        raise NotFound("There is no such stock.")
    old = _described(stock)
    _fill(stock, name, maker, box_speed, formats, sensitisation, base_material, is_in_production, notes)
    new = _described(stock)
    changed = [field for field in DESCRIBED if old[field] != new[field]]
    if not changed:
        return stock
    with refused_on_conflict(_taken(stock)):
        stock.save(update_fields=changed)
    record_audit(
        actor=actor,
        action="edit stock",
        subject=stock,
        before={field: old[field] for field in changed},
        after={field: new[field] for field in changed},
    )
    if "box_speed" in changed:
        request_fits_of_undecided(requested_by=actor, batch__stock=stock)
    return stock


@transaction.atomic
def add_batch(
    *,
    actor,
    stock_id: int,
    emulsion_number: str,
    expires_on: date | None = None,
    storage: str = "",
    notes: str = "",
) -> Batch:
    """Enter a batch of a stock by the emulsion number on its box."""
    require_member(actor)
    stock = FilmStock.objects.filter(pk=stock_id).first()
    if stock is None:
        raise NotFound("There is no such stock.")
    number = emulsion_number.strip()
    if not number:
        raise InvalidInput(
            "Give the emulsion number on the box, or a name of your own for the batch.",
            field="emulsion_number",
        )
    batch = Batch(
        stock=stock,
        emulsion_number=number,
        expires_on=expires_on,
        storage=storage.strip(),
        notes=notes.strip(),
        created_by=actor,
    )
    taken = InvalidInput(f"{stock} has a batch {number} already; choose it.", field="emulsion_number")
    if stock.batches.filter(emulsion_number__iexact=number).exists():
        raise taken
    check_fields(batch, "emulsion_number", "expires_on", "storage", "notes")
    with refused_on_conflict(taken):
        batch.save()
    after = {
        "stock": str(stock),
        "expires_on": str(expires_on) if expires_on else None,
        "storage": batch.storage,
    }
    record_audit(actor=actor, action="add batch", subject=batch, after=after)
    return batch


def _fill(
    stock, name, maker, box_speed, formats, sensitisation, base_material, is_in_production, notes
) -> None:
    """Give a stock its values, or tell all that is wrong with them."""
    stock.name, stock.maker, stock.box_speed = name.strip(), maker.strip(), box_speed
    stock.formats = list(dict.fromkeys(text.strip() for text in formats or [] if text.strip()))
    stock.sensitisation = sensitisation
    stock.base_material = base_material.strip()
    stock.is_in_production = is_in_production
    stock.notes = notes.strip()
    problems = _problems(stock)
    told = {problem["field"] for problem in problems}
    check_fields(stock, *(field for field in DESCRIBED if field not in told), also=tuple(problems))


def _problems(stock: FilmStock) -> list[dict]:
    wrong = {
        "name": "" if stock.name else "Give the stock's name.",
        "maker": "" if stock.maker else "Give the maker, or “unknown”.",
        "box_speed": ""
        if 0 < stock.box_speed <= FASTEST_BOX_SPEED
        else f"Give the speed on the box, from 1 to {FASTEST_BOX_SPEED}.",
        "formats": ""
        if all(len(text) <= LONGEST_FORMAT for text in stock.formats)
        else f"A format has at most {LONGEST_FORMAT} letters; put commas between formats.",
        "sensitisation": ""
        if stock.sensitisation in Sensitisation.values
        else "Choose a sensitisation from the list.",
    }
    same = FilmStock.objects.filter(name__iexact=stock.name, maker__iexact=stock.maker).exclude(pk=stock.pk)
    if not wrong["name"] and same.exists():
        wrong["name"] = _taken(stock).message
    return [{"field": field, "message": message} for field, message in wrong.items() if message]


def _taken(stock: FilmStock) -> InvalidInput:
    return InvalidInput(f"The lab has {stock.name} by {stock.maker} already; use that entry.", field="name")


def _described(stock: FilmStock) -> dict:
    values = {field: getattr(stock, field) for field in DESCRIBED}
    return values | {"sensitisation": str(stock.sensitisation)}
