"""What the page of a study shows of its results: rows of its tables, sentences, and the figure of a pair."""

from dataclasses import dataclass

from curves.figures.agreement import describe_difference, difference_figure
from curves.models import Instrument
from curves.queries.study_results import Proposal, Reference, StudyResults, instrument_pair, study_proposals
from curves.sensitometry.agreeing.instrument_correction import corrected_density
from curves.sensitometry.agreeing.study_corrections import Comparison
from curves.sensitometry.agreeing.study_precision import SetAside, StepPrecision
from labsite.common.errors import NotFound
from labsite.templatetags.measures import number_text

TESTS = {
    "cochran": "Cochran’s test: its repeated readings lie too far apart",
    "grubbs_high": "Grubbs’ test: its mean lies too high",
    "grubbs_low": "Grubbs’ test: its mean lies too low",
}
#: Densities at which a correction is shown, where they were tested.
SHOWN_AT = (0.1, 1.0, 2.0, 3.0)


@dataclass(frozen=True)
class StepRow:
    """One step in the table of precision."""

    step: StepPrecision
    set_aside: tuple[str, ...]


@dataclass(frozen=True)
class ProposalRow:
    """A proposed correction, and what it makes of a few densities."""

    proposal: Proposal
    effects: tuple[tuple[float, object], ...]
    why_not: str


@dataclass(frozen=True)
class PairView:
    """Two instruments held against each other."""

    first: Instrument
    second: Instrument
    comparison: Comparison
    sentence: str
    figure: dict | None
    rows: tuple[tuple, ...]


def precision_rows(results: StudyResults) -> list[StepRow]:
    """Return the steps with who was set aside at each."""
    return [StepRow(step, tuple(each.group for each in step.set_aside)) for step in results.precision.steps]


def found_words(found: SetAside) -> str:
    """Return what a test said of somebody's readings of a step."""
    test = found.test
    return (
        f"{TESTS.get(test.test, test.test)} ({number_text(test.statistic, 3)}, "
        f"1 % value {number_text(test.critical_1, 3)})"
    )


def proposal_rows(results: StudyResults, reference: Reference) -> list[ProposalRow]:
    """Return the corrections that the study proposes against a reference."""
    return [proposal_row(each) for each in study_proposals(results, reference) if not each.is_reference]


def proposal_row(proposal: Proposal) -> ProposalRow:
    """Return one proposal with what it makes of a few densities that were tested."""
    line = proposal.correction
    if not line.is_known:
        return ProposalRow(proposal, (), line.offset.note)
    made = ((density, corrected_density(line, density)) for density in SHOWN_AT)
    return ProposalRow(proposal, tuple((at, each) for at, each in made if each.value is not None), "")


def pair_view(results: StudyResults, first: str, second: str) -> PairView | None:
    """Return two instruments of a study; the first two where none are asked for, None with one."""
    instruments = results.instruments
    if len(instruments) < 2:
        return None
    one = _asked(instruments, first, instruments[1])
    other = _asked(instruments, second, instruments[0] if one != instruments[0] else instruments[1])
    if one == other:
        other = next(each for each in instruments if each != one)
    comparison = instrument_pair(results, one, other)
    has_plot = comparison.plot.mean_difference.value is not None
    differences = comparison.readings - comparison.reference
    table = zip(comparison.steps, comparison.readings, comparison.reference, differences, strict=True)
    return PairView(
        one,
        other,
        comparison,
        describe_difference(comparison, str(one), str(other)),
        difference_figure(comparison, str(one), str(other), comparison.steps) if has_plot else None,
        tuple((step, float(x), float(y), float(d)) for step, x, y, d in table),
    )


def _asked(instruments: list[Instrument], key: str, usual: Instrument) -> Instrument:
    if not key:
        return usual
    found = next((each for each in instruments if str(each.pk) == key), None)
    if found is None:
        raise NotFound("There is no such instrument in the study.")
    return found
