"""A simulated lab: control strips with known spread, and everything that can go wrong with them, on order.

Development moves speed, contrast and maximum density together; each step has a spread of its own beside it.
All numbers are invented.
"""

from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.controlling.control_strips import ControlStrip

TRUE_AIMS = {"base_fog": 0.25, "speed_step": 0.36, "contrast": 1.24, "dmax": 2.20}
#: What one unit of development adds [D].
DEVELOPMENT = {"base_fog": 0.02, "speed_step": 0.20, "contrast": 1.00, "dmax": 0.90}
DEVELOPMENT_SD = 0.015
OWN_SD = {"base_fog": 0.004, "speed_step": 0.010, "contrast": 0.012, "dmax": 0.020}
READING_SD = 0.005


def true_sd(quantity, reading_sd=READING_SD):
    """Standard deviation of one strip in control [D]."""
    reading = reading_sd * (np.sqrt(2) if quantity == "contrast" else 1)
    return float(np.sqrt((DEVELOPMENT[quantity] * DEVELOPMENT_SD) ** 2 + OWN_SD[quantity] ** 2 + reading**2))


@dataclass(frozen=True)
class Fault:
    """What is wrong: shifts [D] of single quantities, of development [1], of all readings alike [D]."""

    development: float = 0.0
    base_fog: float = 0.0
    speed_step: float = 0.0
    contrast: float = 0.0
    dmax: float = 0.0
    zero: float = 0.0


def read_strip(rng, fault=Fault(), *, decimals=2, **labels) -> ControlStrip:
    """One strip, read with noise and rounded; ``decimals=None`` leaves it unrounded."""
    amount = fault.development + rng.normal(0, DEVELOPMENT_SD)
    true = {
        name: aim + DEVELOPMENT[name] * amount + rng.normal(0, OWN_SD[name]) + getattr(fault, name)
        for name, aim in TRUE_AIMS.items()
    }
    high = true["speed_step"] + true["contrast"]
    steps = np.array([true["base_fog"], true["speed_step"], high, true["dmax"]])
    read = steps + fault.zero + rng.normal(0, READING_SD, 4)
    read = read if decimals is None else np.round(read, decimals)
    return ControlStrip(*read.tolist(), reading_sd=READING_SD, **labels)


def read_strips(rng, count, fault=Fault(), **options) -> list[ControlStrip]:
    """Several strips with the same fault."""
    return [read_strip(rng, fault, **options) for _ in range(count)]


def drifting_strips(rng, count, per_strip: Fault, **options) -> list[ControlStrip]:
    """Strips whose fault grows by ``per_strip`` with each, from the first on."""
    return [
        read_strip(rng, replace(per_strip, **{k: (n + 1) * v for k, v in vars(per_strip).items()}), **options)
        for n in range(count)
    ]


def strips_until_found(strips, aims, history, classify) -> int | None:
    """How many strips it takes to an ``out_of_control`` verdict, counted from one."""
    seen = list(history)
    for number, strip in enumerate(strips, 1):
        if classify(strip, aims, seen).state == "out_of_control":
            return number
        seen.append(strip)
    return None


#: Standard deviations by level [D], of a contrast.
COMPONENTS = {"member": 0.010, "run": 0.020, "roll": 0.015, "strip": 0.008, "reading": 0.005}


def nested_readings(
    rng,
    members=8,
    runs=4,
    rolls=2,
    strips=2,
    readings=2,
    *,
    components=COMPONENTS,
    unbalanced=False,
    stocks=1,
):
    """Readings with labels by level, and the stock of each; unbalanced leaves a third of them out.

    Rolls of a run are of the stocks by turns; stock ``k`` is 0.05 D above the one before it.
    """
    values, labels, stock = [], {name: [] for name in ("member", "run", "roll", "strip")}, []
    for member in range(members):
        of_member = rng.normal(0, components["member"])
        for run in range(runs):
            of_run = rng.normal(0, components["run"])
            for roll in range(rolls):
                of_roll = rng.normal(0, components["roll"]) + 0.05 * (roll % stocks)
                for strip in range(strips):
                    of_strip = rng.normal(0, components["strip"])
                    for _ in range(readings):
                        own = rng.normal(0, components["reading"])
                        if unbalanced and rng.random() < 1 / 3:
                            continue
                        values.append(0.6 + of_member + of_run + of_roll + of_strip + own)
                        for name, label in (
                            ("member", member),
                            ("run", run),
                            ("roll", roll),
                            ("strip", strip),
                        ):
                            labels[name].append(label)
                        stock.append(f"stock {roll % stocks}")
    return np.array(values), labels, stock
