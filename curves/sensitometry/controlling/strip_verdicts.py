"""The verdict on a control strip: state, reason, deviations, rules broken, likely causes."""

from dataclasses import dataclass

from curves.sensitometry.controlling.control_strips import QUANTITIES, UNIT
from curves.sensitometry.controlling.run_rules import Signal
from curves.sensitometry.controlling.strip_causes import Cause
from curves.sensitometry.measures import Measure

IN_CONTROL, OUT_OF_CONTROL, UNPROVEN = "in_control", "out_of_control", "unproven"


@dataclass(frozen=True, slots=True)
class Deviation:
    """One quantity of a strip against its aim.

    Parameters
    ----------
    quantity : str
        Key of `QUANTITIES`.
    value : float, scalar [D]
        As read.
    difference : Measure
        ``control_deviation`` [D], strip less aim; its interval holds the uncertainties of reading and aim.
    score : float, scalar [standard deviations]
        2 at the warning limit, 3 at the action limit.
    place : str
        ``within``, ``warning`` (beyond the warning limit) or ``action``.
    """

    quantity: str
    value: float
    difference: Measure
    score: float
    place: str

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "quantity": self.quantity,
            "title": QUANTITIES[self.quantity],
            "value": self.value,
            "unit": UNIT,
            "difference": self.difference.to_dict(),
            "score": self.score,
            "place": self.place,
        }


@dataclass(frozen=True, slots=True)
class StripVerdict:
    """What a strip says of its run.

    Parameters
    ----------
    state : str
        ``in_control``, ``out_of_control`` or ``unproven``.
    reason : str or None
        Code out of `codes.REASONS` where it is unproven.
    text : str
        The verdict in a sentence or two.
    deviations : dict of str to Deviation
        By quantity.
    signals : tuple of tuple
        Quantity and `Signal`, for each rule broken; a window counts the strips of the same batches, from 0
        for the oldest, the strip itself last.
    watch : tuple of tuple
        The same for the rules that call for attention only.
    directions : dict of str to str
        ``+``, ``-``, ``0`` or ``?`` by quantity: the pattern that causes were looked for with.
    onset : str
        ``sudden``, ``gradual`` or empty where earlier strips do not tell.
    causes : tuple of Cause
        Likely ones; common practice, no source.
    causes_note : str
        Says so where the pattern fits no usual cause.
    false_alarm_strips : float or None, scalar [strips]
        A process in control is called out of control by chance about once in so many strips; None for
        stated limits.
    """

    state: str
    reason: str | None
    text: str
    deviations: dict[str, Deviation]
    signals: tuple[tuple[str, Signal], ...]
    watch: tuple[tuple[str, Signal], ...]
    directions: dict[str, str]
    onset: str
    causes: tuple[Cause, ...]
    causes_note: str
    false_alarm_strips: float | None

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "state": self.state,
            "reason": self.reason,
            "text": self.text,
            "deviations": {name: each.to_dict() for name, each in self.deviations.items()},
            "signals": [{"quantity": name, **signal.to_dict()} for name, signal in self.signals],
            "watch": [{"quantity": name, **signal.to_dict()} for name, signal in self.watch],
            "directions": dict(self.directions),
            "onset": self.onset,
            "causes": [cause.to_dict() for cause in self.causes],
            "causes_note": self.causes_note,
            "false_alarm_strips": self.false_alarm_strips,
        }
