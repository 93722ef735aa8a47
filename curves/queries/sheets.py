"""Published sheets: the versions of a stock's sheet, which of them stands, and what has come since."""

from dataclasses import dataclass

from django.db.models import Count, Max, QuerySet

from curves.models import (
    FilmStock,
    HouseReference,
    RevisionState,
    Roll,
    RollState,
    SheetVersion,
    StockResult,
)
from curves.queries.prices import newest_prices
from labsite.accounts.queries import may_read_accepted
from labsite.common.errors import NotFound

NOT_THERE = "No such sheet is published yet, or it is not open to you."


@dataclass(frozen=True)
class SheetPair:
    """A pair of standards under which a stock has a sheet."""

    key: str
    label: str
    is_in_force: bool


@dataclass(frozen=True)
class PublishedSheet:
    """One version, the others beside it, and what a reader should know that has come since."""

    stock: FilmStock
    version: SheetVersion
    versions: tuple[SheetVersion, ...]
    pairs: tuple[SheetPair, ...]
    credits: dict[int, str]
    doubted: tuple[str, ...]
    is_standing: bool
    is_reference_newer: bool
    is_price_newer: bool

    @property
    def newest(self) -> SheetVersion:
        """The version that was published last."""
        return self.versions[0]

    @property
    def is_newest(self) -> bool:
        """Whether nothing was published since."""
        return self.version.pk == self.newest.pk

    @property
    def named(self) -> list[str]:
        """Those members of its rolls who want to be named, as they want to be, each once."""
        return list(dict.fromkeys(name for name in self.credits.values() if name))


def visible_versions(user) -> QuerySet[SheetVersion]:
    """Return the published versions that this person may read, newest first, without what they show.

    What was once published stays readable, as somebody may have cited it; the page warns where it must.
    """
    versions = SheetVersion.objects.defer("content").select_related("stock", "published_by")
    return versions if may_read_accepted(user) else versions.none()


def versions_of_stock(user, stock_id: int) -> QuerySet[SheetVersion]:
    """Return those of one stock; none for a number that no stock can have."""
    return visible_versions(user).filter(stock__in=FilmStock.objects.filter(pk=stock_id))


def version_of(user, stock_id: int, pair_key: str, number: int | None = None) -> SheetVersion:
    """Return one version with its content, the newest without a number; NotFound otherwise."""
    process_id, exposure_id = pair_ids(pair_key)
    found = versions_of_stock(user, stock_id).filter(
        process_revision_id=process_id, exposure_revision_id=exposure_id
    )
    if number is not None:
        found = found.filter(number=number)
    version = found.defer(None).select_related("stock", "picture").order_by("-number").first()
    if version is None:
        raise NotFound(NOT_THERE)
    return version


def newest_sheet_pair(user, stock_id: int) -> str:
    """Return the pair under which a stock's sheet is shown first; NotFound where it has none."""
    pairs = _pairs(versions_of_stock(user, stock_id))
    if not pairs:
        raise NotFound(NOT_THERE)
    return pairs[0].key


def published_sheet(user, version: SheetVersion) -> PublishedSheet:
    """Return a version with all that its page tells beside it."""
    every = visible_versions(user).filter(stock_id=version.stock_id)
    same = {
        "process_revision": version.process_revision_id,
        "exposure_revision": version.exposure_revision_id,
    }
    standing = StockResult.objects.filter(stock=version.stock_id, **same).values_list("pooled_id", flat=True)
    rolls = Roll.objects.filter(pk__in=[roll["id"] for roll in version.content["rolls"]])
    rolls = list(rolls.select_related("member", "run"))
    return PublishedSheet(
        stock=version.stock,
        version=version,
        versions=tuple(every.filter(**same).order_by("-number")),
        pairs=_pairs(every),
        credits={roll.pk: roll.member.credit_line for roll in rolls},
        doubted=tuple(_doubts(rolls)),
        is_standing=version.pooled_id in standing,
        is_reference_newer=_is_reference_newer(version, same),
        is_price_newer=_is_price_newer(version),
    )


def sheet_credits(version: SheetVersion) -> dict[int, str]:
    """Return roll → how its member is named; empty text where the member wants not to be."""
    rolls = Roll.objects.filter(pk__in=[roll["id"] for roll in version.content["rolls"]])
    return {roll.pk: roll.member.credit_line for roll in rolls.select_related("member")}


def pair_ids(pair_key: str) -> tuple[int, int]:
    """Return the revisions that a pair's key in an address names; NotFound for no such key."""
    parts = pair_key.split("-")
    if len(parts) != 2 or not all(part.isascii() and part.isdigit() and len(part) < 10 for part in parts):
        raise NotFound(NOT_THERE)
    return int(parts[0]), int(parts[1])


def _pairs(versions: QuerySet[SheetVersion]) -> tuple[SheetPair, ...]:
    """Those with sheets: in force first, then those under which most stocks stand, the newest first."""
    found = versions.order_by().values("process_revision_id", "exposure_revision_id")
    rows = found.annotate(newest=Max("pk")).values_list(
        "process_revision_id",
        "exposure_revision_id",
        "process_revision__standard__name",
        "process_revision__number",
        "process_revision__state",
        "exposure_revision__standard__name",
        "exposure_revision__number",
        "exposure_revision__state",
        "newest",
    )
    rows = list(rows)
    counts = _stock_counts() if len(rows) > 1 else {}
    ordered = sorted(rows, key=lambda row: (_is_superseded(row), -counts.get(row[:2], 0), -row[8]))
    return tuple(
        SheetPair(
            key=f"{row[0]}-{row[1]}",
            label=f"{row[2]}, revision {row[3]}; {row[5]}, revision {row[6]}",
            is_in_force=not _is_superseded(row),
        )
        for row in ordered
    )


def _stock_counts() -> dict[tuple[int, int], int]:
    """Pair → how many stocks have a result under it."""
    pair = ("process_revision_id", "exposure_revision_id")
    counted = StockResult.objects.order_by().values(*pair).annotate(stocks=Count("pk"))
    return {row[:2]: row[2] for row in counted.values_list(*pair, "stocks")}


def _is_superseded(row) -> bool:
    return not row[4] == row[7] == RevisionState.IN_FORCE


def _doubts(rolls: list[Roll]):
    """What a version rests on that counts no more."""
    for roll in sorted(rolls, key=lambda roll: roll.pk):
        if roll.state != RollState.ACCEPTED:
            yield f"{roll.code} is {roll.get_state_display()} since."
        elif roll.is_held_back:
            yield f"{roll.code} is held back since: {roll.held_back_by}."


def _is_reference_newer(version: SheetVersion, pair: dict) -> bool:
    """Whether the curve beside it is another one by now."""
    if version.content["is_reference"]:
        return False
    appointed = HouseReference.objects.filter(**pair, ended_at__isnull=True).values("stock_id")
    standing = StockResult.objects.filter(**pair, stock_id__in=appointed).values_list("pooled_id", flat=True)
    beside = version.content["reference"]
    return list(standing) != ([beside["result"]] if beside else [])


def _is_price_newer(version: SheetVersion) -> bool:
    shown = {price["id"] for price in version.content["prices"]}
    return {price.pk for price in newest_prices(version.stock_id)} != shown
