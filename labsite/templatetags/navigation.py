"""Where we are and where one can go: the five doors, breadcrumbs, sortable columns, pages of a list."""

from dataclasses import dataclass

from django import template

import labsite

register = template.Library()


@dataclass(frozen=True)
class Door:
    """One of the five ways in; ``prefixes`` are the first parts of the addresses behind it."""

    key: str
    title: str
    path: str
    prefixes: tuple[str, ...]


DOORS = (
    Door("bench", "Bench", "/bench/", ("bench", "rolls", "runs", "readings", "imports", "scans")),
    Door("stocks", "Stocks", "/stocks/", ("stocks", "batches", "coverage", "sheets")),
    Door("control", "Control", "/control/", ("control", "processes", "exposures", "tablets", "instruments")),
    Door("compare", "Compare", "/compare/", ("compare",)),
    Door("lab", "Lab", "/lab/", ("lab", "reviews", "measures", "safety", "help")),
)


@register.simple_tag(takes_context=True)
def active_door(context) -> str:
    """Key of the door that this page lies behind, "" for none; a view may say ``door`` itself."""
    if context.get("door"):
        return context["door"]
    request = context.get("request")
    first = request.path.strip("/").split("/")[0] if request else ""
    return next((door.key for door in DOORS if first in door.prefixes), "")


@register.simple_tag
def doors() -> tuple[Door, ...]:
    """The five doors in their order."""
    return DOORS


@register.simple_tag
def site_version() -> str:
    """Version of the site, for the foot of the page; "" where none is stated."""
    return getattr(labsite, "__version__", "")


@register.inclusion_tag("components/breadcrumb.html")
def breadcrumb(*parts):
    """Titles and addresses in turn, the last title alone: ``{% breadcrumb "Stocks" url "Sheet" %}``."""
    titles, addresses = parts[0::2], parts[1::2]
    steps = [{"title": title, "url": url} for title, url in zip(titles, addresses, strict=False)]
    return {"steps": steps, "here": titles[-1] if len(titles) > len(addresses) else ""}


@register.inclusion_tag("components/sort_header.html", takes_context=True)
def sort_header(context, key, title, unit="", numeric=False, parameter="sort"):
    """A column heading that sorts by ``key``: upwards first, then downwards, kept in the address."""
    query = context["request"].GET.copy()
    current = query.get(parameter, "")
    direction = {key: "ascending", f"-{key}": "descending"}.get(current, "")
    query[parameter] = f"-{key}" if direction == "ascending" else key
    query.pop("page", None)
    return {
        "title": title,
        "unit": unit,
        "numeric": numeric,
        "direction": direction,
        "url": f"?{query.urlencode()}",
    }


@register.inclusion_tag("components/pagination.html", takes_context=True)
def pagination(context, page, noun="rows", parameter="page"):
    """Links to the other pages of a list, with the filters of this one; ``page`` is a paginator's page."""
    query = context["request"].GET.copy()

    def address(number):
        query[parameter] = str(number)
        return f"?{query.urlencode()}"

    numbers = page.paginator.get_elided_page_range(page.number, on_each_side=1, on_ends=1)
    return {
        "page": page,
        "noun": noun,
        "links": [
            {"number": number, "url": address(number) if isinstance(number, int) else ""}
            for number in numbers
        ],
        "previous": address(page.previous_page_number()) if page.has_previous() else "",
        "following": address(page.next_page_number()) if page.has_next() else "",
    }
