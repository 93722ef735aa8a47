"""Worked examples of the reciprocity forms.

The power form's example and the Schwarzschild example are worked out from the formulas (derived); the
formulas themselves are Schwarzschild's of 1900 and common practice.
"""

import pytest

from curves.sensitometry.exposing.reciprocity import ReciprocityLaw, corrected_time, exposure_loss


def test_power_form():
    """10 s at exponent 1.31 wants 20.42 s (derived)."""
    time = corrected_time(ReciprocityLaw("power", 1.31, 100), 10)
    assert time.value == pytest.approx(20.42, abs=0.005)


def test_schwarzschild_form():
    """p 0.86: 10 s wants 14.55 s; 100 s lose (1 - p) log t = 0.28 (derived)."""
    law = ReciprocityLaw("schwarzschild", 0.86, 100)
    assert corrected_time(law, 10).value == pytest.approx(14.55, abs=0.005)
    assert exposure_loss(law, 100).value == pytest.approx(0.28, abs=0.005)
