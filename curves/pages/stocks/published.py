"""The published sheet of a stock: any version, for reading, printing and citing; and publishing a new one."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from curves.figures.svg import figure_svg
from curves.models import SheetVersion
from curves.pages.access import GET_OR_POST, admins_only, readers_only
from curves.pages.fields import text_area
from curves.pages.stocks import published_rows as rows
from curves.queries.safety_sheets import safety_sheets
from curves.queries.sheets import (
    PublishedSheet,
    newest_sheet_pair,
    pair_ids,
    published_sheet,
    version_of,
)
from curves.queries.stock_sheet import visible_stock
from curves.queries.verdicts import stock_verdicts
from curves.services.sheets import LONGEST_REASON, publish_sheet
from labsite.accounts.pages.forms import LabForm
from labsite.accounts.queries import current_lab


@require_safe
@readers_only
def newest_of_any(request, stock_id: int):
    """Lead to the newest sheet under the standards in force."""
    return redirect("stock_sheet", stock_id, newest_sheet_pair(request.user, stock_id))


@require_safe
@readers_only
def newest(request, stock_id: int, pair_key: str):
    """Show the newest version."""
    return _page(request, version_of(request.user, stock_id, pair_key))


@require_safe
@readers_only
def version(request, stock_id: int, pair_key: str, number: int):
    """Show one version, under the address by which it is cited."""
    return _page(request, version_of(request.user, stock_id, pair_key, number))


class PublishForm(LabForm):
    """Why a version is published by hand."""

    reason = text_area(
        "Why now",
        rows=2,
        max_length=LONGEST_REASON,
        help_text="Shown with the version. What changed in its numbers is written by itself.",
    )


@GET_OR_POST
@admins_only
def publish(request, stock_id: int, pair_key: str):
    """Ask for a new version by hand."""
    stock = visible_stock(request.user, stock_id)
    process_id, exposure_id = pair_ids(pair_key)
    form = PublishForm(request.POST or None)
    if request.method == "POST":
        ids = {"process_revision_id": process_id, "exposure_revision_id": exposure_id}
        if form.accepted(publish_sheet, actor=request.user, stock_id=stock.pk, **ids):
            messages.success(request, "A new version is being put together, if anything in it has changed.")
            return redirect("stock_sheets", stock.pk)
    context = {"form": form, "stock": stock, "cancel": reverse("stock", args=[stock.pk])}
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/stocks/sheet/publish.html", context, status=status)


def permalink_of(request, shown: SheetVersion) -> str:
    """Return the address under which this very version stays."""
    place = [shown.stock_id, shown.pair_key, shown.number]
    return request.build_absolute_uri(reverse("stock_sheet_version", args=place))


def _page(request, shown: SheetVersion):
    sheet = published_sheet(request.user, shown)
    content = shown.content
    every = rows.roll_rows(shown, sheet.credits)
    context = {
        "sheet": sheet,
        "version": shown,
        "content": content,
        "figure": _safe_figure(content),
        "key_rows": rows.key_rows(content),
        "sheet_rows": rows.sheet_rows(content),
        "all_rows": rows.all_rows(content),
        "difference_rows": rows.difference_rows(content),
        "rolls": every[: rows.MOST_ROLLS],
        "more_rolls": len(every) - rows.MOST_ROLLS,
        "every_roll": every if len(every) > rows.MOST_ROLLS else [],
        "flags": content["flags"][: rows.MOST_FLAGS],
        "prices": content["prices"][: rows.MOST_PRICES],
        "more_prices": len(content["prices"]) - rows.MOST_PRICES,
        "more_flags": len(content["flags"]) - rows.MOST_FLAGS,
        "curve_rows": rows.curve_rows(content),
        "other_processing": rows.other_processing(content),
        "process_words": rows.process_words(content),
        "exposure_words": rows.exposure_words(content),
        "citation": rows.citation(current_lab().name, shown, sheet.named),
        "permalink": permalink_of(request, shown),
        "pair_tabs": _pair_tabs(sheet),
        "verdicts": stock_verdicts(
            request.user,
            stock_id=shown.stock_id,
            pair_ids={
                "process_revision_id": shown.process_revision_id,
                "exposure_revision_id": shown.exposure_revision_id,
            },
            has_result=sheet.is_standing,
        ),
        "safety_sheets": safety_sheets(request.user, standard_id=content["process"]["standard_id"]),
        "overrides": [roll for roll in content["rolls"] if roll["overrides"]],
    }
    return render(request, "curves/stocks/sheet/page.html", context)


def _safe_figure(content: dict):
    """The figure as a part of the page: `figure_svg` escapes every text that it is given."""
    return mark_safe(figure_svg(rows.drawn_sheet(content), **rows.FIGURE_SIZE))  # noqa: S308


def _pair_tabs(sheet: PublishedSheet) -> list[dict]:
    """A tab for each pair of standards, where there is a choice."""
    if len(sheet.pairs) < 2:
        return []
    return [
        {
            "title": pair.label if pair.is_in_force else f"{pair.label} (superseded)",
            "url": reverse("stock_sheet", args=[sheet.stock.pk, pair.key]),
            "is_current": pair.key == sheet.version.pair_key,
        }
        for pair in sheet.pairs
    ]
