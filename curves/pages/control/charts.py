"""The page of the control charts: which chart, its figures, its table and CSV, and notes on its days."""

from collections.abc import Iterator
from dataclasses import dataclass

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from curves.figures.control_charts import control_chart_figure
from curves.models import ChartNote
from curves.pages.access import members_only
from curves.pages.control.areas import control_tabs
from curves.pages.control.strip_forms import RULE_CHOICES
from curves.pages.fields import day_field
from curves.pages.listing import csv_file, export_url, is_export, page_of
from curves.queries.control_charts import KINDS, ChartPoint, ControlChartView, control_charts
from curves.queries.control_strips import revisions_with_strips
from curves.sensitometry.controlling.chart_form import Chart
from curves.sensitometry.controlling.control_strips import QUANTITIES
from curves.services.chart_notes import add_chart_note
from labsite.accounts.pages.forms import LabForm
from labsite.common.errors import NotFound

CHART_TITLES = {
    "individuals": "Single runs",
    "moving_range": "Moving range",
    "means": "Means of replicates",
    "ranges": "Ranges of replicates",
    "ewma": "Weighted moving average",
    "cusum_high": "Cumulative sum above the aim",
    "cusum_low": "Cumulative sum below the aim",
}


class ChartForm(forms.Form):
    """Which chart is wanted."""

    revision = forms.TypedChoiceField(label="Process standard", required=False, coerce=int, empty_value=None)
    quantity = forms.ChoiceField(label="Quantity", required=False, choices=list(QUANTITIES.items()))
    kind = forms.ChoiceField(label="Chart", required=False, choices=list(KINDS.items()))
    rules = forms.ChoiceField(
        label="Run rules", required=False, choices=[("", "as the aims in force say"), *RULE_CHOICES]
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["revision"].choices = [(each.pk, str(each)) for each in revisions_with_strips()]


class NoteForm(LabForm):
    """What happened on a day."""

    noted_on = day_field("Day")
    kind = forms.ChoiceField(label="What", choices=ChartNote.Kind.choices)
    text = forms.CharField(label="In words", max_length=200)


@dataclass(frozen=True)
class ChartRow:
    """One run in the table of a chart."""

    place: int
    point: ChartPoint
    values: tuple[float | None, ...]
    broken: tuple[str, ...]


@require_safe
@members_only
def charts(request):
    """Show the charts of one quantity under one process revision."""
    return _chart_page(request)


@require_POST
@members_only
def add_note(request):
    """Keep what happened on a day, for the charts to show."""
    form = NoteForm(request.POST)
    note = form.accepted(add_chart_note, actor=request.user, process_revision_id=_number(request.GET))
    if note is None:
        return _chart_page(request, note_form=form, status=400)
    messages.success(request, "The note is on the charts.")
    return redirect(f"{reverse('control_charts')}?{request.GET.urlencode()}")


def _chart_page(request, *, note_form=None, status: int = 200):
    view = control_charts(
        request.user,
        revision_id=_number(request.GET),
        **{name: request.GET.get(name, "") for name in ("quantity", "kind", "rules")},
    )
    if is_export(request):
        return _csv(view)
    chosen = {
        "revision": view.revision.pk if view.revision else None,
        "quantity": view.quantity,
        "kind": view.kind,
        "rules": request.GET.get("rules", ""),
    }
    newest_first = list(_rows(view))[::-1]
    figures = _figures(view)
    context = {
        "tabs": control_tabs(request.user, "control_charts"),
        "view": view,
        "form": ChartForm(initial=chosen),
        "figures": figures,
        "plot_ids": " ".join(f"chart-{chart.kind}" for chart, _, _ in figures),
        "readouts": [_told(view, place) for place in range(len(view.points))],
        "titles": [CHART_TITLES[chart.kind] for chart in view.charts],
        "page": page_of(request, newest_first),
        "note_form": note_form or NoteForm(initial={"noted_on": timezone.localdate()}),
        "note_url": f"{reverse('control_chart_note')}?{request.GET.urlencode() or _query(chosen)}",
        "export_url": export_url(request),
    }
    return render(request, "curves/control/charts.html", context, status=status)


def _query(chosen: dict) -> str:
    return "&".join(f"{name}={value}" for name, value in chosen.items() if value)


def _number(query) -> int | None:
    text = query.get("revision", "")
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise NotFound("There is no such process revision.")
    return int(text)


def _figures(view: ControlChartView) -> list[tuple[Chart, str, dict]]:
    if not view.points:
        return []
    texts = [_told(view, place, separator="<br>") for place in range(len(view.points))]
    notes = list(_placed_notes(view))
    unit = f"{view.title.split(':')[0].lower()}, D"
    return [
        (
            chart,
            CHART_TITLES[chart.kind],
            control_chart_figure(chart, texts, title=unit, notes=notes if place == 0 else ()),
        )
        for place, chart in enumerate(view.charts)
    ]


def _placed_notes(view: ControlChartView) -> Iterator[tuple[int, str]]:
    """Each note at the first run of its day or after it; a later one stands at the end."""
    days = [each.point.ran_on for each in view.points]
    for note in view.notes:
        place = next((i for i, day in enumerate(days) if day >= note.noted_on), len(days) - 1)
        yield place, f"{note.noted_on:%Y-%m-%d}: {note.text}"


def _told(view: ControlChartView, place: int, separator: str = "; ") -> str:
    each = view.points[place]
    value = each.point.strip.value(view.quantity)
    read = "not read" if value is None else f"{value:.3f} D".replace("-", "−")
    several = f", mean of {len(each.point.rows)} strips" if len(each.point.rows) > 1 else ""
    return separator.join(
        (f"run {each.point.run_id}, {each.point.ran_on:%Y-%m-%d}", f"{read}{several}", each.phase)
    )


def _rows(view: ControlChartView) -> Iterator[ChartRow]:
    broken: dict[int, list[str]] = {}
    for chart in view.charts:
        for signal in chart.signals:
            texts = broken.setdefault(signal.index, [])
            if signal.text not in texts:
                texts.append(signal.text)
    columns = [chart.to_dict()["values"] for chart in view.charts]
    for place, point in enumerate(view.points):
        values = tuple(column[place] for column in columns)
        yield ChartRow(place + 1, point, values, tuple(broken.get(place, ())))


def _csv(view: ControlChartView):
    lines = ("centre", "warning_low", "warning_high", "action_low", "action_high")
    charts = [chart.to_dict() for chart in view.charts]
    columns = [
        ("place", lambda row: row.place),
        ("run", lambda row: row.point.point.run_id),
        ("day", lambda row: f"{row.point.point.ran_on:%Y-%m-%d}"),
        ("strips", lambda row: row.point.point.strip.strip_batch),
        ("developer batch", lambda row: row.point.point.strip.developer_batch),
        ("replicates", lambda row: len(row.point.point.rows)),
        ("phase", lambda row: row.point.phase),
        (f"{view.quantity} [D]", lambda row: row.point.point.strip.value(view.quantity)),
    ]
    for number, chart in enumerate(charts):
        columns.append((f"{chart['kind']} [D]", lambda row, n=number: row.values[n]))
        columns += [
            (f"{chart['kind']} {line} [D]", lambda row, c=chart, name=line: c[name][row.place - 1])
            for line in lines
        ]
    columns += [
        ("rules broken", lambda row: " ".join(row.broken)),
        ("verdict then", lambda row: row.point.state),
    ]
    return csv_file(f"control-chart-{view.quantity}-{view.kind}.csv", _rows(view), columns)
