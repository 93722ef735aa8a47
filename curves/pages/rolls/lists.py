"""The list of test rolls."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.listing import csv_file, export_url, is_export, kept_parameters, page_of, sorted_rows
from curves.pages.rolls.forms import RollFilterForm
from curves.queries.rolls import listed_rolls, roll_choices
from curves.sensitometry import MEASURES
from labsite.common.access import is_member

SORT_KEYS = {
    "roll": "pk",
    "stock": "batch__stock__name",
    "state": "state",
    "member": "member__display_name",
    "exposed": "exposed_on",
}
EXPORTED_MEASURES = ("exposure_index", "iso_speed", "average_gradient_150", "base_plus_fog", "d_max")


@require_safe
@readers_only
def roll_list(request):
    """List the rolls that this person may see, newest first unless sorted otherwise."""
    for_member = is_member(request.user)
    form = RollFilterForm(request.GET, choices=roll_choices(request.user), is_for_member=for_member)
    rolls = listed_rolls(request.user, form.wanted())
    rolls = sorted_rows(request, rolls, SORT_KEYS, default="-roll")
    if is_export(request):
        return csv_file("rolls.csv", rolls, _columns(for_member))
    context = {
        "form": form,
        "page": page_of(request, rolls),
        "export_url": export_url(request),
        "keep": kept_parameters(request, "sort"),
        "is_filtered": any(request.GET.get(name) for name in form.fields),
    }
    return render(request, "curves/rolls/list.html", context)


def _columns(for_member: bool):
    columns = [
        ("roll", lambda roll: roll.code),
        ("stock", lambda roll: roll.batch.stock.name),
        ("maker", lambda roll: roll.batch.stock.maker),
        ("batch", lambda roll: roll.batch.emulsion_number),
        ("state", lambda roll: roll.get_state_display()),
        ("process standard", lambda roll: str(roll.process_revision)),
        ("exposure standard", lambda roll: str(roll.exposure_revision)),
        ("exposed on", lambda roll: roll.exposed_on),
        ("run", lambda roll: roll.run_id),
        ("run state", lambda roll: roll.run and roll.run.get_control_state_display()),
        *((_measure_title(name), _measure_value(name)) for name in EXPORTED_MEASURES),
        ("control override", lambda roll: roll.control_override_reason),
    ]
    if for_member:
        columns.insert(4, ("member", lambda roll: str(roll.member)))
    return columns


def _measure_title(name: str) -> str:
    unit = MEASURES[name].unit
    return f"{name} [{unit}]" if unit else name


def _measure_value(name: str):
    def value(roll):
        return roll.current_analysis and roll.current_analysis.measures.get(name, {}).get("value")

    return value
