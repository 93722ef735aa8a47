"""Reason codes of the computations beside the curve: development, brackets, prints, colour, equivalence."""

METHOD_REASONS: dict[str, str] = {
    "INVALID_INPUT": "A number that is needed is missing, not finite, or impossible.",
    "TOO_FEW_TIMES": "At least two different development times with a usable contrast are needed.",
    "TOO_FEW_FRAMES": "At least two frames with a usable density are needed.",
    "TOO_FEW_FILMS": "Too few independently exposed and processed films for an interval.",
    "TOO_FEW_PAIRS": "At least three pairs of readings are needed for a line.",
    "NO_SATURATION": "The contrast shows no sign of levelling off, so its limit is not known.",
    "NO_RISE": "The quantity does not rise clearly enough between the tested values to be inverted.",
    "OUTSIDE_TESTED_RANGE": "The value lies outside the range that was tested; nothing is extrapolated.",
    "IN_TOE": "The patch lies in the toe, where a small error of density is a large one of exposure.",
    "IN_SHOULDER": "The patch lies in the shoulder, where exposures differ widely for little density "
    "and a small error grows large.",
    "OUT_OF_PAPER_RANGE": "The paper cannot give that print density within its measured curve.",
    "NO_ASSOCIATION": "The two sets of readings do not vary together, so no line can be drawn.",
    "NO_MARGIN": "No margin was stated for this measure, so equivalence cannot be tested.",
    "MISSING_MEASURE": "The measure is missing or withheld for one of the two stocks.",
    "NO_CAMERA_SETTING": "No combination of the camera's settings comes close enough to the exposure wanted.",
}
