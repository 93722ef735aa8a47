"""Prices of films: any member enters what was paid; a wrong one is struck out with the reason, and kept."""

from datetime import date, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from curves.models import FilmStock, PriceEntry, PriceKind
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import is_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

MOST_FRAMES = 10_000
MOST_USES = 1000
NEEDED = {
    PriceKind.PACK: ("frames_per_roll",),
    PriceKind.BULK: ("length_m", "frames_per_metre", "frames_per_roll", "loss_m"),
    PriceKind.SHEETS: (),
}
MISSING = {
    "frames_per_roll": "Say how many frames a roll has.",
    "length_m": "Give the length of the bulk roll in metres.",
    "frames_per_metre": "Say how many frames a metre has.",
    "loss_m": "Say how much film each roll loses to leader and trailer, in metres; 0 for none.",
}
BULK_ONLY = ("length_m", "frames_per_metre", "loss_m", "cassette_price")


@transaction.atomic
def enter_price(
    *,
    actor,
    stock_id: int,
    kind: str,
    film_format: str,
    price: Decimal,
    currency: str,
    priced_on: date,
    source: str,
    count: int | None = None,
    frames_per_roll: int | None = None,
    length_m: Decimal | None = None,
    frames_per_metre: Decimal | None = None,
    loss_m: Decimal | None = None,
    cassette_price: Decimal | None = None,
    cassette_uses: int | None = None,
) -> PriceEntry:
    """Enter what a stock cost in one form on a day; earlier prices stay."""
    require_member(actor)
    stock = FilmStock.objects.filter(pk=stock_id).first()
    if stock is None:
        raise NotFound("There is no such stock.")
    entry = PriceEntry(
        stock=stock,
        kind=kind,
        film_format=" ".join(film_format.split()),
        price=price,
        currency=currency.strip().upper(),
        priced_on=priced_on,
        source=" ".join(source.split()),
        count=1 if count is None else count,
        frames_per_roll=frames_per_roll,
        length_m=length_m,
        frames_per_metre=frames_per_metre,
        loss_m=loss_m,
        cassette_price=cassette_price,
        cassette_uses=1 if cassette_uses is None else cassette_uses,
        entered_by=actor,
    )
    _check(entry)
    entry.save()
    record_audit(
        actor=actor,
        action="enter price",
        subject=entry,
        after={"stock": str(stock), "price": str(entry), "priced_on": str(priced_on), "source": entry.source},
    )
    return entry


@transaction.atomic
def strike_price(*, actor, price_id: int, reason: str, stock_id: int | None = None) -> PriceEntry:
    """Strike a price out, so that it counts no more; its own member or an admin may."""
    require_member(actor)
    found = PriceEntry.objects.select_for_update(of=("self",)).filter(pk=price_id)
    entry = (found if stock_id is None else found.filter(stock_id=stock_id)).first()
    if entry is None:
        raise NotFound("There is no such price.")
    if entry.entered_by_id != actor.pk and not is_admin(actor):
        raise NotAllowed(f"Only {entry.entered_by}, who entered it, or an admin may strike this price out.")
    if entry.is_struck:
        raise WrongState("This price is struck out already.")
    if not reason.strip():
        raise InvalidInput("Say what is wrong with it.", field="reason")
    entry.struck_at, entry.struck_by, entry.strike_reason = timezone.now(), actor, reason.strip()
    entry.save(update_fields=["struck_at", "struck_by", "strike_reason"])
    record_audit(
        actor=actor, action="strike price", subject=entry, before={"price": str(entry)}, reason=reason
    )
    return entry


def _check(entry: PriceEntry) -> None:
    """Tell all that is wrong with a price at once; what its form does not use must be empty."""
    if entry.kind not in PriceKind.values:
        raise InvalidInput("Choose rolls, a bulk roll or sheets.", field="kind")
    problems = [*_missing(entry), *_unused(entry), *_unlikely(entry)]
    told = {problem["field"] for problem in problems}
    checked = (
        "film_format",
        "price",
        "currency",
        "source",
        "length_m",
        "frames_per_metre",
        "loss_m",
        "cassette_price",
    )
    check_fields(entry, *(name for name in checked if name not in told), also=tuple(problems))
    if entry.frames == 0:
        raise InvalidInput(
            "This bulk roll is too short for a single roll of that many frames.", field="length_m"
        )


def _missing(entry: PriceEntry) -> list[dict]:
    words = {
        "film_format": "Give the format, such as 35 mm.",
        "source": "Say in a few words where it is from.",
    }
    missing = [_problem(name, text) for name, text in words.items() if not getattr(entry, name)]
    needed = NEEDED[entry.kind]
    return missing + [_problem(name, MISSING[name]) for name in needed if getattr(entry, name) is None]


def _unused(entry: PriceEntry) -> list[dict]:
    unused = [name for name in BULK_ONLY if entry.kind != PriceKind.BULK and getattr(entry, name) is not None]
    problems = [_problem(name, "This is for a bulk roll only; leave it empty.") for name in unused]
    if entry.kind == PriceKind.SHEETS and entry.frames_per_roll is not None:
        problems.append(_problem("frames_per_roll", "Sheets are not on a roll; leave this empty."))
    return problems


def _unlikely(entry: PriceEntry) -> list[dict]:
    rules = {
        "priced_on": (
            entry.priced_on <= timezone.localdate() + timedelta(days=1),
            "This day is still to come; give the day of the price.",
        ),
        "count": (0 < entry.count <= MOST_FRAMES, f"Give a count from 1 to {MOST_FRAMES}."),
        "frames_per_roll": (
            entry.frames_per_roll is None or 0 < entry.frames_per_roll <= MOST_FRAMES,
            f"Give a number of frames from 1 to {MOST_FRAMES}.",
        ),
        "length_m": (entry.length_m is None or entry.length_m > 0, "Give a length above 0 m."),
        "frames_per_metre": (
            entry.frames_per_metre is None or entry.frames_per_metre > 0,
            "Give a number above 0; 35 mm film has 26.3 frames of 24 × 36 mm to the metre.",
        ),
        "loss_m": (entry.loss_m is None or entry.loss_m >= 0, "A loss is 0 m or more."),
        "cassette_uses": (0 < entry.cassette_uses <= MOST_USES, f"Give 1 to {MOST_USES} uses."),
    }
    return [_problem(name, text) for name, (is_good, text) in rules.items() if not is_good]


def _problem(field: str, message: str) -> dict:
    return {"field": field, "message": message}
