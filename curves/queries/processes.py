"""Process standards as people read them."""

from curves.models import ProcessRevision, ProcessStandard
from curves.models.processes import TimeRule
from curves.queries.revisions import Catalogue, Facts, minutes_text, number_text


def process_facts(revision: ProcessRevision) -> Facts:
    """Return what a process revision fixes, in the order of the work."""
    return [
        ("Developer", revision.developer),
        ("Dilution", revision.dilution),
        ("Temperature", number_text(revision.temperature_c, "°C")),
        ("Tolerance of temperature", f"± {number_text(revision.temperature_tolerance_c, '°C')}"),
        ("Time rule", revision.get_time_rule_display()),
        *_time_facts(revision),
        ("Agitation", revision.agitation),
        ("Stop bath", revision.stop_bath),
        ("Fixer", revision.fixer),
        ("Wash", revision.wash),
        ("Cautions of this process", revision.cautions),
    ]


def _time_facts(revision: ProcessRevision) -> Facts:
    if revision.time_rule == TimeRule.FIXED:
        return [
            ("Developing time", minutes_text(revision.development_time_s)),
            ("Tolerance of time", f"± {number_text(revision.time_tolerance_s, 's')}"),
        ]
    if revision.time_rule == TimeRule.AIM_CONTRAST:
        return [("Average gradient to aim at", number_text(revision.aim_contrast))]
    return []


PROCESS_CATALOGUE = Catalogue(
    standard_model=ProcessStandard,
    revision_model=ProcessRevision,
    noun="process standard",
    link="standard",
    uses="rolls",
    facts=process_facts,
)
