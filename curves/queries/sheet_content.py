"""What a stock's sheet says, as one document of plain numbers and words: page, figure and files follow it.

Members are not in it: whether and how they are named is theirs to change at any time.
"""

import hashlib
import json

from curves.models import (
    ExposureRevision,
    FilmStock,
    HouseReference,
    PooledAnalysis,
    ProcessRevision,
    Roll,
    StockResult,
)
from curves.models.picture_measures import PictureMeasureName
from curves.queries.colour_response import ColoursBeside, colours_beside, light_series
from curves.queries.picture_measures import LabPictures, lab_pictures
from curves.queries.prices import newest_prices, price_document
from curves.queries.spread_inputs import roll_paths_of, spread_between
from curves.queries.standing import lab_spread_under
from curves.sensitometry import Analysis, compare_with_reference
from curves.sensitometry.comparing.colour_wording import describe_colour_differences
from curves.sensitometry.comparing.stock_wording import describe_stock
from curves.sensitometry.comparing.wording import Sentence

FORMAT = 1
#: Numbers are kept to a millionth of their unit, so that they are the same text out of every database.
DIGITS = 6
CURVE = ("log_exposure", "density", "low", "high", "gradient")
#: Measures that tell how the same stock comes out under other processing.
OTHERWISE = ("exposure_index", "average_gradient_150", "contrast_index", "base_plus_fog")


def sheet_content(result: StockResult, *, pictures: dict) -> dict:
    """Return the whole content for a standing result.

    ``pictures`` holds what can be seen of it: ``crop``, a small picture's document or None, and ``frames``,
    scans to be set side by side.
    """
    pair = {
        "process_revision_id": result.process_revision_id,
        "exposure_revision_id": result.exposure_revision_id,
    }
    analysis = Analysis.from_dict(result.pooled.as_dict())
    reference = _reference(pair)
    is_reference = reference is not None and reference.stock_id == result.stock_id
    beside_id = None if is_reference or reference is None else reference.stock_id
    colours = colours_beside(result.stock_id, beside_id, pair)
    measured = lab_pictures(pair, stock_ids=[pk for pk in (result.stock_id, beside_id) if pk is not None])
    words = _words(
        analysis, measured.measures_of(result.stock_id), colours, light_series(result.exposure_revision)
    )
    content = {
        "format": FORMAT,
        "stock": _stock(result.stock),
        "process": _process(result.process_revision),
        "exposure": _exposure(result.exposure_revision),
        "result": _result(result.pooled, analysis),
        "measures": {name: measure.to_dict() for name, measure in analysis.measures.items()},
        "curve": {name: getattr(analysis.curve, name).tolist() for name in CURVE},
        "flags": [flag.text for flag in analysis.flags],
        "words": [sentence.text for sentence in words],
        "is_reference": is_reference,
        **_against(result.pooled, None if is_reference else reference, pair),
        "colour": _colour(colours, light_series(result.exposure_revision)) if colours else None,
        "grain": _picture(measured, PictureMeasureName.GRAIN, result.stock_id, beside_id),
        "sharpness": _picture(measured, PictureMeasureName.SHARPNESS, result.stock_id, beside_id),
        "crop": pictures["crop"],
        "frames": pictures["frames"],
        "development": _under_other_processing(result),
        "prices": [price_document(price) for price in newest_prices(result.stock_id)],
        "rolls": _rolls(result.pooled),
    }
    return _steady(content)


def content_digest(content: dict) -> str:
    """Return the SHA-256 of a content as canonical JSON: sorted keys, no spaces, UTF-8."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _steady(value):
    """The same value with every number in one form; adding 0.0 turns −0.0 into 0.0."""
    if isinstance(value, float):
        return round(value, DIGITS) + 0.0
    if isinstance(value, dict):
        return {name: _steady(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_steady(each) for each in value]
    return value


def _stock(stock: FilmStock) -> dict:
    return {
        "id": stock.pk,
        "name": stock.name,
        "maker": stock.maker,
        "box_speed": stock.box_speed,
        "formats": list(stock.formats),
        "sensitisation": stock.get_sensitisation_display(),
        "base_material": stock.base_material,
        "is_in_production": stock.is_in_production,
    }


def _process(revision: ProcessRevision) -> dict:
    names = (
        "developer",
        "dilution",
        "temperature_c",
        "temperature_tolerance_c",
        "development_time_s",
        "aim_contrast",
        "agitation",
        "stop_bath",
        "fixer",
        "wash",
        "cautions",
    )
    return {
        "revision_id": revision.pk,
        "standard_id": revision.standard_id,
        "label": str(revision),
        "number": revision.number,
        "time_rule": revision.get_time_rule_display(),
        **{name: getattr(revision, name) for name in names},
    }


def _exposure(revision: ExposureRevision) -> dict:
    return {
        "revision_id": revision.pk,
        "standard_id": revision.standard_id,
        "label": str(revision),
        "number": revision.number,
        "method": revision.get_method_display(),
        "light": revision.light,
        "series": light_series(revision),
        "colour_temperature_k": revision.colour_temperature_k,
        "exposure_time_s": revision.exposure_time_s,
        "is_absolute": revision.is_absolute,
    }


def _result(pooled: PooledAnalysis, analysis: Analysis) -> dict:
    return {
        "id": pooled.pk,
        "engine_version": pooled.engine_version,
        "input_digest": pooled.input_digest,
        "computed_on": pooled.created_at.date().isoformat(),
        "roll_count": pooled.roll_count,
        "left_out_count": pooled.left_out_count,
        "exposure": analysis.exposure,
        "box_speed": analysis.box_speed,
        "between_roll": dict(analysis.between_roll),
    }


def _reference(pair: dict) -> HouseReference | None:
    appointed = HouseReference.objects.filter(**pair, ended_at__isnull=True).select_related("stock")
    return appointed.first()


def _against(pooled: PooledAnalysis, reference: HouseReference | None, pair: dict) -> dict:
    """The reference's curve and measures, and the differences from it; empty where there is none."""
    nothing = {"reference": None, "differences": {}, "difference_words": []}
    if reference is None:
        return nothing
    results = StockResult.objects.filter(**pair, stock=reference.stock_id).select_related("pooled")
    standing = results.first()
    if standing is None:
        return nothing
    beside = Analysis.from_dict(standing.pooled.as_dict())
    paths = roll_paths_of([pooled.pk, standing.pooled_id])
    spread = spread_between(lab_spread_under(**pair), paths[pooled.pk], paths[standing.pooled_id])
    analysis = Analysis.from_dict(pooled.as_dict())
    comparison = compare_with_reference(analysis, beside, lab_spread=spread, with_curves=False)
    return {
        "reference": {
            "stock_id": reference.stock_id,
            "stock": reference.stock.name,
            "result": standing.pooled_id,
            "roll_count": standing.pooled.roll_count,
            "exposure": beside.exposure,
            "measures": {name: measure.to_dict() for name, measure in beside.measures.items()},
            "curve": {name: getattr(beside.curve, name).tolist() for name in CURVE},
        },
        "differences": {
            name: measure.to_dict() | {"verdict": comparison.verdicts[name]}
            for name, measure in comparison.measures.items()
        },
        "difference_words": [sentence.text for sentence in comparison.sentences],
    }


