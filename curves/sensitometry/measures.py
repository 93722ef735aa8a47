"""What the engine hands back: measured numbers with intervals, flags, and the one error for misuse.

Conventions. A `Measure` either carries a finite ``value`` or a ``reason`` code why the data cannot
support one; it never carries NaN, infinity, or a clamped number. ``low`` and ``high`` are the ends of
a 95 % interval. A value whose ``high`` is None is a lower bound ("at least"), one whose ``low`` is
None an upper bound ("at most"); ``note`` then says why.
"""

import math
from dataclasses import dataclass


class SensitometryError(ValueError):
    """A caller's mistake (arrays of unequal length, an unknown option); never thin or odd data.

    Parameters
    ----------
    code : str
        Stable upper-case code for programs.
    message : str
        One plain sentence that says what to mend.
    """

    def __init__(self, code: str, message: str):
        super().__init__(message)
        self.code = code
        self.message = message


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with its unit and 95 % interval, or the reason why there is none.

    Parameters
    ----------
    name : str
        Key in the registry of measures.
    value, low, high : float or None, scalar [unit]
        Estimate and ends of the 95 % interval; see the module's conventions for one-sided bounds.
    unit : str
        Unit of the three numbers; "" for a plain ratio.
    reason : str or None
        Code out of `codes.REASONS` when ``value`` is None.
    note : str
        In a few words how the number was got, or what stands against it.

    Raises
    ------
    SensitometryError
        When a number is not finite, or when value and reason are both given or both missing.
    """

    name: str
    value: float | None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    reason: str | None = None
    note: str = ""

    def __post_init__(self):
        for number in (self.value, self.low, self.high):
            if number is not None and not math.isfinite(number):
                raise SensitometryError("NOT_FINITE", f"{self.name}: a measure must be a finite number.")
        if (self.value is None) == (self.reason is None):
            raise SensitometryError("VALUE_OR_REASON", f"{self.name}: give either a value or a reason.")
        if self.value is None and (self.low is not None or self.high is not None):
            raise SensitometryError("VALUE_OR_REASON", f"{self.name}: an interval needs a value.")

    @property
    def is_lower_bound(self) -> bool:
        """Whether the value is an "at least": nothing in the data bounds it from above."""
        return self.value is not None and self.high is None and self.low is not None

    @property
    def standard_error(self) -> float | None:
        """Half the 95 % interval over 1.96, scalar [unit]; None when it is open on a side."""
        if self.value is None or self.low is None or self.high is None:
            return None
        return (self.high - self.low) / (2 * 1.959964)

    def to_dict(self) -> dict:
        """The six fields other than the name, as plain JSON values."""
        return {
            "value": self.value,
            "low": self.low,
            "high": self.high,
            "unit": self.unit,
            "reason": self.reason,
            "note": self.note,
        }

    @classmethod
    def from_dict(cls, name: str, data: dict) -> "Measure":
        """The measure that `to_dict` wrote."""
        fields = ("value", "low", "high", "unit", "reason", "note")
        return cls(name=name, **{field: data[field] for field in fields})


def withheld(name: str, reason: str, unit: str = "", note: str = "") -> Measure:
    """A measure that the data cannot support, with the code that says why.

    Parameters
    ----------
    name, unit, note : str
        As in `Measure`.
    reason : str
        Code out of `codes.REASONS` or of a module's own table of reasons.

    Returns
    -------
    Measure
        Without a value.
    """
    return Measure(name=name, value=None, unit=unit, reason=reason, note=note)


@dataclass(frozen=True, slots=True)
class Flag:
    """Something about the readings or the fit that a person should see.

    Parameters
    ----------
    code : str
        Key in `codes.FLAGS`.
    text : str
        One plain sentence with the numbers of this case.
    step : int or None
        Step of the tablet that is meant, where one is.
    log_exposure : float or None, scalar [log10 lx s]
        Its place on the exposure axis.
    """

    code: str
    text: str
    step: int | None = None
    log_exposure: float | None = None

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {"code": self.code, "text": self.text, "step": self.step, "log_exposure": self.log_exposure}
