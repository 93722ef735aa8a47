"""The coverage board: stocks by standards in force, with a way from every gap to a planned roll."""

from urllib.parse import urlencode

from django import forms
from django.conf import settings
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.listing import csv_file, export_url, is_export, kept_parameters
from curves.queries.coverage import SORTS, CoverageBoard, CoverageCell, CoverageFilter, coverage_board
from labsite.common.access import is_member

#: Longer than any film keeps; a greater number is a slip.
MOST_DAYS = 36_500


class CoverageForm(forms.Form):
    """What of the board is wanted."""

    q = forms.CharField(label="Stock or maker", required=False, max_length=80)
    standards = forms.ChoiceField(label="Standards in force", required=False)
    state = forms.ChoiceField(
        label="Show",
        required=False,
        choices=[
            ("", "every stock"),
            ("gaps", "with a gap: missing or stale"),
            ("missing", "never tested"),
            ("stale", "stale"),
            ("planned", "with a roll under way"),
        ],
    )
    production = forms.ChoiceField(
        label="Sold",
        required=False,
        choices=[("", "any"), ("1", "still made"), ("0", "no longer made")],
    )
    days = forms.IntegerField(label="Stale after, days", required=False, min_value=1, max_value=MOST_DAYS)

    def __init__(self, *args, sees_plans: bool, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["days"].widget.attrs["placeholder"] = str(settings.STALE_AFTER_DAYS)
        if not sees_plans:
            choices = self.fields["state"].choices
            self.fields["state"].choices = [each for each in choices if each[0] != "planned"]
        # Which standards there are is known with the board; what the address says is asked for as it is.
        asked = self.data.get("standards", "")
        self.fields["standards"].choices = [("", ""), (asked, asked)]

    def wanted(self, sort: str) -> CoverageFilter:
        """Return what is wanted; an empty number of days is the lab's own."""
        asked = self.cleaned_data
        return CoverageFilter(
            name_or_maker=asked["q"],
            standards=asked["standards"],
            state=asked["state"],
            is_in_production={"1": True, "0": False}.get(asked["production"]),
            stale_after_days=asked["days"] or settings.STALE_AFTER_DAYS,
            sort=sort if sort.lstrip("-") in SORTS else "name",
        )

    def offer(self, board: CoverageBoard) -> None:
        """Fill the choice of standards."""
        pairs = [(pair.key, f"{pair.process} · {pair.exposure}") for pair in board.all_standards]
        self.fields["standards"].choices = [("", "all"), *pairs]


@require_safe
@readers_only
def coverage(request):
    """Show which stocks have accepted rolls under the standards in force, and how old they are."""
    form = CoverageForm(request.GET, sees_plans=is_member(request.user))
    is_good = form.is_valid()
    wanted = form.wanted(request.GET.get("sort", "")) if is_good else CoverageFilter()
    board = coverage_board(request.user, wanted)
    form.offer(board)
    if is_good and is_export(request):
        return csv_file("coverage.csv", [(row, cell) for row in board.rows for cell in row.cells], _COLUMNS)
    context = {
        "form": form,
        "board": board,
        "rows": [(row, [(cell, _plan_url(row, cell)) for cell in row.cells]) for row in board.rows],
        "stale_after_days": wanted.stale_after_days,
        "lab_days": settings.STALE_AFTER_DAYS,
        "export_url": export_url(request),
        "keep": kept_parameters(request, "sort"),
    }
    return render(request, "curves/stocks/coverage.html", context, status=200 if is_good else 400)


def _plan_url(row, cell: CoverageCell) -> str:
    """The page Plan a roll with stock and standards chosen."""
    chosen = {
        "stock": row.stock.pk,
        "process": cell.standards.process.pk,
        "exposure": cell.standards.exposure.pk,
    }
    return f"{reverse('roll_plan')}?{urlencode(chosen)}"


_COLUMNS = [
    ("stock", lambda line: line[0].stock.name),
    ("maker", lambda line: line[0].stock.maker),
    ("process", lambda line: str(line[1].standards.process)),
    ("exposure", lambda line: str(line[1].standards.exposure)),
    ("rolls", lambda line: line[1].count),
    ("newest", lambda line: f"{line[1].newest_on:%Y-%m-%d}" if line[1].newest_on else ""),
    ("age [day]", lambda line: line[1].age_days),
    ("state", lambda line: line[1].state),
    ("under way", lambda line: "; ".join(f"{each.code} {each.state}" for each in line[1].planned)),
]
