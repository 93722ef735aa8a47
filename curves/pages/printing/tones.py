"""Print tones, print plan and their files; all of them read the same address."""

from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.figures.styles import line_style
from curves.figures.tone_reproduction import print_density_figure, quadrant_figure
from curves.pages.access import readers_only
from curves.pages.compare_tabs import WHOLE, carried, compare_tabs
from curves.pages.listing import csv_file
from curves.pages.printing.print_forms import PrintForm
from curves.queries.beside_reference import beside_reference
from curves.queries.papers import printable_papers
from curves.queries.print_plan import PrintPlan, print_plan
from curves.queries.print_tones import PrintedStock, PrintTones, print_tones
from curves.sensitometry import MEASURES, REASONS
from labsite.common.errors import InvalidInput, LabError


@require_safe
@readers_only
def tones_page(request):
    """Show which print density each subject tone gets, and where tones run together."""
    form, view, status = _asked_tones(request)
    context = {"form": form, "view": view, "tabs": _tabs("print_tones", request, form)}
    if view and view.printed:
        entries = [(each.stock.name, each.tones, _style(view, each)) for each in view.printed if each.tones]
        context |= {
            "tones_figure": print_density_figure(entries),
            "quadrants": quadrant_figure(entries),
            "curves": [_listed(view, each) for each in view.printed if each.tones],
            "rows": _tone_rows(view),
            "merging": [MEASURES["highlights_merge"], MEASURES["shadows_merge"]],
        }
    if view and view.fault:
        context["fault"] = REASONS.get(view.fault, view.fault)
    return render(request, "curves/printing/tones.html", context | _addresses(request, form), status=status)


@require_safe
@readers_only
def tones_data(request):
    """Send the print density of every tone as CSV, a line a stock and tone."""
    form, view, _ = _asked_tones(request)
    if view is None:
        raise _refusal(form)
    lines = [(view, each, tone) for each in view.printed for tone in each.at_stops]
    columns = [
        ("stock", lambda line: line[1].stock.name),
        ("maker", lambda line: line[1].stock.maker),
        ("is_reference", lambda line: int(line[1].is_reference)),
        ("paper", lambda line: str(line[0].paper)),
        ("subject_luminance [stop below the brightest]", lambda line: line[2].stops),
        ("print_density [D]", lambda line: line[2].density.value),
        ("print_density low", lambda line: line[2].density.low),
        ("print_density high", lambda line: line[2].density.high),
        ("print_density withheld", lambda line: line[2].density.reason),
        ("print_time [s]", lambda line: line[1].time.value),
        ("print_time low", lambda line: line[1].time.low),
        ("print_time high", lambda line: line[1].time.high),
    ]
    return csv_file("print-tones.csv", lines, columns)


@require_safe
@readers_only
def plan_page(request):
    """Show the print time of each stock from the reference's, on one sheet of paper."""
    form, plan, status = _asked_plan(request)
    context = {"form": form, "plan": plan, "tabs": _tabs("print_plan", request, form)}
    if plan:
        context |= {
            "rows": [(each, _steps_text(each.steps)) for each in plan.prints],
            "per_stop": form.settings().per_stop,
            "half_step": 2 * form.settings().per_stop,
            "asked": form.settings(),
        }
    return render(request, "curves/printing/plan.html", context | _addresses(request, form), status=status)


@require_safe
@readers_only
def plan_data(request):
    """Send the print plan as CSV."""
    form, plan, _ = _asked_plan(request)
    if plan is None:
        raise _refusal(form)
    columns = [
        ("stock", lambda row: row.stock.name),
        ("maker", lambda row: row.stock.maker),
        ("is_reference", lambda row: int(row.is_reference)),
        ("base_difference [D]", lambda row: row.base_change.value),
        ("print_time [s]", lambda row: row.time.value),
        ("print_time low", lambda row: row.time.low),
        ("print_time high", lambda row: row.time.high),
        ("print_time withheld", lambda row: row.time.reason),
        ("change [stop]", lambda row: row.stops),
        (f"nearest step [1/{form.cleaned_data['per_stop']} stop]", lambda row: row.steps),
        ("time at that step [s]", lambda row: row.step_time_s),
    ]
    return csv_file("print-plan.csv", plan.prints, columns)


def _asked_tones(request) -> tuple[PrintForm, PrintTones | None, int]:
    form = PrintForm(request.GET, papers=_papers(request))
    view = None
    if form.is_valid():
        asked = form.cleaned_data
        try:
            view = print_tones(
                request.user,
                paper_id=asked["paper"],
                settings=form.settings(),
                pair_key=asked["standards"],
                stock_ids=tuple(dict.fromkeys(asked["stock"])),
            )
        except InvalidInput as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.message)
    form.offer(view.beside if view else beside_reference(request.user))
    return form, view, 400 if form.errors else 200


def _asked_plan(request) -> tuple[PrintForm, PrintPlan | None, int]:
    form = PrintForm(request.GET, papers=_papers(request))
    plan = None
    if form.is_valid():
        asked = form.cleaned_data
        plan = print_plan(
            request.user,
            settings=form.settings(),
            pair_key=asked["standards"],
            stock_ids=tuple(dict.fromkeys(asked["stock"])),
        )
    form.offer(plan.beside if plan else beside_reference(request.user))
    return form, plan, 400 if form.errors else 200


def _papers(request) -> list:
    """Papers in force, and the one that the address names, so that a link keeps its curve."""
    named = request.GET.get("paper", "")
    return printable_papers(request.user, also=int(named) if WHOLE.fullmatch(named) else None)


def _refusal(form: PrintForm) -> LabError:
    name, messages = next(iter(form.errors.items()))
    return InvalidInput(messages[0], field=name)


def _addresses(request, form: PrintForm) -> dict:
    query = f"?{form.query()}" if form.is_valid() else ""
    names = ("print_tones", "print_tones_data", "print_plan", "print_plan_data")
    addresses = {f"{name}_url": f"{reverse(name)}{query}" for name in names}
    return addresses | {"permalink": request.build_absolute_uri(f"{request.path}{query}")}


def _tabs(here: str, request, form: PrintForm) -> list[dict]:
    """The tabs; of one page of printing to the other what was set goes along, too."""
    _, stocks = carried(request.GET)
    query = form.query() if form.is_valid() else None
    fuller = {} if query is None else {"print_tones": query, "print_plan": query}
    return compare_tabs(here, form.data.get("standards", ""), stocks, fuller)


def _style(view: PrintTones, printed: PrintedStock):
    if printed.is_reference:
        return None
    others = [each for each in view.printed if not each.is_reference]
    return line_style(others.index(printed), f"stock-{printed.stock.pk}")


def _listed(view: PrintTones, printed: PrintedStock) -> dict:
    style = _style(view, printed)
    if style is None:
        return {
            "key": "reference",
            "label": printed.stock.name,
            "ink": "reference",
            "note": "house reference",
        }
    return {"key": style.key, "label": printed.stock.name, "ink": style.ink, "note": ""}


def _tone_rows(view: PrintTones) -> list[tuple[int, list]]:
    """Whole stops below the brightest tone, with the density of each stock that could be printed."""
    printed = [each.at_stops for each in view.printed if each.tones is not None]
    return [(tones[0].stops, [tone.density for tone in tones]) for tones in zip(*printed, strict=True)]


def _steps_text(steps: int | None) -> str:
    """A number of steps with its sign; 0 for none."""
    return "" if steps is None else f"{steps:+d}".replace("-", "−") if steps else "0"
