"""The pages that set stocks side by side, as tabs that carry the chosen stocks along."""

import re
from collections.abc import Iterable, Mapping
from urllib.parse import urlencode

from django.http import QueryDict
from django.templatetags.static import static
from django.urls import reverse

PAGES = (
    ("compare", "Curves and measures"),
    ("print_tones", "Print tones"),
    ("print_plan", "Print plan"),
    ("colour_response", "Colour response"),
    ("side_by_side", "Side by side"),
)
WHOLE = re.compile(r"[1-9][0-9]{0,8}")


def carried(query: QueryDict) -> tuple[str, tuple[int, ...]]:
    """Return the standards and the stocks, in their order, that a page's address carries."""
    stocks = (int(word) for word in query.getlist("stock") if WHOLE.fullmatch(word))
    return query.get("standards", "")[:40], tuple(dict.fromkeys(stocks))


def carried_query(standards: str, stocks: Iterable[int]) -> str:
    """Return standards and stocks as all of these pages read them."""
    parts = [("standards", standards)] if standards else []
    return urlencode([*parts, *(("stock", pk) for pk in stocks)])


def compare_tabs(
    here: str, standards: str, stocks: Iterable[int], fuller: Mapping[str, str] | None = None
) -> list[dict]:
    """Return the tabs; ``fuller`` has the query strings of pages of which more is known than the stocks."""
    shared = carried_query(standards, stocks)
    # What only Compare's address tells, its own tab knows again: by its script, or by Compare's, if need be.
    again = "&".join(part for part in (shared, "again=1") if part)
    queries = {name: again if name == "compare" else shared for name, _ in PAGES} | dict(fuller or {})
    return [
        {
            "title": title,
            "url": f"{reverse(name)}?{queries[name]}" if queries[name] else reverse(name),
            "is_current": name == here,
            "module": static("curves/js/compare-drawing.js") if name == "compare" != here else "",
        }
        for name, title in PAGES
    ]
