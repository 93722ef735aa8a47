"""One roll: what comes next, its curve and measures, its conditions, its review and its history."""

from django.contrib.messages import get_messages
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from curves.figures import characteristic_figure, comparison_figure, line_style
from curves.models.processes import ControlState
from curves.pages.access import readers_only
from curves.pages.rolls.forms import AcceptForm, OverrideForm, RemarkForm, ReturnForm
from curves.pages.rolls.measure_groups import grouped_measures, key_measures
from curves.pages.rolls.step_rows import step_rows, things_to_look_at
from curves.queries.roll_page import RollPage, roll_page
from curves.sensitometry import MEASURES, Analysis

#: What is compared with earlier rolls at a glance, after the speed.
COMPARED = ("average_gradient_150", "base_plus_fog", "d_max")


@require_safe
@never_cache
@readers_only
def roll(request, roll_id: int):
    """Show one roll."""
    return roll_response(request, roll_id)


def roll_response(request, roll_id: int, *, status: int = 200, **forms):
    """Return the roll's page, with the form that was refused in place of its empty one."""
    page = roll_page(request.user, roll_id)
    context = {"page": page, "roll": page.roll, "saved_drafts": _saved_drafts(request)}
    context |= _result_context(page) if page.result else {}
    context |= _form_context(page) | forms
    return render(request, "curves/rolls/roll.html", context, status=status)


def _result_context(page: RollPage) -> dict:
    result = page.result
    things = things_to_look_at(result, page.spreads)
    return {
        "figure": characteristic_figure(result),
        "key_measures": key_measures(result),
        "measure_groups": grouped_measures(result),
        "step_rows": step_rows(result),
        "things": things,
        "remark_count": len(things),
        "compared": _compared(page),
        "overlay": _overlay(page) if page.actions.can_review and page.earlier else None,
    }


def _compared(page: RollPage) -> dict:
    """This roll and the stock's earlier ones, each with the measures that tell them apart."""
    # Without absolute exposure there is no speed, but the same exposures still give the same points.
    speed = "exposure_index" if page.result.exposure == "absolute" else "speed_point_log_exposure"
    names = (speed, *COMPARED)
    this = (page.roll, [(name, page.result.measures[name]) for name in names])
    earlier = [
        (each, [(name, each.current_analysis.measures.get(name)) for name in names]) for each in page.earlier
    ]
    return {"columns": [MEASURES[name] for name in names], "rows": [this, *earlier]}


def _overlay(page: RollPage) -> dict:
    """This roll's curve in colour over the earlier ones in grey."""
    curves = [(page.roll.code, page.result)]
    curves += [(each.code, Analysis.from_dict(each.current_analysis.as_dict())) for each in page.earlier]
    tests = [(code, curve, line_style(at, f"roll-{code}")) for at, (code, curve) in enumerate(curves)]
    return comparison_figure(None, tests, bands=True, lit={f"roll-{page.roll.code}"})


def _form_context(page: RollPage) -> dict:
    run = page.roll.run
    is_out = run is not None and run.control_state == ControlState.OUT_OF_CONTROL
    seen = {"seen_analysis_id": page.roll.current_analysis_id}
    return {
        "is_out_of_control": is_out,
        "accept_form": AcceptForm(initial=seen, is_out_of_control=is_out),
        "return_form": ReturnForm(initial=seen),
        "override_form": OverrideForm(),
        "remark_form": RemarkForm(),
    }


def _saved_drafts(request) -> list[str]:
    """Strips whose readings were just saved, so that the browser lets go of what it kept of them."""
    return [message.extra_tags for message in get_messages(request) if message.extra_tags]
