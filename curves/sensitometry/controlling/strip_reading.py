"""What a control strip says: in control, out of control by which rule on which step, or unproven and why."""

from collections.abc import Sequence

import numpy as np
from scipy.special import chdtri

from curves.sensitometry.codes import REASONS
from curves.sensitometry.controlling.aims import StripAims
from curves.sensitometry.controlling.control_strips import QUANTITIES, UNIT, ControlStrip, quantity_values
from curves.sensitometry.controlling.rule_definitions import RULE_SETS
from curves.sensitometry.controlling.run_rules import Signal, rule_signals
from curves.sensitometry.controlling.strip_causes import UNKNOWN_NOTE, likely_causes
from curves.sensitometry.controlling.strip_verdicts import (
    IN_CONTROL,
    OUT_OF_CONTROL,
    UNPROVEN,
    Deviation,
    StripVerdict,
)
from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure

MOVED = 2.0  # score from which a step counts as moved once a rule is broken: the warning limit


def classify_strip(
    strip: ControlStrip,
    aims: StripAims | None,
    history: Sequence[ControlStrip] = (),
    *,
    rules: str = "warning",
    watch_rules: str = "western_electric",
) -> StripVerdict:
    """The verdict of one strip.

    Parameters
    ----------
    strip : ControlStrip
        The newest strip.
    aims : StripAims or None
        What it is held against.
    history : sequence of ControlStrip
        Earlier strips in the order of time; those of the same strip batch and developer batch share its
        windows.
    rules : str
        Key of `RULE_SETS`: the rules that put a run out of control. With all of Western Electric's on four
        quantities, one strip in 23 would do so by chance.
    watch_rules : str
        Key of `RULE_SETS`: rules that call for attention only.

    Returns
    -------
    StripVerdict
        ``unproven`` with ``NO_AIMS``, ``OTHER_STRIP_BATCH``, ``TOO_FEW_STRIPS`` (a quantity that control
        needs has no aim), ``MISSING_STEP`` or ``PROVISIONAL_AIMS``. A broken rule counts whatever is
        missing beside it. A deviation within the reading's own uncertainty is on neither side of the aim.
    """
    if aims is None or not aims.aims:
        return _unproven("NO_AIMS")
    if aims.strip_batch != strip.strip_batch:
        return _unproven("OTHER_STRIP_BATCH")
    window = [*(earlier for earlier in history if earlier.phase == strip.phase), strip]
    scores = {name: _scores(window, aims, name) for name, aim in aims.aims.items() if aim.is_known}
    deviations = {name: each for name in scores if (each := _deviation(strip, aims, name)) is not None}
    signals = _signals_now(scores, rules)
    broken = {(name, signal.rule) for name, signal in signals}
    watch = tuple(
        (name, signal)
        for name, signal in _signals_now(scores, watch_rules)
        if (name, signal.rule) not in broken
    )
    directions = _directions(scores, signals)
    onset = _onset(scores, signals)
    causes = likely_causes(directions, onset, _is_even(deviations, aims)) if signals else ()
    state, reason = _state(strip, aims, scores, signals)
    return StripVerdict(
        state,
        reason,
        _wording(state, reason, signals, watch, deviations),
        deviations,
        signals,
        watch,
        directions,
        onset,
        causes,
        UNKNOWN_NOTE if signals and not causes else "",
        _false_alarms(rules, [aims.aims[name].false_alarm_factor for name in scores]),
    )


def _unproven(reason: str) -> StripVerdict:
    return StripVerdict(
        state=UNPROVEN,
        reason=reason,
        text=f"Unproven. {REASONS[reason]}",
        deviations={},
        signals=(),
        watch=(),
        directions=dict.fromkeys(QUANTITIES, "?"),
        onset="",
        causes=(),
        causes_note="",
        false_alarm_strips=None,
    )


def _signals_now(scores: dict[str, np.ndarray], rules: str) -> tuple[tuple[str, Signal], ...]:
    """Rules that the newest strip breaks, by quantity."""
    return tuple(
        (name, signal)
        for name, points in scores.items()
        for signal in rule_signals(points, None, rules)
        if signal.index == points.size - 1
    )


