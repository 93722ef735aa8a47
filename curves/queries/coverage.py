"""The coverage board: which stocks were tested under the standards in force, when, and by whom next."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Max
from django.utils import timezone

from curves.models import ExposureRevision, FilmStock, ProcessRevision, RevisionState, Roll, RollState
from curves.models.rolls import EDITABLE_STATES
from curves.queries.standing import day_tested, standing_rolls
from curves.queries.stocks import visible_stocks
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_member

MISSING, STALE, FRESH = "missing", "stale", "fresh"


@dataclass(frozen=True)
class StandardsInForce:
    """A process and an exposure revision, both in force: a column of the board."""

    process: ProcessRevision
    exposure: ExposureRevision

    @property
    def key(self) -> str:
        """The pair in addresses."""
        return f"{self.process.pk}-{self.exposure.pk}"


@dataclass(frozen=True)
class PlannedRoll:
    """A roll that somebody has planned or is working on."""

    roll_id: int
    code: str
    member: str
    state: str


@dataclass(frozen=True)
class CoverageCell:
    """One stock under one pair of standards; ``newest_on`` is when its newest roll was developed."""

    standards: StandardsInForce
    count: int
    newest_on: date | None
    age_days: int | None
    state: str
    planned: tuple[PlannedRoll, ...]


@dataclass(frozen=True)
class CoverageRow:
    """One stock of the board."""

    stock: FilmStock
    cells: tuple[CoverageCell, ...]

    @property
    def count(self) -> int:
        """Rolls that count, under all standards shown."""
        return sum(cell.count for cell in self.cells)

    @property
    def age_days(self) -> int | None:
        """Age of the newest roll under any of them."""
        return min((cell.age_days for cell in self.cells if cell.age_days is not None), default=None)

    @property
    def gap_count(self) -> int:
        """Cells without a roll, or with none that is new enough."""
        return sum(cell.state != FRESH for cell in self.cells)


@dataclass(frozen=True)
class CoverageFilter:
    """What of the board is wanted; empty values want all."""

    name_or_maker: str = ""
    standards: str = ""
    state: str = ""
    is_in_production: bool | None = None
    stale_after_days: int = 365
    sort: str = "name"


@dataclass(frozen=True)
class CoverageBoard:
    """Columns of standards, rows of stocks, and how many cells are in which state."""

    all_standards: tuple[StandardsInForce, ...]
    standards: tuple[StandardsInForce, ...]
    rows: tuple[CoverageRow, ...]
    totals: dict[str, int]


SORTS = {
    "name": lambda row: row.stock.name.casefold(),
    "box": lambda row: row.stock.box_speed,
    "rolls": lambda row: row.count,
    "age": lambda row: (row.age_days is None, row.age_days or 0),
    "gaps": lambda row: row.gap_count,
}


def coverage_board(user, wanted: CoverageFilter) -> CoverageBoard:
    """Return the board; visitors of an open lab see what is accepted, members also what is planned."""
    pairs = _in_force() if is_member(user) or may_read_accepted(user) else ()
    shown = tuple(pair for pair in pairs if wanted.standards in ("", pair.key))
    counted = _counted(shown)
    planned = _planned(shown) if is_member(user) else {}
    rows = [
        CoverageRow(stock, tuple(_cell(stock, pair, counted, planned, wanted) for pair in shown))
        for stock in _stocks(user, wanted)
    ]
    totals = {
        state: sum(cell.state == state for row in rows for cell in row.cells)
        for state in (MISSING, STALE, FRESH)
    }
    rows = [row for row in rows if _is_wanted(row, wanted.state)]
    # By name first, so that equal rows of another order stand by name.
    rows.sort(key=SORTS["name"])
    key = wanted.sort.lstrip("-")
    rows.sort(key=SORTS.get(key, SORTS["name"]), reverse=wanted.sort.startswith("-"))
    return CoverageBoard(pairs, shown, tuple(rows), totals)


def _in_force() -> tuple[StandardsInForce, ...]:
    in_force = {"state": RevisionState.IN_FORCE}
    processes, exposures = (
        model.objects.filter(**in_force).select_related("standard").order_by("standard__name")
        for model in (ProcessRevision, ExposureRevision)
    )
    exposures = list(exposures)
    return tuple(StandardsInForce(process, exposure) for process in processes for exposure in exposures)


def _stocks(user, wanted: CoverageFilter) -> Iterable[FilmStock]:
    stocks = visible_stocks(user)
    if wanted.is_in_production is not None:
        stocks = stocks.filter(is_in_production=wanted.is_in_production)
    words = wanted.name_or_maker.casefold()
    return [stock for stock in stocks if words in f"{stock.name} {stock.maker}".casefold()]


def _under(rolls, pairs: tuple[StandardsInForce, ...]):
    return rolls.filter(
        process_revision__in={pair.process.pk for pair in pairs},
        exposure_revision__in={pair.exposure.pk for pair in pairs},
    )


def _counted(pairs: tuple[StandardsInForce, ...]) -> dict[tuple, tuple[int, date]]:
    """(stock, process, exposure) → how many rolls count, and when the newest was tested."""
    rolls = _under(standing_rolls(), pairs).order_by()
    rows = rolls.values_list("batch__stock", "process_revision", "exposure_revision").annotate(
        count=Count("pk"), newest=Max(day_tested())
    )
    return {tuple(key): (count, newest) for *key, count, newest in rows}


def _planned(pairs: tuple[StandardsInForce, ...]) -> dict[tuple, list[PlannedRoll]]:
    """(stock, process, exposure) → rolls that wait for readings, changes or a decision."""
    open_states = (*EDITABLE_STATES, RollState.SUBMITTED)
    rolls = _under(Roll.objects.filter(state__in=open_states), pairs).select_related("member", "batch")
    found: dict[tuple, list[PlannedRoll]] = {}
    for roll in rolls.order_by("pk"):
        key = (roll.batch.stock_id, roll.process_revision_id, roll.exposure_revision_id)
        line = PlannedRoll(roll.pk, roll.code, str(roll.member), roll.get_state_display())
        found.setdefault(key, []).append(line)
    return found


def _cell(
    stock: FilmStock, pair: StandardsInForce, counted: dict, planned: dict, wanted: CoverageFilter
) -> CoverageCell:
    key = (stock.pk, pair.process.pk, pair.exposure.pk)
    count, newest = counted.get(key, (0, None))
    age = None if newest is None else max((timezone.localdate() - newest).days, 0)
    state = MISSING if not count else STALE if age is not None and age > wanted.stale_after_days else FRESH
    return CoverageCell(pair, count, newest, age, state, tuple(planned.get(key, ())))


def _is_wanted(row: CoverageRow, state: str) -> bool:
    if state == "planned":
        return any(cell.planned for cell in row.cells)
    if state == "gaps":
        return row.gap_count > 0
    return not state or any(cell.state == state for cell in row.cells)
