"""Paper measures as ISO 6846:1992 defines them.

Points T and S and the range from an encyclopaedia's account of the standard; P = 1000 / Hm at 0.60 from a
secondary text; the net greatest density and the rounding of R from memory. Grade spans: the appendix of the
American standard of 1966, ends printed in a secondary text, inner limits from memory.
"""

import numpy as np
import pytest

from curves.sensitometry.printing.paper import analyse_paper, grade_number, iso_range_number
from curves.sensitometry.sampled_curve import SampledCurve


def three_piece_paper(exposure_range, log_speed_exposure):
    """A paper of straight pieces whose range and speed are set exactly.

    Base plus fog 0.06, net maximum 2.00: T at 0.04 net, S at 1.80 net, and 0.60 net in the straight part
    between them, at the log exposure given.
    """
    slope = (1.80 - 0.04) / exposure_range
    t = log_speed_exposure - (0.60 - 0.04) / slope
    s = t + exposure_range
    x = [t - 0.4, t - 0.1, t, log_speed_exposure, s, s + 0.2, s + 0.5, s + 0.8]
    net = [0.0, 0.01, 0.04, 0.60, 1.80, 1.98, 2.0, 2.0]
    return SampledCurve.through(x, 0.06 + np.array(net))


def test_range_of_one_point_oh_five_is_r_110():
    """A log exposure range of 1.05 is R 105, written ISO R 110 (half up)."""
    measures = analyse_paper(three_piece_paper(1.05, 0.5), 0.06)
    assert measures["paper_exposure_range"].value == pytest.approx(1.05, abs=1e-6)
    assert measures["iso_range"].value == 110
    assert iso_range_number(1.05) == 110
    assert iso_range_number(1.0449) == 100


def test_four_lux_seconds_is_p_250():
    """Hm 4.0 lx s gives P 250."""
    measures = analyse_paper(three_piece_paper(1.05, np.log10(4.0)), 0.06)
    assert measures["paper_speed"].value == pytest.approx(250, abs=1e-4)


def test_greatest_density_is_taken_net():
    """S lies at 0.90 of the net greatest density: with base 0.06 and net 2.00, at 1.86 gross."""
    curve = three_piece_paper(1.05, 0.5)
    shoulder = analyse_paper(curve, 0.06)["paper_shoulder_point"].value
    assert float(curve.density_at(shoulder)) == pytest.approx(1.86, abs=1e-6)


@pytest.mark.parametrize(
    ("exposure_range", "grade"),
    [(1.70, 0), (1.41, 0), (1.39, 1), (1.05, 2), (0.90, 3), (0.70, 4), (0.51, 5), (0.45, None), (1.8, None)],
)
def test_old_grade_numbers(exposure_range, grade):
    assert grade_number(exposure_range) == grade
