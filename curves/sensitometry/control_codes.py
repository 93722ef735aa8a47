"""Reason codes of process control and of agreement between instruments and members."""

CONTROL_REASONS: dict[str, str] = {
    "TOO_FEW_STRIPS": "Too few control strips were read to say this.",
    "NO_AIMS": "No aims are set for this quantity, so nothing can be held against them.",
    "PROVISIONAL_AIMS": "The strip lies within limits that are provisional: too few strips stand behind "
    "them to prove control.",
    "MISSING_STEP": "A step of the control strip that the judgement needs was not read.",
    "OTHER_STRIP_BATCH": "The strip is of another batch than the aims, and no correction was carried over.",
    "TOO_FEW_GROUPS": "Too few groups of this level (members, runs, rolls) to tell how much they differ.",
    "NOT_SEPARABLE": "Nothing was repeated within this level, so it cannot be told from the level below.",
    "TOO_FEW_LABS": "At least two instruments or members with repeated readings are needed.",
    "NOT_STRAIGHT": "The readings of the two instruments do not lie on a straight line.",
    "REFERENCE_ITSELF": "It is what the others are held against.",
    "CORRECTED_ALREADY": "Some instruments are corrected already, so the median as read means little.",
    "NOT_MET": "The limit is not met within what was observed; nothing is extrapolated.",
    "NO_TREND": "No trend can be told from the scatter.",
}
