"""What every list does with its address: sort, page, export. Filters are a form of each list's own."""

import csv
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import F, QuerySet
from django.http import HttpResponse

from curves.importers import escape_text

PAGE_SIZE = 50

Columns = list[tuple[str, Callable[[Any], Any]]]


def sorted_rows(request, rows: QuerySet, keys: Mapping[str, str], *, default: str) -> QuerySet:
    """Return the rows in the order that ``?sort=key`` or ``?sort=-key`` asks for; empty values last."""
    wanted = request.GET.get("sort", "")
    if wanted.lstrip("-") not in keys:
        wanted = default
    field = F(keys[wanted.lstrip("-")])
    order = field.desc(nulls_last=True) if wanted.startswith("-") else field.asc(nulls_last=True)
    # The key at the end keeps equal rows in one order, or pages would repeat some and drop others.
    return rows.order_by(order, "-pk" if wanted.startswith("-") else "pk")


def page_of(request, rows) -> Page:
    """Return the page that ``?page=`` asks for, or the nearest there is."""
    return Paginator(rows, PAGE_SIZE).get_page(request.GET.get("page"))


def is_export(request) -> bool:
    """Whether the same rows are wanted as a file."""
    return request.GET.get("export") == "csv"


def export_url(request) -> str:
    """Return the address of the same rows as a file, filters and order kept."""
    query = request.GET.copy()
    query.pop("page", None)
    query["export"] = "csv"
    return f"?{query.urlencode()}"


def kept_parameters(request, *names: str) -> list[tuple[str, str]]:
    """Return what a filter form has to carry along, such as the order."""
    return [(name, request.GET[name]) for name in names if request.GET.get(name)]


def csv_file(filename: str, rows: Iterable, columns: Columns) -> HttpResponse:
    """Return rows as a CSV file, UTF-8, in which no text is taken for a formula."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{filename}"'
    writer = csv.writer(answer)
    writer.writerow([title for title, _ in columns])
    for row in rows:
        writer.writerow([_cell(value(row)) for _, value in columns])
    return answer


def _cell(value):
    if value is None:
        return ""
    return value if isinstance(value, int | float) else escape_text(str(value))
