"""Every reason code and flag code of the engine, each with one plain sentence for pages and tooltips."""

from curves.sensitometry.control_codes import CONTROL_REASONS
from curves.sensitometry.method_codes import METHOD_REASONS

REASONS: dict[str, str] = {
    **METHOD_REASONS,
    **CONTROL_REASONS,
    "BELOW_RANGE": "The lowest step is already past the criterion; expose a longer tablet or less.",
    "NOT_REACHED": "The criterion is not reached within the measured steps.",
    "N_OUT_OF_RANGE": "The point 1.30 log exposure above the speed point lies beyond the last step.",
    "CONTRAST_NOT_MET": "The density difference over 1.30 log exposure is not 0.80 within 0.05, "
    "so the standard's contrast condition fails and no ISO speed may be stated.",
    "NO_BASE_FOG": "No unexposed area was read, so base plus fog is not known.",
    "NON_MONOTONE": "The densities do not rise with exposure.",
    "MULTIPLE_CROSSINGS": "The curve crosses the criterion more than once.",
    "EXTRAPOLATED": "The number would have to be extrapolated beyond what was measured or published.",
    "TOO_FEW_POINTS": "Too few usable readings; at least five different steps are needed.",
    "UNCALIBRATED": "The exposure is relative: the absolute exposure in lux seconds is not known.",
    "SATURATED": "The readings stand at the instrument's limit.",
    "NO_STRAIGHT_PART": "No four neighbouring steps lie on a line within 0.02 D.",
    "ILL_DEFINED": "The data leave this so uncertain that a number would mislead.",
    "NO_BOX_SPEED": "No box speed was given to compare with.",
    "NO_INTERVAL": "Too little is known of the spread to state an interval.",
    "NO_OVERLAP": "The two curves share too little measured range to be compared.",
    "NO_REFERENCE": "No house reference is appointed whose contrast could be matched.",
    "NOT_MEASURED": "No accepted roll has it measured.",
    "OTHER_RIG": "It was measured only with another scanner or other settings, so it does not compare.",
    "MIXED_EXPOSURE": "One curve has absolute and the other relative exposure, so speeds do not compare.",
}

FLAGS: dict[str, str] = {
    "DROPPED_READINGS": "Some readings were not finite numbers and were left out.",
    "OUTLIER": "A reading lies too far off the curve that the others define and was left out of the fit.",
    "FALLING_STEP": "A step is less dense than the one before although it had more exposure.",
    "CORRECTED": "Readings of an instrument were corrected to the lab's reference; they are kept as read.",
    "BEYOND_CORRECTION": "Readings beyond what an instrument's correction was tested on were left out.",
    "SOLARISED": "Density falls again at the highest exposures; the curve is cut at its maximum.",
    "NEGATIVE_CURVE": "Density falls as exposure rises; the exposures look reversed.",
    "NO_BASE_FOG": "No unexposed area was read: measures that stand on base plus fog are withheld.",
    "TOO_FEW_POINTS": "Too few usable readings for a curve.",
    "SHAPE_DEPARTURE": "The curve departs from the usual toe, straight part and shoulder.",
    "MULTIPLE_CROSSINGS": "The curve crosses the speed criterion more than once; the last crossing counts.",
    "STILL_RISING": "The curve still rises at the last step, so the maximum density is a lower bound.",
    "CLIPPED": "Several of the highest readings are the same, as at an instrument's limit.",
    "MISSING_TOE": "The lowest step is already well above base plus fog.",
    "NOISY": "The readings scatter more than a densitometer in order does.",
    "BASE_ABOVE_LOW_STEPS": "The unexposed area reads denser than the lowest steps.",
    "STRIPS_DIFFER": "The strips differ by more than reading noise.",
    "ROLL_LEFT_OUT": "A roll without a speed point could not be pooled and was left out.",
    "SINGLE_ROLL": "One roll only: the spread from roll to roll is not known.",
    "ROLLS_DIFFER": "The rolls differ by more than reading noise.",
    "FEW_ROLLS": "With two or three rolls the spread from roll to roll is itself very uncertain.",
}
