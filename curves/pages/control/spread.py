"""The page of the lab's own spread: components, their figure, plans in plain words, and the values as CSV."""

from django import forms
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.figures.spread import spread_figure
from curves.pages.access import members_only, readers_only
from curves.pages.control.areas import control_tabs
from curves.pages.listing import csv_file, export_url, is_export
from curves.queries.lab_spread import LEVELS, MEASURES, SpreadView, spread_rows, spread_view
from curves.sensitometry.comparing.lab_spread import COMPONENT_UNITS
from labsite.common.access import is_member

UNITS = {"stop": "stops"}
#: What each level is, for whoever reads the page for the first time.
LEVEL_WORDS = {
    "member": "who developed the run",
    "run": "tank or machine load, apart from who made it",
    "roll": "one roll of a stock from another of the same run",
    "strip": "one strip from another of the same roll",
    "reading": "the same strip read again",
}
WAY_WORDS = {
    "same_runs": "both in the same runs",
    "same_members": "in different runs, developed by the same members",
    "nothing_shared": "in different runs of whoever comes",
}
DOUBLED = {
    "member": "twice as many members, each with as many rolls",
    "run": "twice as many rolls, each in a run of its own",
    "roll": "twice as many rolls in the same runs",
    "strip": "twice as many strips on each roll",
    "reading": "every strip read twice as often",
}


class SpreadForm(forms.Form):
    """Which standards, and which measure the figure shows."""

    standards = forms.ChoiceField(label="Standards", required=False)
    measure = forms.ChoiceField(label="Figure of", required=False, choices=list(MEASURES.items()))

    def __init__(self, *args, view: SpreadView, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["standards"].choices = [(pair.key, pair.label) for pair in view.pairs]


@require_safe
@readers_only
def spread(request):
    """Show where the lab's spread under one pair of standards comes from."""
    view = spread_view(request.user, pair_key=request.GET.get("standards", ""))
    if is_export(request):
        return _components_csv(view)
    measure = request.GET.get("measure", "")
    measure = measure if measure in MEASURES else next(iter(MEASURES))
    line = next((each for each in view.lines if each.name == measure), None)
    key = view.pair.key if view.pair else None
    context = {
        "tabs": control_tabs(request.user, "spread"),
        "view": view,
        "form": SpreadForm(view=view, initial={"standards": key, "measure": measure}),
        "figure": _figure(line) if line and line.model else None,
        "figure_title": MEASURES[measure],
        "levels": [(level, LEVEL_WORDS[level]) for level in LEVELS],
        "reasons": _reasons(view),
        "plans": [_plan_words(each) for each in view.plans],
        "rolls": _roll_lines(view),
        "export_url": export_url(request),
        "values_url": f"{reverse('spread_values')}?standards={key}" if is_member(request.user) else "",
    }
    return render(request, "curves/control/spread.html", context)


@require_safe
@members_only
def values(request):
    """Every curve that the components rest on, as CSV."""
    key = request.GET.get("standards", "")
    rows = spread_rows(request.user, key)
    columns = [
        (name, lambda row, place=place: row["path"][place])
        for place, name in enumerate(("stock", "member", "run", "roll", "strip"))
    ]
    for name, unit in COMPONENT_UNITS.items():
        columns.append((f"{name} [{unit}]", lambda row, n=name: row["values"][n]))
        columns.append((f"{name} reading error [{unit}]", lambda row, n=name: row["errors"][n]))
    return csv_file(f"lab-spread-values-{key or 'first'}.csv", rows, columns)


def _figure(line) -> dict:
    unit = UNITS.get(line.unit, line.unit)
    components = dict(zip(LEVELS, line.components, strict=True))
    return spread_figure(components, title=line.title, unit=unit)


def _reasons(view: SpreadView) -> list[tuple[str, str]]:
    """Why a level is not told, once for each level, by the measure that comes first."""
    found = {}
    for line in view.lines:
        for level, each in zip(LEVELS, line.components, strict=True):
            if each.value is None:
                found.setdefault(level, _reason(level, each.note))
    return [(level, found[level]) for level in LEVELS if level in found]


def _reason(level: str, note: str) -> str:
    if note.startswith("held by "):
        holder = note.removeprefix("held by ")
        if holder == "reading":
            return f"Each {level} was read only once, so its part stands in that of the reading."
        return f"Each {holder} had only one {level}, so its part stands in that of the {holder}."
    if note.startswith("counted with "):
        return f"Too few to tell; its part stands in that of the {note.removeprefix('counted with ')}."
    if note == "there is only one":
        return f"There is one {level} only: what {level}s differ by cannot be seen, and cancels here."
    return f"{note[:1].upper()}{note[1:]}." if note else "Too few readings."


def _plan_words(each) -> dict:
    gains = [
        {"words": DOUBLED[gain.level], "share": gain.share, "error": gain.standard_error}
        for gain in each.plan.gains
    ]
    return {"title": each.title, "error": each.plan.error, "gains": gains}


def _roll_lines(view: SpreadView) -> list[dict]:
    ways = [way for way in WAY_WORDS if any(way in each.plan.rolls for each in view.plans)]
    return [
        {"words": WAY_WORDS[way], "needed": [each.plan.rolls.get(way) for each in view.plans]} for way in ways
    ]


def _components_csv(view: SpreadView):
    rows = [
        (line, level, each)
        for line in view.lines
        for level, each in zip(LEVELS, line.components, strict=True)
    ]
    columns = [
        ("measure", lambda row: row[0].title),
        ("unit", lambda row: row[0].unit),
        ("level", lambda row: row[1]),
        ("standard deviation", lambda row: row[2].value),
        ("low", lambda row: row[2].low),
        ("high", lambda row: row[2].high),
        ("groups", lambda row: row[0].found.groups.get(row[1])),
        ("degrees of freedom", lambda row: row[0].found.degrees.get(row[1])),
        ("withheld", lambda row: row[2].reason),
        ("note", lambda row: row[2].note),
    ]
    return csv_file("lab-spread.csv", rows, columns)
