"""Definitions of the measures beside the curve, in the form of the registry.

Development families, brackets, prints and papers, tone reproduction, colour response and reciprocity.
"""

from curves.sensitometry.registry.measure_definition import DISTANCE, HOUSE, PLACE, MeasureDefinition

_TIMES = ("TOO_FEW_TIMES", "BELOW_RANGE", "NOT_REACHED", "NON_MONOTONE", "NO_RISE", "INVALID_INPUT")
_LAW = ("TOO_FEW_TIMES", "NO_SATURATION", "NO_RISE")
_FRAMES = ("TOO_FEW_FRAMES", "BELOW_RANGE", "NOT_REACHED", "NO_RISE", "INVALID_INPUT")
_PAPER = ("NO_BASE_FOG", "BELOW_RANGE", "NOT_REACHED", "ILL_DEFINED", "INVALID_INPUT")
_PATCH = ("IN_TOE", "IN_SHOULDER", "INVALID_INPUT")
_TONES = ("BELOW_RANGE", "NOT_REACHED", "OUT_OF_PAPER_RANGE", "ILL_DEFINED")
_PRINT = ("INVALID_INPUT", "OUT_OF_PAPER_RANGE", "ILL_DEFINED", "NO_BASE_FOG")
_RECIPROCITY = ("OUTSIDE_TESTED_RANGE", "INVALID_INPUT")
_PRACTICE = "Common practice, no source."
_PAPER_STANDARD = "ISO 6846:1992; details from memory."

