"""Definitions of the differences between a test film and the reference."""

from curves.sensitometry.registry.measure_definition import HOUSE, SPEED_POINT, MeasureDefinition

_BOTH = (*SPEED_POINT, "NO_OVERLAP")

COMPARISON_DEFINITIONS = (
    MeasureDefinition(
        "speed_shift_stops", "Speed against the reference", "Δ speed", "stop", 2,
        "[log Hm(reference) − log Hm(test)]/log10 2.",
        "Definition.",
        "Positive when the test film needs less exposure than the reference for the same shadow.",
        (*_BOTH, "MIXED_EXPOSURE"),
    ),
    MeasureDefinition(
        "contrast_ratio", "Contrast against the reference", "G̅/G̅ref", "", 3,
        "Rise over the 1.50 above the speed point (less where less was measured), test over reference.",
        HOUSE,
        "1.10 means that the test film is a tenth more contrasty at this development.",
        _BOTH,
    ),
    MeasureDefinition(
        "shape_difference", "Shape left over", "rms ΔD", "D", 3,
        "Root mean square of the density difference with speed points laid together and contrast matched,"
        " reading error taken off.",
        HOUSE,
        "What no change of exposure or development would make alike.",
        _BOTH,
    ),
    MeasureDefinition(
        "toe_difference", "Shape left over in the shadows", "ΔD toe", "D", 3,
        "Mean of the difference left over within 0.5 of the speed point.",
        HOUSE,
        "Positive when the test film's shadows are denser than the reference's would be.",
        _BOTH,
    ),
    MeasureDefinition(
        "middle_difference", "Shape left over in the middle tones", "ΔD middle", "D", 3,
        "Mean of the difference left over between 0.5 and 1.5 above the speed point.",
        HOUSE,
        "Positive when the test film's middle tones are denser than the reference's would be.",
        _BOTH,
    ),
    MeasureDefinition(
        "highlight_difference", "Shape left over in the highlights", "ΔD highlights", "D", 3,
        "Mean of the difference left over more than 1.5 above the speed point.",
        HOUSE,
        "Positive when the test film's highlights are denser than the reference's would be.",
        _BOTH,
    ),
    MeasureDefinition(
        "base_difference", "Base plus fog against the reference", "Δ(B+F)", "D", 2,
        "Base plus fog of the test less that of the reference.",
        "Definition.",
        "Costs printing time only.",
        ("NO_BASE_FOG", "TOO_FEW_POINTS"),
    ),
)  # fmt: skip
