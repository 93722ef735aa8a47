"""Definitions of what is read off pictures of a film: grain and sharpness."""

from curves.sensitometry.registry.measure_definition import MeasureDefinition

_PICTURE = ("NOT_MEASURED", "OTHER_RIG", "NO_INTERVAL")

PICTURE_DEFINITIONS = (
    MeasureDefinition(
        "rms_granularity", "RMS granularity", "RMS G", "1000 D", 1,
        "1000 σ(D) through a round aperture of 48 µm at gross density 1.00, the scanner's noise taken off;"
        " rolls pooled as logarithms by random effects.",
        "ISO 10505:2009 for aperture and density (from memory); the scanner's light is more directed than"
        " the standard's.",
        "How much density flickers from place to place: the finer the grain, the smaller. Compare films"
        " scanned with one rig only.",
        _PICTURE,
    ),
    MeasureDefinition(
        "film_mtf50", "Half modulation (MTF50)", "MTF50", "cycles/mm", 0,
        "Frequency at which the modulation across a slanted edge falls to a half, the scanner's part divided"
        " out; rolls pooled as logarithms by random effects.",
        "ISO 12233:2014 for the edge; lens and target of the exposure standard are still in it.",
        "How fine a pattern still comes through with half its contrast: the sharper, the greater. Compare"
        " films exposed and scanned with one rig only.",
        _PICTURE,
    ),
)  # fmt: skip
