"""A published sheet as tables for files: every section in the same columns, out of what the version keeps."""

import csv
import io
from dataclasses import dataclass

from curves.importers import escape_text
from curves.models import SheetVersion
from curves.sensitometry import MEASURES

COLUMNS = ("item", "value", "low", "high", "unit", "withheld", "verdict", "note")
EXPOSURE_UNITS = {"absolute": "log10 lx s", "relative": "log10 relative"}


@dataclass(frozen=True)
class SheetTable:
    """One section: its name and its lines, each with a cell for every one of ``COLUMNS``."""

    name: str
    lines: tuple[tuple, ...]


def sheet_document(version: SheetVersion, credits: dict[int, str], permalink: str) -> dict:
    """Return a version for a JSON file: its content as it was digested, and beside it who is named now."""
    return {
        "sheet": {
            "stock": version.content["stock"]["name"],
            "version": version.number,
            "published_on": f"{version.published_at:%Y-%m-%d}",
            "digest_sha256": version.digest,
            "permalink": permalink,
            "changes": version.changes,
            "reason": version.reason,
        },
        "members": {roll["code"]: credits.get(roll["id"]) or None for roll in version.content["rolls"]},
        "content": version.content,
    }


def sheet_tables(version: SheetVersion, credits: dict[int, str], permalink: str) -> list[SheetTable]:
    """Return the sections in the order of the sheet; empty ones are left out."""
    content = version.content
    found = {
        "sheet": _about(version, permalink),
        "words": [_line(str(at), text) for at, text in enumerate(_words(content), 1)],
        "measures": [_measure(name, measure) for name, measure in _ordered(content["measures"])],
        "differences": [_measure(name, measure) for name, measure in _ordered(content["differences"])],
        "grain and sharpness": list(_pictures(content)),
        "colour response": list(_colour(content["colour"])),
        "other processing": list(_development(content["development"])),
        "cost": [_price(price) for price in content["prices"]],
        "rolls": [_roll(roll, credits.get(roll["id"], "")) for roll in content["rolls"]],
        "curve": list(_curve(content["curve"], content["result"]["exposure"])),
        "curve of the reference": list(
            _curve(content["reference"]["curve"], content["reference"]["exposure"])
            if content["reference"]
            else ()
        ),
    }
    return [SheetTable(name, tuple(lines)) for name, lines in found.items() if lines]


def sheet_csv(tables: list[SheetTable]) -> str:
    """Return the sections one under another, each line with its section's name first."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(["section", *COLUMNS])
    for table in tables:
        for line in table.lines:
            writer.writerow([table.name, *(safe_cell(cell) for cell in line)])
    return text.getvalue()


def safe_cell(cell):
    """Return a cell in which no text is taken for a formula."""
    return escape_text(cell) if isinstance(cell, str) else cell


def _line(item, value, *, low=None, high=None, unit="", withheld="", verdict="", note="") -> tuple:
    cells = (item, value, low, high, unit, withheld, verdict, note)
    return tuple("" if cell is None else cell for cell in cells)


def _ordered(measures: dict) -> list[tuple[str, dict]]:
    """In the order of the registry, whatever the database made of the keys' order."""
    places = {name: at for at, name in enumerate(MEASURES)}
    return sorted(measures.items(), key=lambda pair: (places.get(pair[0], len(places)), pair[0]))


def _measure(item: str, measure: dict, note: str = "") -> tuple:
    return _line(
        item,
        measure["value"],
        low=measure["low"],
        high=measure["high"],
        unit=measure["unit"],
        withheld=measure["reason"] or "",
        verdict=measure.get("verdict", ""),
        note=note or measure["note"],
    )


def _about(version: SheetVersion, permalink: str) -> list[tuple]:
    content = version.content
    stock, process, result = content["stock"], content["process"], content["result"]
    reference = "this stock" if content["is_reference"] else (content["reference"] or {}).get("stock", "none")
    facts = [
        ("stock", stock["name"]),
        ("maker", stock["maker"]),
        ("box speed", stock["box_speed"]),
        ("formats", ", ".join(stock["formats"])),
        ("sensitisation", stock["sensitisation"]),
        ("version", version.number),
        ("published on", f"{version.published_at:%Y-%m-%d}"),
        ("process standard", process["label"]),
        ("developer", " ".join(part for part in (process["developer"], process["dilution"]) if part)),
        ("developing temperature [degree C]", process["temperature_c"]),
        ("developing time [s]", process["development_time_s"]),
        ("exposure standard", content["exposure"]["label"]),
        ("house reference", reference),
        ("result", result["id"]),
        ("rolls", result["roll_count"]),
        ("rolls left out", result["left_out_count"]),
        ("engine", result["engine_version"]),
        ("intervals", "95 %"),
        ("digest of the content, SHA-256", version.digest),
        ("permalink", permalink),
    ]
    changes = [("changed", text) for text in version.changes]
    return [_line(item, value) for item, value in (*facts, *changes)]


def _words(content: dict) -> list[str]:
    return [*content["words"], *content["difference_words"], *content["flags"]]


def _pictures(content: dict):
    for key, name in (("grain", "rms_granularity"), ("sharpness", "film_mtf50")):
        found = content[key]
        if found:
            apart = "; by another rig than the lab's other stocks" if found["is_apart"] else ""
            yield _measure(name, found["measure"], f"{found['rig']}{apart}")
            if found["reference"]:
                yield _measure(f"{name} of the reference", found["reference"], found["rig"])


def _colour(colour: dict | None):
    for each in colour["patches"] if colour else ():
        yield _measure(f"{each['patch']}, shift from grey by {colour['series']}", each["shift"])
        if each["difference"]:
            yield _measure(f"{each['patch']}, difference from the reference", each["difference"])
    if colour and "spread" in colour:  # older versions do not know it
        yield _measure("spread from roll to roll of one stock", colour["spread"]["sd"])


def _development(rows: list):
    for row in rows:
        note = f"{row['developer']}, result {row['result']}, rolls: {row['roll_count']}"
        for name, measure in _ordered(row["measures"]):
            yield _measure(f"{row['process']}: {name}", measure, note)


def _price(price: dict) -> tuple:
    paid = f"{price['price']} {price['currency']} on {price['priced_on']}, {price['source']}"
    if price["cassette_price"]:
        uses = price["cassette_uses"]
        paid += f"; cassette {price['cassette_price']} for {uses} roll{'' if uses == 1 else 's'}"
    return _line(
        price["content"], float(price["cost_per_frame"]), unit=f"{price['currency']} per frame", note=paid
    )


def _roll(roll: dict, member: str) -> tuple:
    days = [
        f"{word} {roll[name]}"
        for word, name in (
            ("exposed", "exposed_on"),
            ("developed", "developed_on"),
            ("accepted", "accepted_on"),
        )
        if roll[name]
    ]
    told = [f"batch {roll['batch']}", *days, f"by {member}" if member else "member not named"]
    told += [f"in by override: {reason}" for reason in roll["overrides"]]
    return _line(roll["code"], roll["control_state"], note="; ".join(told))


def _curve(curve: dict, exposure: str):
    unit = f"D at {EXPOSURE_UNITS[exposure]}"
    names = ("log_exposure", "density", "low", "high", "gradient")
    for x, density, low, high, gradient in zip(*(curve[name] for name in names), strict=True):
        yield _line(x, density, low=low, high=high, unit=unit, note=f"gradient {gradient}")
