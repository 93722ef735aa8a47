"""A paper and its measured curves, each with its plot and what the engine makes of it."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.figures.tone_reproduction import paper_figure
from curves.pages.access import readers_only
from curves.pages.control.areas import StandardArea, control_tabs
from curves.pages.control.standards import shown_facts
from curves.pages.printing.paper_forms import PaperForm
from curves.queries.papers import PAPER_CATALOGUE, PAPER_MEASURES, paper_curve, paper_grade, paper_measures
from curves.sensitometry import MEASURES
from curves.services.papers import PAPERS

PAPER_AREA = StandardArea(
    key="paper",
    kind=PAPERS,
    catalogue=PAPER_CATALOGUE,
    form=PaperForm,
    title="Printing papers",
    lead="Each paper's measured curve, through which negatives are printed on the page Print tones.",
    uses_title="Points",
    revise_label="Measure again",
)
#: Places that the figure marks, by the measure that gives them.
MARKED = {"T": "paper_toe_point", "0.60": "paper_speed_point", "S": "paper_shoulder_point"}


@require_safe
@readers_only
def paper_page(request, area: StandardArea, standard_id: int):
    """Show one paper: the curve in force, and every other one."""
    paper = area.catalogue.standard(request.user, standard_id)
    revisions = area.catalogue.revisions_of(request.user, paper)
    in_force = next((r for r in revisions if r.state == "in_force"), None)
    context = {
        "standard": paper,
        "about": paper.notes,
        "revisions": revisions,
        "in_force": in_force,
        "draft": next((r for r in revisions if r.is_editable), None),
    }
    return _page(request, area, "curves/printing/paper.html", context, in_force)


@require_safe
@readers_only
def paper_revision(request, area: StandardArea, standard_id: int, number: int):
    """Show one curve of a paper, whatever its state."""
    revision = area.catalogue.revision(request.user, standard_id, number)
    others = area.catalogue.revisions(request.user).filter(paper_id=standard_id)
    before = others.filter(number__lt=number).order_by("-number").first()
    context = {
        "standard": revision.paper,
        "revision": revision,
        "before": before,
        "comparison": area.catalogue.comparison(before, revision) if before else None,
        "is_only": before is None and not others.filter(number__gt=number).exists(),
    }
    return _page(request, area, "curves/printing/paper_revision.html", context, revision)


def _page(request, area: StandardArea, template: str, context: dict, revision):
    context |= {"area": area, "tabs": control_tabs(request.user, area.route["list"])}
    if revision is not None:
        context |= _curve_context(area, revision)
    return render(request, template, context)


def _curve_context(area: StandardArea, revision) -> dict:
    measures = paper_measures(revision)
    marks = {mark: measures[name].value for mark, name in MARKED.items() if measures[name].value is not None}
    return {
        "facts": shown_facts(area, revision),
        "points": revision.points.all(),
        "measures": [(MEASURES[name], measures[name]) for name in PAPER_MEASURES],
        "grade": paper_grade(measures),
        "figure": paper_figure(paper_curve(revision), is_absolute=revision.is_absolute, marks=marks),
    }
