"""What scripts get of studies of agreement and of the corrections they propose."""

from rest_framework import serializers

from curves.api.engine import MeasureSerializer
from curves.models import Instrument
from curves.queries.study_results import Proposal, Reference, StudyResults, study_proposals, study_references
from curves.sensitometry.agreeing.study_precision import SetAside, StepPrecision
from labsite.accounts.api.fields import Choice, PersonSerializer


class AgreementStudySerializer(serializers.Serializer):
    """A strip that goes round."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    strip_name = serializers.CharField()
    tablet_revision_id = serializers.IntegerField(allow_null=True)
    step_count = serializers.IntegerField()
    density_type = Choice(Instrument.DensityType)
    geometry = Choice(Instrument.Geometry)
    planned_replicates = serializers.IntegerField()
    notes = serializers.CharField()
    created_by = PersonSerializer()
    created_at = serializers.DateTimeField()
    closed_at = serializers.DateTimeField(allow_null=True, help_text="Null: open.")
    reading_count = serializers.IntegerField(help_text="Readings that count.")
    member_count = serializers.IntegerField()
    instrument_count = serializers.IntegerField()


class StudyReadingSerializer(serializers.Serializer):
    """A reading of a study that counts, as read."""

    step = serializers.IntegerField()
    replicate = serializers.IntegerField()
    density = serializers.FloatField()
    instrument_id = serializers.IntegerField()
    read_by = PersonSerializer()
    read_at = serializers.DateTimeField()


class FoundApartSerializer(serializers.Serializer):
    """Somebody's readings of a step that a test found apart."""

    step = serializers.IntegerField()
    group = serializers.CharField(help_text="The member with the instrument.")
    test = serializers.CharField(help_text="`cochran`, `grubbs_high` or `grubbs_low`.")
    statistic = serializers.FloatField()
    critical_1 = serializers.FloatField(help_text="Critical value at 1 %.")


class StepPrecisionSerializer(serializers.Serializer):
    """One step; without what was set aside, but for `all_in`."""

    step = serializers.IntegerField()
    mean = MeasureSerializer()
    repeatability_sd = MeasureSerializer()
    reproducibility_sd = MeasureSerializer()
    reproducibility_sd_all_in = MeasureSerializer()


class StudyPrecisionSerializer(serializers.Serializer):
    """Repeatability and reproducibility over all steps, and step by step."""

    repeatability_sd = MeasureSerializer()
    reproducibility_sd = MeasureSerializer()
    repeatability_sd_all_in = MeasureSerializer()
    reproducibility_sd_all_in = MeasureSerializer()
    passes_house_limits = serializers.BooleanField(allow_null=True)
    set_aside = FoundApartSerializer(many=True)
    stragglers = FoundApartSerializer(many=True)
    steps = StepPrecisionSerializer(many=True)


class StudyGaugeSerializer(serializers.Serializer):
    """The gauge study by both methods."""

    anova = serializers.DictField(allow_null=True, help_text="By analysis of variance.")
    by_range = serializers.DictField(allow_null=True, help_text="By the mean range.")
    withheld = serializers.CharField(help_text="Why there is none; empty where there is.")
    groups = serializers.ListField(child=serializers.CharField())
    left_out = serializers.ListField(child=serializers.CharField())


class StudyReferenceSerializer(serializers.Serializer):
    """What instruments may be held against."""

    key = serializers.CharField()
    title = serializers.CharField()
    caution = serializers.CharField()


class ProposedCorrectionSerializer(serializers.Serializer):
    """A correction that the study proposes, or why it does not."""

    instrument_id = serializers.IntegerField()
    instrument = serializers.CharField()
    offset = MeasureSerializer(help_text="Add this to slope times the reading; D.")
    slope = MeasureSerializer()
    covariance = serializers.ListField(
        allow_null=True,
        child=serializers.ListField(child=serializers.FloatField()),
        help_text="Of offset and slope; null: no correction.",
    )
    tested = serializers.ListField(
        allow_null=True, child=serializers.FloatField(), help_text="Readings it holds between, D."
    )
    method = serializers.CharField()
    basis = serializers.CharField()
    cautions = serializers.ListField(child=serializers.CharField())
    seen = serializers.CharField(help_text="Give this when you bring it into force.")


class StudyResultsSerializer(serializers.Serializer):
    """Everything that a study says, held against one reference."""

    study_id = serializers.IntegerField()
    precision = StudyPrecisionSerializer()
    gauge = StudyGaugeSerializer()
    references = StudyReferenceSerializer(many=True)
    reference = serializers.CharField(help_text="Key of the one that `corrections` are against.")
    corrections = ProposedCorrectionSerializer(many=True)


def study_document(results: StudyResults, reference: Reference) -> dict:
    """Return what a study says, as scripts get it."""
    found = results.precision
    gauge = results.gauge
    return {
        "study_id": results.study.pk,
        "precision": {
            "repeatability_sd": found.repeatability_sd.to_dict(),
            "reproducibility_sd": found.reproducibility_sd.to_dict(),
            "repeatability_sd_all_in": found.repeatability_of_all.to_dict(),
            "reproducibility_sd_all_in": found.reproducibility_of_all.to_dict(),
            "passes_house_limits": found.passes_house_limits,
            "set_aside": [_found_apart(each) for each in found.set_aside],
            "stragglers": [_found_apart(each) for each in found.stragglers],
            "steps": [_step(each) for each in found.steps],
        },
        "gauge": {
            "anova": gauge.anova.to_dict() if gauge.anova else None,
            "by_range": gauge.by_range.to_dict() if gauge.by_range else None,
            "withheld": gauge.withheld or gauge.range_withheld,
            "groups": list(gauge.groups),
            "left_out": list(gauge.left_out),
        },
        "references": StudyReferenceSerializer(study_references(results), many=True).data,
        "reference": reference.key,
        "corrections": [_proposed(each) for each in study_proposals(results, reference)],
    }


def _found_apart(found: SetAside) -> dict:
    return {
        "step": found.step,
        "group": found.group,
        "test": found.test.test,
        "statistic": found.test.statistic,
        "critical_1": found.test.critical_1,
    }


def _step(step: StepPrecision) -> dict:
    return {
        "step": step.step,
        "mean": step.precision.mean.to_dict(),
        "repeatability_sd": step.precision.repeatability_sd.to_dict(),
        "reproducibility_sd": step.precision.reproducibility_sd.to_dict(),
        "reproducibility_sd_all_in": step.of_all.reproducibility_sd.to_dict(),
    }


def _proposed(proposal: Proposal) -> dict:
    line = proposal.correction.to_dict()
    return {
        "instrument_id": proposal.instrument.pk,
        "instrument": proposal.instrument.name,
        **{name: line[name] for name in ("offset", "slope", "covariance", "tested", "method")},
        "basis": proposal.basis,
        "cautions": list(proposal.cautions),
        "seen": proposal.seen,
    }
