"""The readings grid: a plain form of inputs, to which the grid script adds the keyboard."""

from django.contrib import messages
from django.shortcuts import redirect, render

from curves.pages.access import GET_OR_POST, members_only
from curves.pages.rolls.forms import ReadingsForm
from curves.pages.typed_grid import TypedGrid, grid_cells, typed_grid
from curves.queries.readings import ReadingGrid, editable_grid, falling_steps, usual_instrument_id
from curves.services.readings import record_readings
from labsite.common.errors import LabError

#: How far repeated readings of a step may differ [D] before the grid remarks on it (house choice).
SPREAD_LIMIT = 0.03
#: So many falling steps are told one by one after saving; the steps' own rows tell all of them.
MOST_WARNINGS = 3


@GET_OR_POST
@members_only
def enter(request, roll_id: int, strip_number: int):
    """Enter or correct the readings of one strip."""
    grid = editable_grid(request.user, roll_id, strip_number)
    if request.method != "POST":
        instrument_id = grid.instrument.pk if grid.instrument else usual_instrument_id(request.user)
        form = ReadingsForm(initial={"instrument_id": instrument_id, "version": grid.version})
        return _grid_page(request, grid, form)
    typed = typed_grid(request.POST)
    form = ReadingsForm(request.POST)
    if "add_replicate" in request.POST:
        return _grid_page(request, grid, _unjudged(form), typed, more=1)
    stored, typed = _stored(request, grid, form, typed)
    if not stored:
        return _grid_page(request, grid, form, typed, status=400)
    return redirect("roll", roll_id)


def _stored(request, grid: ReadingGrid, form: ReadingsForm, typed: TypedGrid) -> tuple[bool, TypedGrid]:
    """Store what was typed and say so; or put what is wrong with it beside the cells and fields."""
    if not form.is_valid() or typed.errors:
        return False, typed
    asked = form.cleaned_data
    try:
        job = record_readings(
            actor=request.user,
            strip_id=grid.strip.pk,
            values=typed.values,
            instrument_id=asked["instrument_id"],
            keeps_instrument=not asked["is_for_all"],
            reason=asked["reason"],
            version=asked["version"],
        )
    except LabError as fault:
        return False, _refused(form, typed, fault, grid)
    _say(request, grid, job is not None)
    return True, typed


def _refused(form: ReadingsForm, typed: TypedGrid, fault: LabError, grid: ReadingGrid) -> TypedGrid:
    """Put each problem beside its cell, and what is about no cell above the form."""
    if fault.code == "stale":
        # The next save is meant for the readings that are shown beside what was typed now.
        form.data = form.data.copy()
        form.data["version"] = grid.version
    steps = {row.name for row in grid.rows}
    errors = {}
    for problem in fault.problems:
        name = problem["field"]
        if name in typed.texts and name.split("-")[1] in steps:
            errors[name] = problem["message"]
        else:
            form.add_error(None, problem["message"])
    if not fault.problems:
        form.refuse(fault)
    return TypedGrid(typed.texts, typed.values, typed.errors | errors)


def _say(request, grid: ReadingGrid, is_changed: bool) -> None:
    if not is_changed:
        messages.info(request, "No reading was changed.")
        return
    # The tag tells the roll's page to let go of what the browser kept of this strip.
    saved = f"The readings of strip {grid.strip.number} are saved."
    messages.success(request, saved, extra_tags=draft_key(grid.strip))
    now = editable_grid(request.user, grid.roll.pk, grid.strip.number)
    warnings = falling_steps(now).values()
    if warnings:
        text = "; ".join(list(warnings)[:MOST_WARNINGS])
        if len(warnings) > MOST_WARNINGS:
            text += f"; {len(warnings)} steps fall in all. Were they read from the other end?"
        else:
            text += "."
        messages.warning(request, f"Saved as typed, but look again: {text}")


def draft_key(strip) -> str:
    """Return the name under which the browser keeps what is typed and not saved."""
    return f"strip-{strip.pk}"


def _unjudged(form: ReadingsForm) -> ReadingsForm:
    """The same form with what was typed, before anybody asked to have it checked."""
    return ReadingsForm(initial={name: form.data.get(name) for name in form.fields})


def _grid_page(request, grid, form, typed=None, *, more: int = 0, status: int = 200):
    rows = grid_cells(grid, typed, more=more)
    errors = typed.errors if typed and status == 400 else {}
    context = {
        "roll": grid.roll,
        "strip": grid.strip,
        "grid": grid,
        "form": form,
        "rows": rows,
        "replicates": range(1, len(rows[0]["cells"]) + 1),
        "cell_errors": len(errors),
        "draft": draft_key(grid.strip),
        "spread_limit": SPREAD_LIMIT,
    }
    return render(request, "curves/rolls/readings.html", context, status=status)
