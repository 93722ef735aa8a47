"""A run judged by its control strips, beside its tolerances; each verdict kept with what it rests on."""

from curves.models import ProcessRun, StripJudgement
from curves.models.processes import ControlState
from curves.queries.strip_windows import verdicts_of
from curves.sensitometry import ENGINE_VERSION

#: A batch that is out decides; one in control proves more than one without aims.
RANK = (ControlState.OUT_OF_CONTROL, ControlState.IN_CONTROL, ControlState.UNPROVEN)

DOUBTED = "control strip: it was read by an instrument that was found wrong in those days"


def judged_by_strips(run: ProcessRun) -> tuple[str, str]:
    """Judge a run by the strips that stand, keep the verdicts, and return state and reason.

    Without a strip that counts the state is unproven and the reason empty.
    """
    verdicts = verdicts_of(run)
    run.strip_judgements.filter(is_current=True).update(is_current=False)
    StripJudgement.objects.bulk_create(
        StripJudgement(
            run=run,
            strip_batch_id=each.batch_id,
            aims=each.aims,
            state=each.verdict.state,
            reason_code=each.verdict.reason or "",
            verdict=each.verdict.to_dict(),
            engine_version=ENGINE_VERSION,
        )
        for each in verdicts
    )
    return _decided(run, [(each.verdict.state, each.verdict.text) for each in verdicts])


def kept_by_strips(run: ProcessRun) -> tuple[str, str]:
    """Return state and reason as the strips were last judged, without judging them again."""
    judgements = run.strip_judgements.filter(is_current=True)
    told = [(each.state, each.verdict["text"]) for each in judgements.order_by("strip_batch")]
    return _decided(run, told)


def _decided(run: ProcessRun, verdicts: list[tuple[str, str]]) -> tuple[str, str]:
    """Return the state and reason of a run that several batches of strips speak of."""
    if not verdicts:
        is_doubted = run.control_strips.filter(is_current=True).exists()
        return ControlState.UNPROVEN, DOUBTED if is_doubted else ""
    state, text = min(verdicts, key=lambda each: RANK.index(each[0]))
    return state, reason_in_words(text)


def reason_in_words(text: str) -> str:
    """Return a verdict's text without the state that it begins with: pages show that beside it."""
    for opening in ("Out of control. ", "Unproven. ", "In control: "):
        text = text.removeprefix(opening)
    return f"control strip: {text[:1].lower()}{text[1:]}".rstrip(".")
