"""Film stocks and batches: any member may enter what they bought; the history says who did."""

from datetime import date

from django.db import IntegrityError, transaction

from curves.models import Batch, FilmStock
from curves.models.films import Sensitisation
from labsite.accounts.services import record_audit
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotFound

FASTEST_BOX_SPEED = 25_600


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
    _save(stock)
    record_audit(actor=actor, action="add stock", subject=stock, after=_as_audited(stock))
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
    """Correct what is said about a stock; results keep the readings they rest on."""
    require_member(actor)
    stock = FilmStock.objects.select_for_update().filter(pk=stock_id).first()
    if stock is None:
        raise NotFound("There is no such stock.")
    before = _as_audited(stock)
    _fill(stock, name, maker, box_speed, formats, sensitisation, base_material, is_in_production, notes)
    _save(stock)
    record_audit(actor=actor, action="edit stock", subject=stock, before=before, after=_as_audited(stock))
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
    if not emulsion_number.strip():
        raise InvalidInput(
            "Give the emulsion number on the box, or a name of your own for the batch.",
            field="emulsion_number",
        )
    batch = Batch(
        stock=stock,
        emulsion_number=emulsion_number.strip(),
        expires_on=expires_on,
        storage=storage.strip(),
        notes=notes.strip(),
        created_by=actor,
    )
    try:
        with transaction.atomic():
            batch.save()
    except IntegrityError:
        raise InvalidInput(
            f"{stock} has a batch {batch.emulsion_number} already; choose it.", field="emulsion_number"
        ) from None
    record_audit(actor=actor, action="add batch", subject=batch, after={"stock": str(stock)})
    return batch


def _fill(
    stock, name, maker, box_speed, formats, sensitisation, base_material, is_in_production, notes
) -> None:
    if not name.strip():
        raise InvalidInput("Give the stock's name.", field="name")
    if not maker.strip():
        raise InvalidInput("Give the maker, or 'unknown'.", field="maker")
    if not 0 < box_speed <= FASTEST_BOX_SPEED:
        raise InvalidInput(f"Give the speed on the box, from 1 to {FASTEST_BOX_SPEED}.", field="box_speed")
    if sensitisation not in Sensitisation.values:
        raise InvalidInput("Choose a sensitisation from the list.", field="sensitisation")
    stock.name, stock.maker, stock.box_speed = name.strip(), maker.strip(), box_speed
    stock.formats = [text.strip() for text in formats or [] if text.strip()]
    stock.sensitisation = sensitisation
    stock.base_material = base_material.strip()
    stock.is_in_production = is_in_production
    stock.notes = notes.strip()


def _save(stock: FilmStock) -> None:
    try:
        with transaction.atomic():
            stock.save()
    except IntegrityError:
        raise InvalidInput(
            f"The lab has {stock.name} by {stock.maker} already; use that entry.", field="name"
        ) from None


def _as_audited(stock: FilmStock) -> dict:
    return {
        "name": stock.name,
        "maker": stock.maker,
        "box_speed": stock.box_speed,
        "formats": stock.formats,
        "sensitisation": str(stock.sensitisation),
        "base_material": stock.base_material,
        "is_in_production": stock.is_in_production,
        "notes": stock.notes,
    }
