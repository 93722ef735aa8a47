"""The run rules and the sets of them that are in use, each with its name and its rate of false alarms.

References
----------
Western Electric, Statistical Quality Control Handbook (1956). Nelson, L. S., J. Qual. Technol. 16, 237
(1984), from memory but for the nine of its second rule. Average run lengths: Champ, C. W. & Woodall,
W. H., Technometrics 29, 393 (1987).
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from curves.sensitometry.measures import SensitometryError


@dataclass(frozen=True, slots=True)
class RunRule:
    """One rule, named.

    Parameters
    ----------
    key, title, text : str
        Key for programs, short title, and the rule in a sentence.
    kind : str
        ``same side``, ``outside`` (either side, both of them seen), ``inside``, ``trend`` or ``alternating``.
    window, needed : int, scalars [points]
        How many points are looked at, and how many of them have to be beyond the line.
    line : float, scalar [standard deviations]
        The line, from the centre.
    """

    key: str
    title: str
    text: str
    kind: str
    window: int
    needed: int
    line: float = 0.0


_BEYOND_ACTION = RunRule(
    "beyond_action", "1 beyond 3σ", "One point lies beyond three standard deviations.", "same side", 1, 1, 3.0
)
_TWO_OF_THREE = RunRule(
    "two_of_three", "2 of 3 beyond 2σ",
    "Two of three points in a row lie beyond two standard deviations on the same side.",
    "same side", 3, 2, 2.0,
)  # fmt: skip
_FOUR_OF_FIVE = RunRule(
    "four_of_five", "4 of 5 beyond 1σ",
    "Four of five points in a row lie beyond one standard deviation on the same side.",
    "same side", 5, 4, 1.0,
)  # fmt: skip
_EIGHT = RunRule(
    "eight_one_side", "8 on one side", "Eight points in a row lie on the same side of the centre.",
    "same side", 8, 8,
)  # fmt: skip
_NINE = RunRule(
    "nine_one_side", "9 on one side", "Nine points in a row lie on the same side of the centre.",
    "same side", 9, 9,
)  # fmt: skip
_TREND = RunRule(
    "six_steady", "6 steadily", "Six points in a row rise steadily, or fall steadily.", "trend", 6, 6
)
_ALTERNATING = RunRule(
    "fourteen_alternating", "14 alternating", "Fourteen points in a row go up and down by turns.",
    "alternating", 14, 14,
)  # fmt: skip
_HUGGING = RunRule(
    "fifteen_inside", "15 within 1σ", "Fifteen points in a row lie within one standard deviation.",
    "inside", 15, 15, 1.0,
)  # fmt: skip
_AVOIDING = RunRule(
    "eight_outside", "8 outside 1σ",
    "Eight points in a row lie beyond one standard deviation, on both sides of the centre.",
    "outside", 8, 8, 1.0,
)  # fmt: skip

RULES: dict[str, RunRule] = {
    rule.key: rule
    for rule in (
        _BEYOND_ACTION, _TWO_OF_THREE, _FOUR_OF_FIVE, _EIGHT, _NINE, _TREND, _ALTERNATING, _HUGGING,
        _AVOIDING,
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rules that are used together.

    Parameters
    ----------
    key, title : str
        Key for programs and a short title.
    rules : tuple of str
        Keys of `RULES`.
    false_alarm_points : float, scalar [points]
        Average number of points up to a false alarm, for independent normal points and known limits.
    source : str
        Where that number comes from.
    """

    key: str
    title: str
    rules: tuple[str, ...]
    false_alarm_points: float
    source: str

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {**asdict(self), "rules": list(self.rules)}


RULE_SETS: dict[str, RuleSet] = {
    each.key: each
    for each in (
        RuleSet("action", "Action limits alone", ("beyond_action",), 370.4,
            "One over twice the normal tail beyond three."),
        RuleSet(
            "warning", "Action and warning limits", ("beyond_action", "two_of_three"), 225.4,
            "Champ & Woodall 1987, from memory; simulated again.",
        ),
        RuleSet(
            "western_electric", "Western Electric's four rules",
            ("beyond_action", "two_of_three", "four_of_five", "eight_one_side"), 91.75,
            "Champ & Woodall 1987.",
        ),
        RuleSet(
            "nelson", "Nelson's eight rules",
            ("beyond_action", "nine_one_side", "six_steady", "fourteen_alternating", "two_of_three",
             "four_of_five", "fifteen_inside", "eight_outside"),
            73.0, "Simulated for this project: 30 000 runs, within 0.8.",
        ),
    )
}  # fmt: skip


def rules_of(rules: str | Sequence[str]) -> tuple[RunRule, ...]:
    """The rules that a key of a set, or keys of single rules, stand for.

    Parameters
    ----------
    rules : str or sequence of str
        Key of `RULE_SETS`, or keys of `RULES`.

    Returns
    -------
    tuple of RunRule
    """
    keys = RULE_SETS[rules].rules if isinstance(rules, str) and rules in RULE_SETS else rules
    if isinstance(keys, str) or not set(keys) <= set(RULES):
        raise SensitometryError("UNKNOWN_RULE", f"Choose a set of rules: {', '.join(RULE_SETS)}.")
    return tuple(RULES[key] for key in keys)
