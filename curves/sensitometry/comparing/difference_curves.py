"""The difference between two stored curves as a curve with its band, as a comparison hands it out."""

import numpy as np

from curves.sensitometry.analysis import Analysis
from curves.sensitometry.comparing.curve_matching import matched_difference


def difference_at_equal_exposure(test: Analysis, reference: Analysis) -> dict[str, np.ndarray]:
    """Gross density difference at equal exposure with its 95 % band.

    Parameters
    ----------
    test, reference : Analysis
        Two analyses.

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``log_exposure`` [log10 lx s], ``difference``, ``low``, ``high`` [D]; empty without overlap, or
        when one exposure is absolute and the other relative.
    """
    return matched_difference(test, reference)


def difference_at_speed_point(test: Analysis, reference: Analysis) -> dict[str, np.ndarray]:
    """Net density difference with both speed points laid together, with its 95 % band.

    Parameters
    ----------
    test, reference : Analysis
        Two analyses.

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``aligned_log_exposure`` (distance from the speed point) [log10], ``aligned_difference``,
        ``aligned_low``, ``aligned_high`` [D]; empty when a speed point is withheld.
    """
    found = matched_difference(test, reference, align_by="speed_point", density="net")
    return {f"aligned_{name}": values for name, values in found.items()}