def _picture(measured: LabPictures, name: str, stock_id: int, reference_id: int | None) -> dict | None:
    """Grain or sharpness of the stock's rolls together, with the rig; None where nobody has measured it."""
    own = measured.by_stock.get(stock_id, {}).get(name)
    if own is None:
        return None
    beside = measured.by_stock.get(reference_id, {}).get(name)
    is_alike = beside is not None and beside.rig.digest == own.rig.digest
    return {
        "measure": own.measure.to_dict(),
        "rig": own.rig.words,
        "is_apart": own.is_apart,
        "reference": beside.measure.to_dict() if is_alike else None,
    }


def _words(
    analysis: Analysis, pictures: dict, colours: ColoursBeside | None, light: str
) -> tuple[Sentence, ...]:
    """What the stock is like, its colours next to the reference's too: their numbers stand on the page."""
    own = describe_stock(
        analysis,
        pictures=pictures,
        colours=colours.shifts if colours else {},
        light=light,
        is_one_roll=colours is not None and colours.is_one_roll,
        is_beside_table=True,
    )
    return (
        *own,
        *(describe_colour_differences(colours.compared, light, is_beside_table=True) if colours else ()),
    )


def _colour(colours: ColoursBeside, light: str) -> dict:
    differences, verdicts = colours.compared.measures, colours.compared.verdicts
    return {
        "series": light,
        "roll_count": colours.roll_count,
        "spread": colours.spread.to_dict(),
        "patches": [
            {
                "patch": label,
                "shift": shift.to_dict(),
                "difference": differences[label].to_dict() | {"verdict": verdicts[label]}
                if label in differences
                else None,
            }
            for label, shift in colours.shifts.items()
        ],
    }


def _under_other_processing(result: StockResult) -> list[dict]:
    """The stock's standing results by every process under the same exposure; empty where this is the only."""
    found = StockResult.objects.filter(
        stock=result.stock_id, exposure_revision=result.exposure_revision_id
    ).select_related("process_revision__standard", "pooled")
    rows = [
        {
            "process": str(each.process_revision),
            "is_this": each.pk == result.pk,
            "developer": " ".join(
                part for part in (each.process_revision.developer, each.process_revision.dilution) if part
            ),
            "temperature_c": each.process_revision.temperature_c,
            "development_time_s": each.process_revision.development_time_s,
            "result": each.pooled_id,
            "roll_count": each.pooled.roll_count,
            "measures": {
                name: each.pooled.measures[name] for name in OTHERWISE if name in each.pooled.measures
            },
        }
        for each in found.defer("pooled__detail").order_by("process_revision_id")
    ]
    return rows if len(rows) > 1 else []


def _rolls(pooled: PooledAnalysis) -> list[dict]:
    rolls = Roll.objects.filter(analyses__pooled_in=pooled).select_related("batch", "run").order_by("pk")
    return [
        {
            "id": roll.pk,
            "code": roll.code,
            "batch": roll.batch.emulsion_number,
            "batch_expires_on": _day(roll.batch.expires_on),
            "exposed_on": _day(roll.exposed_on),
            "developed_on": _day(roll.run.ran_on) if roll.run else None,
            "accepted_on": _day(roll.accepted_at),
            "run": roll.run_id,
            "control_state": roll.run.get_control_state_display() if roll.run else None,
            "overrides": list(roll.override_reasons),
        }
        for roll in rolls
    ]


def _day(moment) -> str | None:
    return f"{moment:%Y-%m-%d}" if moment else None
