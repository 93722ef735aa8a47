"""What an aim of a control strip is: a centre, a spread, and a warning and an action limit about it."""

from dataclasses import asdict, dataclass

import numpy as np

from curves.sensitometry.controlling.control_strips import UNIT
from curves.sensitometry.controlling.false_alarms import false_alarm_factor
from curves.sensitometry.measures import Measure

NEEDED = ("base_fog", "speed_step", "contrast")  # without an aim for each of these nothing is proven


@dataclass(frozen=True, slots=True)
class QuantityAim:
    """Aim and limits of one quantity.

    Parameters
    ----------
    quantity : str
        Key of `QUANTITIES`.
    centre : Measure
        Aim [D] with its 95 % interval, or why there is none.
    spread : Measure
        Standard deviation [D] of one strip in control.
    warning, action : float or None, scalars [D]
        Distance of the limits from the aim.
    strips : int, scalar [count]
        Strips it stands on.
    widening : float, scalar [1]
        Factor by which the limits are wider than 2 and 3 standard deviations, because centre and spread
        are themselves known from few strips.
    degrees_of_freedom : float or None, scalar [1]
        Of the spread; None where it was stated.
    """

    quantity: str
    centre: Measure
    spread: Measure
    warning: float | None
    action: float | None
    strips: int
    widening: float = 1.0
    degrees_of_freedom: float | None = None

    @property
    def is_known(self) -> bool:
        """Whether there is an aim with limits."""
        return self.centre.value is not None and self.action is not None

    def score(self, deviation):
        """Deviations on the scale of the rules: 2 at the warning limit, 3 at the action limit.

        Parameters
        ----------
        deviation : array_like, shape (n,) [D]
            Strips less the aim.

        Returns
        -------
        ndarray, shape (n,) [standard deviations]
            Plain division where action and warning limit stand as 3 to 2.
        """
        size = np.abs(np.asarray(deviation, dtype=float))
        inner = 2 * size / self.warning
        outer = 2 + (size - self.warning) / (self.action - self.warning)
        return np.sign(deviation) * np.where(size <= self.warning, inner, outer)

    @property
    def false_alarm_factor(self) -> float | None:
        """Rate of false alarms by these limits over that by limits known exactly, scalar [1].

        None where the limits were stated.
        """
        if self.degrees_of_freedom is None or not self.is_known:
            return None
        return false_alarm_factor(self.strips, self.degrees_of_freedom, self.widening)

    def to_dict(self) -> dict:
        """The fields as plain JSON values, with the limits themselves."""
        limits = {}
        for name in ("warning", "action"):
            reach = getattr(self, name)
            for sign, end in ((-1, "low"), (1, "high")):
                limits[f"{name}_{end}"] = self.centre.value + sign * reach if self.is_known else None
        return {
            **asdict(self),
            "centre": self.centre.to_dict(),
            "spread": self.spread.to_dict(),
            **limits,
            "unit": UNIT,
        }

    @classmethod
    def from_dict(cls, data: dict) -> "QuantityAim":
        """The aim that `to_dict` wrote."""
        return cls(
            data["quantity"],
            Measure.from_dict("control_aim", data["centre"]),
            Measure.from_dict("within_spread", data["spread"]),
            data["warning"],
            data["action"],
            data["strips"],
            data["widening"],
            data["degrees_of_freedom"],
        )


@dataclass(frozen=True, slots=True)
class StripAims:
    """Aims of one batch of strips.

    Parameters
    ----------
    aims : dict of str to QuantityAim
        By quantity.
    strip_batch : str
        The batch of strips that they hold for.
    is_provisional : bool
        Whether too little stands behind them to prove control.
    suspects : tuple of tuple
        Strip (from 0) and quantity where a strip that was said to be in control lies beyond the limits
        drawn from it and the others.
    note : str
        Where they come from.
    """

    aims: dict[str, QuantityAim]
    strip_batch: str
    is_provisional: bool
    suspects: tuple[tuple[int, str], ...]
    note: str

    @property
    def lacking(self) -> tuple[str, ...]:
        """Quantities that control needs and that have no aim."""
        return tuple(name for name in NEEDED if not (name in self.aims and self.aims[name].is_known))

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "aims": {name: aim.to_dict() for name, aim in self.aims.items()},
            "strip_batch": self.strip_batch,
            "is_provisional": self.is_provisional,
            "suspects": [list(each) for each in self.suspects],
            "note": self.note,
        }

    @classmethod
    def from_dict(cls, data: dict) -> "StripAims":
        """The aims that `to_dict` wrote."""
        return cls(
            {name: QuantityAim.from_dict(aim) for name, aim in data["aims"].items()},
            data["strip_batch"],
            data["is_provisional"],
            tuple((index, quantity) for index, quantity in data["suspects"]),
            data["note"],
        )
