"""Checks of the demo lab's densitometer on its tablet: seven months of them, its span slowly going."""

from datetime import date, timedelta

import numpy as np

from curves.services.instrument_checks import record_check
from labsite.demo.standards import Conditions

FIRST_DAYS_AGO, APART_DAYS, CHECKS = 215, 30, 8
#: The steps that are read: near nothing, the middle, the densest; and two between.
STEPS, BETWEEN = (1, 11, 21), (6, 16)
#: By which share it read too much at first, what it loses in thirty days, and how well it repeats [D].
FIRST_EXCESS, LOSS_A_MONTH, CHECK_SD = 0.004, 0.001, 0.003


def check_densitometer(*, conditions: Conditions, members: list, today: date, seed: int) -> None:
    """Let the members check it every month, one after the other; dice of its own."""
    rng = np.random.default_rng(seed)
    instrument = conditions.instrument
    tablet = conditions.exposure.tablet.revisions.get(state="in_force")
    certified = {step.step: step.density for step in tablet.steps.all()}
    for number in range(CHECKS):
        steps = STEPS if number % 2 else (*STEPS, *BETWEEN)
        readings = [
            (
                step,
                round(
                    certified[step] * (1 + FIRST_EXCESS - LOSS_A_MONTH * number) + rng.normal(0.0, CHECK_SD),
                    2,
                ),
            )
            for step in steps
        ]
        record_check(
            actor=members[number % len(members)],
            instrument_id=instrument.pk,
            tablet_revision_id=tablet.pk,
            density_type=instrument.density_type,
            geometry=instrument.geometry,
            checked_on=today - timedelta(days=FIRST_DAYS_AGO - APART_DAYS * number),
            readings=readings,
        )