def _scores(window: Sequence[ControlStrip], aims: StripAims, quantity: str) -> np.ndarray:
    aim = aims.aims[quantity]
    deviations = quantity_values(window, quantity) - aim.centre.value
    untold = np.array([strip.uncertainty(quantity) for strip in window])
    with np.errstate(invalid="ignore"):
        return np.where(np.abs(deviations) < untold, 0.0, aim.score(deviations))


def _deviation(strip: ControlStrip, aims: StripAims, quantity: str) -> Deviation | None:
    value, aim = strip.value(quantity), aims.aims[quantity]
    if value is None:
        return None
    difference = value - aim.centre.value
    sd = float(np.hypot(strip.uncertainty(quantity), aim.centre.standard_error or 0.0))
    score = float(aim.score(difference))
    size = abs(score) - 1e-9  # on a limit is not beyond it
    return Deviation(
        quantity,
        value,
        Measure("control_deviation", difference, difference - Z95 * sd, difference + Z95 * sd, UNIT),
        score,
        "action" if size > 3 else "warning" if size > 2 else "within",
    )


def _directions(scores: dict[str, np.ndarray], signals) -> dict[str, str]:
    """Which way each quantity moved: by a broken rule, else by its place in the newest strip."""
    directions = dict.fromkeys(QUANTITIES, "?")
    for name, points in scores.items():
        sides = {signal.side for quantity, signal in signals if quantity == name} - {0}
        score = points[-1]
        if len(sides) == 1:
            directions[name] = "+" if sides == {1} else "-"
        elif np.isfinite(score):
            directions[name] = "0" if abs(score) < MOVED else "+" if score > 0 else "-"
    return directions


def _onset(scores: dict[str, np.ndarray], signals) -> str:
    """Whether the quantity that broke a rule moved at once, or was moving over the strips before."""
    for name, signal in signals:
        points = scores[name][np.isfinite(scores[name])]
        if points.size < 3 or signal.side == 0:
            continue
        # Two strips before already between the aim and here, each further than the one before it.
        before = signal.side * points[-3:-1]
        return "gradual" if before[1] > 1 and before[1] > before[0] > 0 else "sudden"
    return ""


def _is_even(deviations: dict[str, Deviation], aims: StripAims) -> bool:
    """Whether the densities themselves moved by amounts that the spread of strips does not tell apart."""
    plain = [name for name in ("base_fog", "speed_step", "dmax") if name in deviations]
    if len(plain) < 2:
        return False
    moved = np.array([deviations[name].difference.value for name in plain])
    weight = np.array([aims.aims[name].spread.value ** -2 for name in plain])
    common = float(weight @ moved / weight.sum())
    misfit = float(weight @ (moved - common) ** 2)
    return misfit < chdtri(len(plain) - 1, 0.05) and abs(common) > 3 / weight.sum() ** 0.5


def _state(strip: ControlStrip, aims: StripAims, scores, signals) -> tuple[str, str | None]:
    if signals:
        return OUT_OF_CONTROL, None
    if aims.lacking:
        return UNPROVEN, "TOO_FEW_STRIPS"
    if any(strip.value(name) is None for name in scores):
        return UNPROVEN, "MISSING_STEP"
    if aims.is_provisional:
        return UNPROVEN, "PROVISIONAL_AIMS"
    return IN_CONTROL, None


def _wording(state: str, reason: str | None, signals, watch, deviations: dict[str, Deviation]) -> str:
    near = [QUANTITIES[name] for name, each in deviations.items() if each.place == "warning"]
    parts = [
        f"Out of control. {_broken(signals, deviations)}"
        if state == OUT_OF_CONTROL
        else f"Unproven. {REASONS[reason]}"
        if state == UNPROVEN
        else "In control: no rule is broken on any step."
    ]
    if near and state != OUT_OF_CONTROL:
        parts.append(f"Beyond the warning limit: {', '.join(near)}.")
    if watch:
        parts.append(f"To watch: {_broken(watch, deviations)}")
    return " ".join(parts)


def _broken(signals, deviations: dict[str, Deviation]) -> str:
    return " ".join(
        f"{QUANTITIES[name]} ({deviations[name].difference.value:+.3f} D from its aim): {signal.text}"
        for name, signal in signals
    ).replace("(-", "(−")


def _false_alarms(rules: str, factors: list[float | None]) -> float | None:
    if not factors or None in factors:
        return None
    # As if the quantities varied independently; they do not quite, so alarms are somewhat rarer.
    return round(RULE_SETS[rules].false_alarm_points / sum(factors), 1)
