"""What imaging hands back: measured numbers with intervals, flags, refusals, the one error for misuse.

Conventions. A `Measure` either carries a finite ``value`` or a ``reason`` code why the scan cannot support
one; never NaN, infinity, or a clamped number. ``low`` and ``high`` are the ends of a 95 % interval. A value
whose ``high`` is None is a lower bound, one whose ``low`` is None an upper bound; ``note`` then says why.
"""

import math
from dataclasses import dataclass

from scans.imaging.flags import FLAGS, REASONS, REFUSALS


class ImagingError(ValueError):
    """A caller's mistake (arrays of unequal length, an unknown option); never a bad or odd scan.

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
        What is measured.
    value, low, high : float or None, scalar [unit]
        Estimate and ends of the 95 % interval; see the module's conventions for one-sided bounds.
    unit : str
        Unit of the three numbers; "" for a plain ratio.
    reason : str or None
        Key of `flags.REASONS` when ``value`` is None.
    note : str
        In a few words how the number was got, or what stands against it.

    Raises
    ------
    ImagingError
        When a number is not finite, when value and reason are both given or both missing, or when the
        reason is not in the registry.
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
                raise ImagingError("NOT_FINITE", f"{self.name}: a measure must be a finite number.")
        if (self.value is None) == (self.reason is None):
            raise ImagingError("VALUE_OR_REASON", f"{self.name}: give either a value or a reason.")
        if self.value is None and (self.low is not None or self.high is not None):
            raise ImagingError("VALUE_OR_REASON", f"{self.name}: an interval needs a value.")
        if self.reason is not None and self.reason not in REASONS:
            raise ImagingError("UNKNOWN_CODE", f"{self.name}: {self.reason} is not a registered reason.")

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
    """A measure that the scan cannot support.

    Parameters
    ----------
    name : str
    reason : str
        Key of `flags.REASONS`.
    unit, note : str

    Returns
    -------
    Measure
        Without a value.
    """
    return Measure(name=name, value=None, unit=unit, reason=reason, note=note)


@dataclass(frozen=True, slots=True)
class Flag:
    """Something about a scan or an area that a person should see.

    Parameters
    ----------
    code : str
        Key of `flags.FLAGS`.
    text : str
        One plain sentence with the numbers of this case.
    """

    code: str
    text: str

    def __post_init__(self):
        if self.code not in FLAGS:
            raise ImagingError("UNKNOWN_CODE", f"{self.code} is not a registered flag.")

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {"code": self.code, "text": self.text}


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a file gives no picture, or a picture no measurement.

    Parameters
    ----------
    code : str
        Key of `flags.REFUSALS` or `flags.REASONS`.
    text : str
        One plain sentence that says why and what would do.
    """

    code: str
    text: str

    def __post_init__(self):
        if self.code not in REFUSALS and self.code not in REASONS:
            raise ImagingError("UNKNOWN_CODE", f"{self.code} is not a registered refusal.")

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {"code": self.code, "text": self.text}
