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
        *_some(("Agitation for the timer", agitation_words(revision))),
        ("Stop bath", _with_time(revision.stop_bath, revision.stop_s)),
        ("Fixer", _with_time(revision.fixer, revision.fix_s)),
        ("Wash", _with_time(revision.wash, revision.wash_s)),
        *_some(("A batch of developer keeps", number_text(revision.developer_keeps_days, "days"))),
        *_some(("Films through a batch at most", number_text(revision.developer_films))),
        ("Cautions of this process", revision.cautions),
    ]


def agitation_words(revision: ProcessRevision) -> str:
    """Return the agitation in numbers, as the timer keeps to it; empty where there are none."""
    parts = []
    if revision.agitation_initial_s:
        parts.append(f"the first {revision.agitation_initial_s} s")
    if revision.agitation_every_s:
        parts.append(f"{revision.agitation_for_s} s every {revision.agitation_every_s} s")
    return ", then ".join(parts)


def _some(*facts: tuple[str, str]) -> Facts:
    return [(label, text) for label, text in facts if text]


def _with_time(bath: str, seconds: int | None) -> str:
    return "; ".join(part for part in (bath, minutes_text(seconds) if seconds else "") if part)


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
