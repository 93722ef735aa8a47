"""What a study says: precision, gauge studies, pairs of instruments, and the corrections it proposes."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from curves.models import AgreementReading, AgreementStudy, Instrument, InstrumentCorrection
from curves.queries.agreement import (
    engine_study_readings,
    member_names,
    standing_study_readings,
    study_groups,
    study_steps,
)
from curves.queries.applied_corrections import corrected_value, correction_of, standing_corrections
from curves.queries.inputs import digest_of
from curves.sensitometry.agreeing.study_corrections import (
    Comparison,
    certified,
    compared,
    consensus,
    no_comparison,
    with_reference_error,
)
from curves.sensitometry.agreeing.study_gauge import StudyGauge, study_gauge
from curves.sensitometry.agreeing.study_precision import StudyPrecision, study_precision
from curves.sensitometry.agreeing.study_readings import StudyReading, step_means
from labsite.common.errors import InvalidInput

CONSENSUS, CERTIFIED = "consensus", "certified"


@dataclass(frozen=True)
class Reference:
    """What the instruments of a study are held against: its key in addresses, and what to say of it."""

    key: str
    title: str
    instrument: Instrument | None
    caution: str


@dataclass(frozen=True)
class Proposal:
    """A correction that a study proposes for an instrument, with what stands against it."""

    instrument: Instrument
    reference: Reference
    comparison: Comparison
    cautions: tuple[str, ...]
    standing: InstrumentCorrection | None
    seen: str

    @property
    def correction(self):
        """The line itself."""
        return self.comparison.correction

    @property
    def is_reference(self) -> bool:
        """Whether the instrument is what the others are held against."""
        return self.reference.instrument == self.instrument

    @property
    def basis(self) -> str:
        """What it rests on, in words."""
        steps = len(self.comparison.steps)
        return f"{steps} steps against {self.reference.title}, {METHODS[self.correction.method]}"


METHODS = {
    "york": "York’s line with the readings' own spread on both sides",
    "deming": "Deming’s line with equal errors on both sides, since nobody read twice",
    "none": "no line",
}


@dataclass(frozen=True)
class StudyResults:
    """Everything that the readings of a study say, whatever the reference."""

    study: AgreementStudy
    readings: tuple[AgreementReading, ...]
    engine_readings: tuple[StudyReading, ...]
    groups: tuple
    precision: StudyPrecision
    gauge: StudyGauge

    @property
    def instruments(self) -> list[Instrument]:
        """The instruments that read, by name."""
        return sorted({each.instrument for each in self.readings}, key=lambda one: one.name)


def study_results(study: AgreementStudy) -> StudyResults:
    """Return what the standing readings of a study say."""
    readings = standing_study_readings(study)
    taken = engine_study_readings(readings)
    return StudyResults(
        study,
        tuple(readings),
        tuple(taken),
        tuple(study_groups(readings)),
        study_precision(taken),
        study_gauge(taken),
    )


def study_references(results: StudyResults) -> list[Reference]:
    """Return what the instruments may be held against: certified densities first, then each, then all."""
    found = []
    tablet = results.study.tablet_revision
    if tablet is not None:
        found.append(
            Reference(
                CERTIFIED,
                f"the certified densities of {tablet}",
                None,
                f"The certificate's uncertainty of {tablet.density_sd:g} D is taken as each step's own.",
            )
        )
    for each in results.instruments:
        text = f"Whatever {each} itself reads wrongly is in every correction that rests on it."
        found.append(Reference(str(each.pk), str(each), each, text))
    text = (
        "The median of the instruments: it tells that they differ, not which one is right. "
        "What most of them read wrongly stays."
    )
    found.append(Reference(CONSENSUS, "the consensus of all instruments", None, text))
    return found


def chosen_reference(results: StudyResults, key: str) -> Reference:
    """Return the reference of this key; the first there is where none is asked for."""
    references = study_references(results)
    if not key:
        return references[0]
    found = next((each for each in references if each.key == key), None)
    if found is None:
        raise InvalidInput("Choose a reference that took part in the study.", field="reference")
    return found


def study_proposals(results: StudyResults, reference: Reference) -> list[Proposal]:
    """Return for every instrument what would take it to the reference, or why nothing may."""
    standing = standing_corrections(each.pk for each in results.instruments)
    return [_proposal(results, reference, each, standing) for each in results.instruments]


def study_proposal(results: StudyResults, reference: Reference, instrument_id: int) -> Proposal:
    """Return the proposal for one instrument."""
    for each in study_proposals(results, reference):
        if each.instrument.pk == instrument_id:
            return each
    raise InvalidInput("This instrument has no readings in the study that count.", field="instrument_id")


def instrument_pair(results: StudyResults, first: Instrument, second: Instrument) -> Comparison:
    """Return two instruments of a study held against each other, both as read."""
    return compared(results.engine_readings, first.name, step_means(results.engine_readings, second.name))


def _proposal(results: StudyResults, reference: Reference, instrument: Instrument, standing) -> Proposal:
    comparison = _comparison(results, reference, instrument, standing)
    today = timezone.localdate()
    in_force = [each for each in standing.get(instrument.pk, ()) if each.applies_from_on <= today]
    correction = comparison.correction
    seen = {"readings": sorted(each.pk for each in results.readings), "correction": correction.to_dict()}
    return Proposal(
        instrument=instrument,
        reference=reference,
        comparison=comparison,
        cautions=tuple(_cautions(results, reference, instrument, comparison)),
        standing=in_force[0] if in_force else None,
        seen=digest_of(seen)[:16],
    )


def _comparison(results: StudyResults, reference: Reference, instrument: Instrument, standing) -> Comparison:
    readings = results.engine_readings
    if reference.instrument == instrument:
        return no_comparison("REFERENCE_ITSELF", "it is what the others are held against")
    if reference.key == CERTIFIED:
        known = study_steps(results.study)
        return compared(readings, instrument.name, certified(known, results.study.tablet_revision.density_sd))
    if reference.key == CONSENSUS:
        return _against_consensus(readings, instrument, results.instruments, standing)
    corrections = standing.get(reference.instrument.pk)
    if not corrections:
        return compared(readings, instrument.name, step_means(readings, reference.instrument.name))
    corrected, used = _corrected(results.readings, reference.instrument, standing)
    comparison = compared(readings, instrument.name, step_means(corrected, reference.instrument.name))
    for each in used:
        shared = each.shared_covariance
        covariance = [[each.offset_variance, shared], [shared, each.slope_variance]]
        comparison = with_reference_error(comparison, covariance)
    return comparison


def _against_consensus(readings, instrument: Instrument, instruments, standing) -> Comparison:
    corrected = [each.name for each in instruments if each != instrument and each.pk in standing]
    if corrected:
        text = f"{', '.join(corrected)}: corrected already; take one of them as the reference"
        return no_comparison("CORRECTED_ALREADY", text)
    middle = consensus(readings)
    if middle is None:
        text = "a consensus needs three instruments; with two, choose which one is the reference"
        return no_comparison("TOO_FEW_LABS", text)
    return compared(readings, instrument.name, middle)


def _corrected(readings: Sequence[AgreementReading], reference: Instrument, standing):
    """The reference's readings as its own correction has them, and the corrections used."""
    names = member_names(list(readings))
    found, used = [], {}
    for each in readings:
        if each.instrument_id != reference.pk:
            continue
        correction = correction_of(standing, reference.pk, each.read_at)
        density = each.density if correction is None else corrected_value(correction, each.density)
        if correction is not None:
            used[correction.pk] = correction
        if density is not None:
            found.append(StudyReading(each.step, names[each.read_by_id], reference.name, density))
    return found, list(used.values())


def _cautions(
    results: StudyResults, reference: Reference, instrument: Instrument, comparison: Comparison
) -> list[str]:
    if not comparison.correction.is_known:
        return []
    found = []
    if comparison.member_sd is None:
        found.append(
            "Nobody's hand can be told from the instrument: no instrument was read by two members, so what "
            "members do differently is taken for the instrument's and is not in the uncertainty."
        )
    elif comparison.member_sd > 0:
        found.append(
            f"Members who shared an instrument differ by {comparison.member_sd:.3f} D (standard deviation); "
            "as not the same members read both sides, that is in the uncertainty."
        )
    if comparison.plot.mean_difference.value is not None:
        low, high = comparison.plot.mean_difference.low, comparison.plot.mean_difference.high
        slope = comparison.correction.slope
        if low <= 0 <= high and slope.low <= 1 <= slope.high:
            found.append("The instrument agrees with the reference within what the study can tell.")
    return found
