"""What a version of a sheet changed against the one before it, in sentences with the numbers of both."""

from collections.abc import Iterator

from curves.sensitometry import MEASURES
from curves.sensitometry.comparing.wording import listed
from labsite.templatetags.measures import measure_parts

#: Measures whose change is told one by one; of the others it is told how many changed.
TOLD = (
    "iso_speed",
    "exposure_index",
    "box_difference_stops",
    "average_gradient_150",
    "contrast_index",
    "base_plus_fog",
    "d_max",
    "useful_range",
)
TOLD_DIFFERENCES = ("speed_shift_stops", "contrast_ratio")
STOCK_WORDS = {
    "name": "Name",
    "maker": "Maker",
    "box_speed": "Box speed",
    "formats": "Formats",
    "sensitisation": "Sensitisation",
    "base_material": "Base",
    "is_in_production": "Still in production",
}
PICTURE_UNITS = {"rms_granularity": "1/1000 D", "film_mtf50": "cycles/mm"}
FIRST = "The first version."
MINUTE = "Numbers changed by less than their printed digits."


def sheet_changes(before: dict | None, after: dict) -> list[str]:
    """Return the sentences; one that says so for a first version."""
    if before is None:
        return [FIRST]
    told = [
        *_rolls(before, after),
        *_engine(before, after),
        *_stock(before["stock"], after["stock"]),
        *_measures(before["measures"], after["measures"]),
        *_reference(before, after),
        *_pictures(before, after),
        *_colour(before["colour"], after["colour"]),
        *_development(before["development"], after["development"]),
        *_prices(before["prices"], after["prices"]),
    ]
    return told or [MINUTE]


def measure_words(measure: dict | None, name: str = "") -> str:
    """Return a stored measure as a sentence has it: bound, value, interval, unit; or that it is withheld."""
    if measure is None:
        return "none"
    parts = measure_parts(measure, name)
    if parts["is_withheld"]:
        return f"withheld ({parts['reason_short'] or 'not measured'})"
    leading = parts["unit"] if parts["is_leading"] else ""
    trailing = "" if parts["is_leading"] else parts["unit"]
    words = (parts["bound"], leading, parts["text"], parts["interval"], trailing)
    return " ".join(word for word in words if word)


def _instead(title: str, after: str, before: str) -> str:
    return f"{title}: {after} instead of {before}."


def _rolls(before: dict, after: dict) -> Iterator[str]:
    was, now = ({roll["code"]: roll for roll in each["rolls"]} for each in (before, after))
    added, removed = [code for code in now if code not in was], [code for code in was if code not in now]
    counts = f"{len(now)} roll{'' if len(now) == 1 else 's'} instead of {len(was)}"
    if added:
        yield f"{listed(added)} {'counts' if len(added) == 1 else 'count'} now; {counts}."
    if removed:
        verb = "does" if len(removed) == 1 else "do"
        end = "" if added else f"; {counts}"
        yield f"{listed(removed)} {verb} not count any more{end}."
    is_refitted = before["result"]["input_digest"] != after["result"]["input_digest"]
    if is_refitted and not added and not removed:
        yield "Its rolls were fitted anew."
    described = [code for code in now if code in was and now[code] != was[code]]
    if described:
        yield f"What is recorded of {listed(described)} was corrected."


def _engine(before: dict, after: dict) -> Iterator[str]:
    was, now = before["result"]["engine_version"], after["result"]["engine_version"]
    if was != now:
        yield _instead("Engine", now, was)


def _stock(was: dict, now: dict) -> Iterator[str]:
    for name, title in STOCK_WORDS.items():
        if was[name] != now[name]:
            yield _instead(title, _plain(now[name]), _plain(was[name]))


def _measures(was: dict, now: dict) -> Iterator[str]:
    others = 0
    for name in now:
        before, after = (measure_words(each.get(name), name) for each in (was, now))
        if before == after:
            continue
        if name in TOLD:
            yield _instead(MEASURES[name].title, after, before)
        else:
            others += 1
    if others:
        yield f"{others} more measure{'' if others == 1 else 's'} changed in the digits shown."


def _reference(before: dict, after: dict) -> Iterator[str]:
    was, now = before["reference"], after["reference"]
    if before["is_reference"] != after["is_reference"]:
        yield f"It is the house reference {'now' if after['is_reference'] else 'no more'}."
    elif was != now and (was is None or now is None):
        yield f"Held against {now['stock']} now." if now else "Held against no house reference any more."
    elif was and was["stock_id"] != now["stock_id"]:
        yield _instead("House reference", now["stock"], was["stock"])
    elif was and was["result"] != now["result"]:
        yield _instead(
            f"Result of the house reference {now['stock']}", str(now["result"]), str(was["result"])
        )
    for name in TOLD_DIFFERENCES:
        old, new = (each["differences"].get(name) for each in (before, after))
        if old and new and measure_words(old, name) != measure_words(new, name):
            yield _instead(MEASURES[name].title, measure_words(new, name), measure_words(old, name))


def _pictures(before: dict, after: dict) -> Iterator[str]:
    for key, name in (("grain", "rms_granularity"), ("sharpness", "film_mtf50")):
        was, now = (
            _bare(measure_words(each[key]["measure"], name)) if each[key] else "not measured"
            for each in (before, after)
        )
        if was != now:
            yield _instead(f"{MEASURES[name].title}, {PICTURE_UNITS[name]}", now, was)
    was, now = before["crop"], after["crop"]
    if was != now:
        other = "Another picture of an edge is shown." if now else "The picture of an edge is gone."
        yield other if was else "A picture of an edge is shown now."


def _bare(words: str) -> str:
    """Without the unit, which stands before the colon."""
    for unit in PICTURE_UNITS.values():
        words = words.removesuffix(f" {unit}")
    return words


def _colour(was: dict | None, now: dict | None) -> Iterator[str]:
    if was == now:
        return
    if was is None or now is None:
        yield "Its colour response was measured." if now else "Its colour response is withdrawn."
        return
    old = {each["patch"]: each["shift"] for each in was["patches"]}
    for each in now["patches"]:
        before, after = (measure_words(shift) for shift in (old.get(each["patch"]), each["shift"]))
        if before != after:
            yield _instead(f"Colour shift, {each['patch']}", after, before)


def _development(was: list, now: list) -> Iterator[str]:
    if was != now:
        old, new = (_others(rows) for rows in (was, now))
        if old != new:
            yield _instead("Other processing of the same stock", new, old)
        else:
            yield "A result under other processing changed."


def _others(rows: list) -> str:
    return ", ".join(row["process"] for row in rows if not row["is_this"]) or "none"


def _prices(was: list, now: list) -> Iterator[str]:
    old, new = ({(each["kind"], each["format"]): each for each in prices} for prices in (was, now))
    for key in dict.fromkeys([*old, *new]):
        before, after = old.get(key), new.get(key)
        if before != after:
            content = (after or before)["content"]
            yield _instead(f"Cost per frame, {content}", _cost(after), _cost(before))


def _cost(price: dict | None) -> str:
    if price is None:
        return "no price"
    return f"{price['cost_per_frame']} {price['currency']} ({price['priced_on']})"


def _plain(value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(value) or "not said"
    return str(value) or "not said"
