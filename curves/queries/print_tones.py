"""Stocks printed at fixed settings through a paper's measured curve.

All are exposed alike and printed alike but for base plus fog, so that what is left is what the film does.
"""

from dataclasses import dataclass
from functools import cached_property

from curves.models import FilmStock, PaperRevision, StockResult
from curves.queries.beside_reference import BesideReference, beside_reference
from curves.queries.papers import PAPER_CATALOGUE, paper_curve
from curves.queries.print_settings import TONES_A_STOP, PrintSettings
from curves.sensitometry import Analysis
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.printing.tone_reproduction import (
    ToneReproduction,
    flare_exposure,
    print_log_exposure_for_tone,
    reproduce_tones,
)
from curves.sensitometry.printing.tone_separation import merging_tones
from curves.sensitometry.sampled_curve import SampledCurve
from labsite.common.errors import InvalidInput, NotFound

MOST_STOCKS = 12


@dataclass(frozen=True)
class PrintedTone:
    """What the print makes of one tone of the subject."""

    stops: int
    density: Measure


@dataclass(frozen=True)
class PrintedStock:
    """One stock on the paper; ``tones`` is None where ``reason`` says why it can't be printed at all."""

    stock: FilmStock
    is_reference: bool
    tones: ToneReproduction | None
    merging: dict[str, Measure]
    time: Measure
    reason: str = ""

    @cached_property
    def at_stops(self) -> tuple[PrintedTone, ...]:
        """Print density at every whole stop below the brightest tone, the brightest first."""
        if self.tones is None:
            return ()
        last = self.tones.log_luminance.size - 1
        return tuple(
            PrintedTone(-stops, _density(self.tones, last - stops * TONES_A_STOP))
            for stops in range(last // TONES_A_STOP + 1)
        )


@dataclass(frozen=True)
class PrintTones:
    """What the page Print tones shows; ``fault`` is a reason code that stands against all of it."""

    beside: BesideReference
    paper: PaperRevision | None
    print_exposure: Measure | None
    printed: tuple[PrintedStock, ...]
    fault: str = ""


def print_tones(
    user,
    *,
    paper_id: int | None,
    settings: PrintSettings,
    pair_key: str = "",
    stock_ids: tuple[int, ...] = (),
) -> PrintTones:
    """Return the tones of the reference and of the chosen stocks, printed through one paper's curve."""
    if len(stock_ids) > MOST_STOCKS:
        raise InvalidInput(f"Choose at most {MOST_STOCKS} stocks at a time.", field="stock")
    beside = beside_reference(user, pair_key=pair_key, stock_ids=stock_ids)
    paper = _paper(user, paper_id)
    if paper is None or beside.reference is None:
        return PrintTones(beside, paper, None, ())
    try:
        return _printed_through(beside, paper, settings)
    except SensitometryError as refusal:
        raise InvalidInput(refusal.message) from refusal


def _paper(user, paper_id: int | None) -> PaperRevision | None:
    if paper_id is None:
        return None
    paper = PAPER_CATALOGUE.revisions(user).filter(pk=paper_id).first()
    if paper is None:
        raise NotFound("There is no such curve of a paper, or it is not open to you.", field="paper")
    return paper


@dataclass(frozen=True)
class _Darkroom:
    """What is the same for every stock."""

    paper: SampledCurve
    settings: PrintSettings
    reference_base: Measure
    print_exposure: float
    highlight: float


def _printed_through(beside: BesideReference, paper: PaperRevision, settings: PrintSettings) -> PrintTones:
    through = paper_curve(paper)
    analysis = Analysis.from_dict(beside.reference.pooled.as_dict())
    point = analysis.measures["speed_point_log_exposure"]
    if point.value is None:
        return PrintTones(beside, paper, None, (), point.reason)
    highlight = settings.highlight_exposure(point.value)
    held = highlight + float(flare_exposure(settings.held_log_luminance, settings.flare))
    film = SampledCurve.of(analysis.curve)
    exposure = print_log_exposure_for_tone(
        film, through, settings.held_density, held, settings.callier_factor
    )
    if exposure.value is None:
        return PrintTones(beside, paper, exposure, (), exposure.reason)
    base = analysis.measures["base_plus_fog"]
    darkroom = _Darkroom(through, settings, base, exposure.value, highlight)
    reference = _on_paper(
        beside.reference.stock, film, darkroom, time=settings.reference_time, is_reference=True
    )
    others = tuple(_printed(result, darkroom) for result in beside.stocks)
    return PrintTones(beside, paper, exposure, (reference, *others))


def _printed(result: StockResult, darkroom: _Darkroom) -> PrintedStock:
    """A stock that is not the reference: its time, and its own exposure where that was asked for."""
    settings = darkroom.settings
    analysis = Analysis.from_dict(result.pooled.as_dict())
    base, point = (analysis.measures[name] for name in ("base_plus_fog", "speed_point_log_exposure"))
    time = settings.print_time(base, darkroom.reference_base)
    reason = time.reason or (point.reason if settings.is_by_own_speed else None)
    if reason:
        return PrintedStock(result.stock, False, None, {}, time, reason)
    return _on_paper(
        result.stock,
        SampledCurve.of(analysis.curve),
        darkroom,
        time=time,
        highlight=settings.highlight_exposure(point.value) if settings.is_by_own_speed else None,
        base_change=base.value - darkroom.reference_base.value,
    )


def _on_paper(
    stock: FilmStock,
    film: SampledCurve,
    darkroom: _Darkroom,
    *,
    time: Measure,
    highlight: float | None = None,
    base_change: float = 0.0,
    is_reference: bool = False,
) -> PrintedStock:
    settings = darkroom.settings
    tones = reproduce_tones(
        film,
        darkroom.paper,
        settings.log_luminance,
        highlight_log_exposure=darkroom.highlight if highlight is None else highlight,
        print_log_exposure=darkroom.print_exposure + settings.callier_factor * base_change,
        flare=settings.flare,
        callier_factor=settings.callier_factor,
    )
    return PrintedStock(stock, is_reference, tones, merging_tones(tones), time)


def _density(tones: ToneReproduction, at: int) -> Measure:
    if tones.reasons[at]:
        return withheld("print_density", tones.reasons[at], "D")
    value, low, high = (float(each[at]) for each in (tones.print_density, tones.low, tones.high))
    return Measure("print_density", value, low, high, "D")