METHOD_DEFINITIONS = (
    MeasureDefinition(
        "aim_contrast", "Aim contrast", "G", "", 3,
        "Density range wanted over the subject's log range less flare.",
        _PRACTICE,
        "The average gradient that fits a subject onto a paper.",
        ("INVALID_INPUT",),
    ),
    MeasureDefinition(
        "time_for_aim_contrast", "Time for the aim contrast", "t", "min", 2,
        "Between tested times linear in log t; or from the first-order law.",
        _PRACTICE,
        "How long to develop for a chosen contrast. Never outside the tested times.",
        (*_TIMES, "NO_SATURATION", "OUTSIDE_TESTED_RANGE"),
    ),
    MeasureDefinition(
        "contrast_limit", "Contrast limit", "γ∞", "", 2,
        "γ = γ∞ (1 − exp(−k t)), weighted least squares; interval by profile likelihood.",
        "Ives 1920, from a secondary text.",
        "The contrast that endless development would approach.",
        _LAW,
    ),
    MeasureDefinition(
        "development_rate", "Development rate", "k", "1/min", 3,
        "γ = γ∞ (1 − exp(−k t)), weighted least squares; interval by profile likelihood.",
        "Ives 1920, from a secondary text.",
        "How fast contrast approaches its limit.",
        _LAW,
    ),
    MeasureDefinition(
        "contrast_at_time", "Contrast after a time", "γ(t)", "", 3,
        "γ∞ (1 − exp(−k t)) within the tested times.",
        "Ives 1920, from a secondary text.",
        "What contrast a development time gives by the first-order law.",
        (*_LAW, "OUTSIDE_TESTED_RANGE", "INVALID_INPUT"),
    ),
    MeasureDefinition(
        "standard_contrast_time", "Time for the standard's contrast", "t", "min", 2,
        "Time at which the density difference over 1.30 log exposure is 0.80, linear in log t.",
        "ISO 6:1993 for the condition.",
        "How long to develop for an ISO speed.",
        _TIMES,
    ),
    MeasureDefinition(
        "standard_contrast_speed_point", "Speed point at the standard's contrast", "log Hm", PLACE, 3,
        "Speed point interpolated to the time for the standard's contrast.",
        "ISO 6:1993 for the condition.",
        "Where the shadows start when the film is developed to the standard's contrast.",
        _TIMES,
    ),
    MeasureDefinition(
        "standard_contrast_speed", "Speed at the standard's contrast", "S", "ISO", 0,
        "0.8 / Hm at the time for the standard's contrast.",
        "ISO 6:1993.",
        "The ISO speed of a family whose single rolls miss the contrast condition.",
        _TIMES,
    ),
    MeasureDefinition(
        "time_at_temperature", "Time at another temperature", "t", "min", 2,
        "t Q10^((T0 − T) / 10), within the tested temperatures.",
        "After Sheppard & Mees, from secondary texts.",
        "The time that gives the same contrast at another temperature.",
        _RECIPROCITY,
    ),
    MeasureDefinition(
        "temperature_coefficient", "Temperature coefficient", "Q10", "", 2,
        "From the slope of log time over temperature at equal contrast.",
        "After Sheppard & Mees, from secondary texts.",
        "How much faster development goes ten degrees warmer.",
        ("TOO_FEW_POINTS", "ILL_DEFINED"),
    ),
    MeasureDefinition(
        "matched_exposure_index", "Matched exposure index", "EI", "ISO", 0,
        "Index at which the film has the reference's shadow density, interpolated in log exposure.",
        _PRACTICE,
        "Expose for this index and the shadows match the reference's.",
        _FRAMES,
    ),
    MeasureDefinition(
        "relative_speed", "Speed against the reference, between frames", "ΔS", "stop", 2,
        "log2 of the matched index over the reference's.",
        _PRACTICE,
        "How much faster than the reference, from one shadow patch.",
        _FRAMES,
    ),
    MeasureDefinition(
        "nearest_frame_index", "Index of the nearest frame", "EI", "ISO", 0,
        "Index of the frame nearest in shadow density; the interval holds half the spacing.",
        _PRACTICE,
        "All that is known when frames are compared by eye.",
        _FRAMES,
    ),
    MeasureDefinition(
        "nearest_frame_speed", "Speed against the reference, nearest frame", "ΔS", "stop", 2,
        "log2 of the nearest frame's index over the reference's.",
        _PRACTICE,
        "How much faster than the reference, to the nearest frame.",
        _FRAMES,
    ),
    MeasureDefinition(
        "shadow_speed", "Speed against the reference, by shadows", "ΔS", "stop", 2,
        "Mean distance of the two curves along log exposure at equal net density, 0.06 to 0.40.",
        HOUSE,
        "How much faster than the reference, from all frames and patches together.",
        ("NO_BASE_FOG", "NO_OVERLAP", "NO_RISE"),
    ),
    MeasureDefinition(
        "frame_error", "Exposure error of a frame", "e", "stop", 2,
        "Residuals common to a frame over the curve's gradient, drawn to the mean by their noise.",
        HOUSE,
        "How far shutter and aperture truly were from what was set.",
        ("TOO_FEW_FRAMES", "TOO_FEW_POINTS"),
    ),
    MeasureDefinition(
        "print_time", "Print time", "t", "s", 1,
        "t 10^(ΔD Q); or from the paper's curve, log H = log(E0 t) − Q D.",
        _PRACTICE,
        "The time under the enlarger that holds a tone, or makes up for the base.",
        _PRINT,
    ),
    MeasureDefinition(
        "print_log_exposure", "Print exposure", "log E0 t", PLACE, 3,
        "Paper exposure without a negative that holds one tone.",
        _PRACTICE,
        "The one setting of the enlarger at which tones are compared.",
        ("BELOW_RANGE", "NOT_REACHED", "OUT_OF_PAPER_RANGE", "INVALID_INPUT"),
    ),
    MeasureDefinition(
        "callier_factor", "Callier factor", "Q", "", 2,
        "Specular over diffuse density of the same area.",
        "Callier 1909, from memory.",
        "How much denser a silver image looks to a condenser enlarger.",
        ("INVALID_INPUT", "ILL_DEFINED"),
    ),
    MeasureDefinition(
        "density", "Density", "D", "D", 2,
        "−log10 of the transmittance.",
        "ISO 5-1, from memory.",
        "How much light an area holds back.",
        ("INVALID_INPUT", "SATURATED"),
    ),
    MeasureDefinition(
        "mean_density", "Mean density", "D", "D", 2,
        "−log10 of the mean transmittance of the parts.",
        "ISO 5-1, from memory.",
        "Density of a grainy area as one large aperture would read it.",
        ("INVALID_INPUT",),
    ),
    MeasureDefinition(
        "paper_base_plus_fog", "Paper white", "Dmin", "D", 2,
        "Density of unexposed, processed paper.",
        _PAPER_STANDARD,
        "The white of the print.",
        ("NO_BASE_FOG", "INVALID_INPUT"),
    ),
    MeasureDefinition(
        "paper_d_max", "Paper black", "Dmax", "D", 2,
        "Greatest density; at least that when the curve still rises.",
        _PAPER_STANDARD,
        "The black of the print.",
        (),
    ),
    MeasureDefinition(
        "paper_toe_point", "Paper's first tone", "log HT", PLACE, 2,
        "0.04 above base plus fog.",
        _PAPER_STANDARD,
        "The exposure that first shows.",
        _PAPER,
    ),
    MeasureDefinition(
        "paper_shoulder_point", "Paper's last tone", "log HS", PLACE, 2,
        "0.90 of the net greatest density.",
        _PAPER_STANDARD,
        "The exposure that is nearly black.",
        _PAPER,
    ),
    MeasureDefinition(
        "paper_speed_point", "Paper's speed point", "log Hm", PLACE, 2,
        "0.60 above base plus fog.",
        _PAPER_STANDARD,
        "The exposure that the paper's speed stands on.",
        _PAPER,
    ),
    MeasureDefinition(
        "paper_exposure_range", "Paper's exposure range", "LER", DISTANCE, 2,
        "log HS − log HT.",
        _PAPER_STANDARD,
        "The density range of a negative that fits the paper.",
        _PAPER,
    ),
    MeasureDefinition(
        "iso_range", "ISO range", "R", "", 0,
        "100 times the exposure range, to the nearest ten.",
        _PAPER_STANDARD,
        "The paper's contrast as it is marked on the box.",
        _PAPER,
    ),
    MeasureDefinition(
        "paper_speed", "Paper speed", "P", "ISO P", 0,
        "1000 / Hm.",
        _PAPER_STANDARD,
        "How little light the paper needs for a middle tone.",
        _PAPER,
    ),
    MeasureDefinition(
        "flare", "Flare", "f", "", 4,
        "Veil as a share of the brightest tone that shortens one range to another.",
        "Jones 1920, from memory.",
        "Stray light that lifts the shadows in the camera.",
        ("INVALID_INPUT",),
    ),
    MeasureDefinition(
        "highlights_merge", "Highlights merge from", "log₂ L", "stop", 1,
        "Where tones a third of a stop apart stay less than 0.02 D apart in the print.",
        HOUSE,
        "Brighter tones than this run together; stops count from the brightest tone.",
        _TONES,
    ),
    MeasureDefinition(
        "shadows_merge", "Shadows merge below", "log₂ L", "stop", 1,
        "Where tones a third of a stop apart stay less than 0.02 D apart in the print.",
        HOUSE,
        "Darker tones than this run together; stops count from the brightest tone.",
        _TONES,
    ),
    MeasureDefinition(
        "colour_shift", "Colour shift", "Δ", "stop", 2,
        "Exposure of the patch through the film's own curve, less that of a grey of its luminance.",
        HOUSE,
        "How much lighter or darker a colour is recorded than grey.",
        _PATCH,
    ),
    MeasureDefinition(
        "colour_shift_difference", "Colour shift against the reference", "ΔΔ", "stop", 2,
        "Shift of the film less that of the reference.",
        HOUSE,
        "How differently from the reference a colour is recorded, whatever speed and contrast.",
        (*_PATCH, "MISSING_MEASURE"),
    ),
    MeasureDefinition(
        "filter_factor", "Filter factor", "", "", 2,
        "Ten to the power of the exposure that the filter takes.",
        _PRACTICE,
        "By how much to lengthen the exposure with the filter.",
        _PATCH,
    ),
    MeasureDefinition(
        "corrected_time", "Corrected exposure time", "t", "s", 1,
        "By the named form of reciprocity failure, within the tested times.",
        "Schwarzschild 1900; common practice.",
        "The time to give when the meter asks for a long one.",
        _RECIPROCITY,
    ),
    MeasureDefinition(
        "reciprocity_loss", "Loss to reciprocity failure", "Δlog H", DISTANCE, 2,
        "Log of the time given over the metered time it is right for.",
        "Schwarzschild 1900; common practice.",
        "How much exposure a long time loses.",
        _RECIPROCITY,
    ),
    MeasureDefinition(
        "slope", "Slope of agreement", "b", "", 3,
        "Deming's line, or York's where the error of every reading is known.",
        "Deming 1943; York 2004.",
        "1 when two instruments or members read alike.",
        ("TOO_FEW_PAIRS", "NO_ASSOCIATION", "ILL_DEFINED"),
    ),
    MeasureDefinition(
        "intercept", "Offset of agreement", "a", "D", 3,
        "Deming's line, or York's where the error of every reading is known.",
        "Deming 1943; York 2004.",
        "0 when two instruments or members read alike.",
        ("TOO_FEW_PAIRS", "NO_ASSOCIATION", "ILL_DEFINED"),
    ),
)  # fmt: skip
