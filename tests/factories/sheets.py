"""Published sheets: a bare row, and one with as much on it as the page has to hold."""

import copy
import hashlib
from datetime import date

import imagecodecs
import numpy as np

from curves.models import PooledAnalysis, PriceEntry, SheetPicture, SheetVersion
from curves.queries.sheet_content import content_digest
from curves.sensitometry.comparing.colour_spread import ColourComparison
from curves.sensitometry.comparing.colour_wording import describe_colour_differences, describe_colours
from curves.sensitometry.comparing.comparison import VERDICTS
from curves.sensitometry.measures import Measure, withheld

PATCHES = ("red", "yellow", "green", "cyan", "blue", "magenta", "flesh light", "flesh medium", "flesh dark")
PRICE = {
    "id": 1,
    "kind": "bulk",
    "format": "35 mm",
    "content": "30.5 m bulk, 35 mm: 18 rolls of 36 frames",
    "frames": 648,
    "price": "94.00",
    "currency": "EUR",
    "cost_per_frame": "0.1551",
    "cassette_price": "1.80",
    "cassette_uses": 5,
    "priced_on": "2026-05-04",
    "source": "the club's own order",
}


def priced_and_published(member, stock, process, exposure) -> dict:
    """A price and a version of a sheet as bare rows; their numbers as addresses name them."""
    price = PriceEntry.objects.create(
        stock=stock,
        kind="sheets",
        film_format="9 × 12 cm",
        price=30,
        currency="EUR",
        priced_on=date(2026, 5, 4),
        source="mail order",
        count=25,
        entered_by=member,
    )
    pair = {"stock": stock, "process_revision": process, "exposure_revision": exposure}
    pooled = PooledAnalysis.objects.create(
        **pair, engine_version="1", input_digest="0" * 64, measures={}, detail={}, roll_count=1
    )
    content = {"stock": {"name": stock.name}, "rolls": []}
    version = SheetVersion.objects.create(
        **pair, number=1, pooled=pooled, content=content, digest=content_digest(content)
    )
    return {"price_id": price.pk, "pair_key": version.pair_key, "version_number": 1}


def measured(value: float, half: float, unit: str) -> dict:
    """A measure as contents keep it."""
    return {
        "value": value,
        "low": value - half,
        "high": value + half,
        "unit": unit,
        "reason": None,
        "note": "",
    }


def colour_shift(value: float) -> Measure:
    """A patch's shift that its interval bears."""
    return Measure("colour_shift", value, value - 0.09, value + 0.09, "stop")


def full_sheet(of: SheetVersion) -> SheetVersion:
    """The next version of a sheet, made by hand: everything measured, a dozen rolls, long words."""
    png = bytes(imagecodecs.png_encode(np.tile(np.arange(240, dtype=np.uint8), (160, 1))))
    picture = SheetPicture.objects.create(digest=hashlib.sha256(png).hexdigest(), png=png)
    content = copy.deepcopy(of.content)
    roll, shift = content["rolls"][0], measured(0.31, 0.09, "stop")
    content["stock"] |= {
        "name": "Birchwood Extra Panchromatic 200 Plus",
        "formats": ["35 mm", "120", "sheet"],
    }
    content["rolls"] = [roll | {"code": f"R-01{number:02d}"} for number in range(12)]
    content["rolls"][0] |= {"overrides": ["Its strip was read a day late, within 0.03 D of the aims."]}
    content["words"] = (content["words"] + ["Not known: highlights. The criterion is not reached here."] * 9)[
        :9
    ]
    shifts = {patch: colour_shift(0.31 if place % 2 else -0.31) for place, patch in enumerate(PATCHES)}
    shifts |= {f"{patch} dark": withheld("colour_shift", "IN_TOE", "stop") for patch in PATCHES[:3]}
    # Of each verdict some patches, which makes the longest words.
    verdicts = {patch: VERDICTS[place % 3] for place, patch in enumerate(shifts)}
    said = [
        *describe_colours(shifts, "daylight", is_beside_table=True),
        *describe_colour_differences(ColourComparison(shifts, verdicts), "daylight", is_beside_table=True),
    ]
    content["words"] = [*content["words"][:-1], *(sentence.text for sentence in said)]
    content["flags"] = ["Three rolls were exposed with one tablet, whose error they share."] * 4
    content["grain"] = {
        "measure": measured(13.8, 0.9, "1000 D"),
        "rig": "Flatbed 3, 2400 ppi",
        "is_apart": False,
        "reference": measured(9.0, 0.9, "1000 D"),
    }
    content["sharpness"] = content["grain"] | {"measure": measured(34, 2, "cycles/mm"), "reference": None}
    content["crop"] = {"picture": picture.digest, "scan": "S-0012", "roll": "R-0100", "width_mm": 3.0}
    content["colour"] = {
        "series": "daylight",
        "roll_count": 1,
        "patches": [{"patch": patch, "shift": shift, "difference": shift} for patch in PATCHES],
    }
    content["prices"] = [PRICE | {"format": name} for name in ("35 mm", "120", "sheet", "127", "70 mm")]
    otherwise = {name: content["measures"][name] for name in ("exposure_index", "average_gradient_150")}
    content["development"] = [
        {
            "process": f"House process, revision {number}",
            "is_this": number == 1,
            "developer": "Hearth D 1 + 1",
            "temperature_c": 20.0,
            "development_time_s": 510,
            "result": 3,
            "roll_count": 2,
            "measures": otherwise,
        }
        for number in range(1, 5)
    ]
    content["process"]["cautions"] = "Ventilate the tank room; the developer can sensitise skin: wear gloves."
    return _next_version(of, content, picture=picture, changes=["Everything was measured."])


def with_longest_texts(of: SheetVersion) -> SheetVersion:
    """The next version of a sheet, made by hand: every text as long as its field takes, or very long."""
    content = copy.deepcopy(of.content)
    word, sentence = (
        "Panchromaticextraordinarily" * 3,
        "A careful admin wrote all that there is to know. " * 40,
    )
    content["stock"] |= {"name": word[:80], "maker": word[:80], "base_material": sentence[:80]}
    content["process"] |= {"label": sentence[:92], "developer": sentence[:120], "dilution": sentence[:60]}
    content["process"] |= {"agitation": sentence[:200], "cautions": sentence[:1500].strip()}
    content["process"] |= {name: sentence[:120] for name in ("stop_bath", "fixer", "wash")}
    content["exposure"] |= {"label": sentence[:92], "light": sentence[:120]}
    content["rolls"] = [roll | {"overrides": [sentence[:400]]} for roll in content["rolls"]]
    content["prices"] = [PRICE | {"source": sentence[:120]}] * 4
    return _next_version(of, content, changes=["Everything has longer words."])


def _next_version(of: SheetVersion, content: dict, **others) -> SheetVersion:
    return SheetVersion.objects.create(
        stock=of.stock,
        process_revision=of.process_revision,
        exposure_revision=of.exposure_revision,
        number=1 + max(of.stock.sheet_versions.values_list("number", flat=True)),
        pooled=of.pooled,
        content=content,
        digest=content_digest(content),
        **others,
    )
