"""The one registry of measures: name, symbol, unit, digits, formula, source, explanation and reasons."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MeasureDefinition:
    """What a measure is, for JSON, pages, tooltips and the page about the measurements.

    Parameters
    ----------
    name, title, symbol, unit : str
        Key, plain title, symbol in formulas, unit ("" for a plain ratio).
    decimals : int, scalar [1]
        Decimals to show.
    formula, source, explanation : str
        How it is worked out, where that comes from, and what it tells.
    reasons : tuple of str
        Codes that it may be withheld with.
    """

    name: str
    title: str
    symbol: str
    unit: str
    decimals: int
    formula: str
    source: str
    explanation: str
    reasons: tuple[str, ...]


_ANY = ("TOO_FEW_POINTS", "NON_MONOTONE")
_POINT = (*_ANY, "NO_BASE_FOG", "BELOW_RANGE", "NOT_REACHED")
_STRAIGHT = (*_ANY, "NOT_REACHED", "NO_STRAIGHT_PART")
_HOUSE = "House definition."
_X = "log10 lx s"
_G = "D per log10 lx s"

_DEFINITIONS = (
    MeasureDefinition(
        "base_plus_fog", "Base plus fog", "B+F", "D", 2,
        "Mean gross density of the unexposed, processed area.",
        "Common practice; the area is defined in the handbooks of the trade.",
        "What the film itself and the developer's fog add everywhere. Never taken from the lowest step.",
        ("NO_BASE_FOG", "TOO_FEW_POINTS"),
    ),
    MeasureDefinition(
        "d_max", "Maximum density", "Dmax", "D", 2,
        "Fitted density at the last usable step; at least that when the curve still rises there by more"
        " than a tenth of gamma.",
        _HOUSE,
        "How dark the film got. A lower bound unless the shoulder has flattened.",
        (*_ANY, "SATURATED", "NOT_REACHED"),
    ),
    MeasureDefinition(
        "speed_point_log_exposure", "Speed point", "log Hm", _X, 3,
        "Exposure where the fitted curve is 0.10 above base plus fog.",
        "ISO 6:1993.",
        "The exposure of the deepest shadow that still shows; every speed starts here.",
        _POINT,
    ),
    MeasureDefinition(
        "delta_d_130", "Density difference over 1.30", "ΔD", "D", 3,
        "D(log Hm + 1.30) − D(log Hm).",
        "ISO 6:1993.",
        "The standard's contrast: an ISO speed may be stated only when it is 0.80 within 0.05"
        " (the tolerance is from memory).",
        (*_POINT, "N_OUT_OF_RANGE"),
    ),
    MeasureDefinition(
        "iso_speed", "ISO speed", "S", "ISO", 0,
        "0.8 / Hm, rounded to the standard's scale.",
        "ISO 6:1993, Table 1 (from memory, checked against the formula).",
        "Stated only with absolute exposure and when the contrast condition is met.",
        (*_POINT, "N_OUT_OF_RANGE", "UNCALIBRATED", "CONTRAST_NOT_MET", "EXTRAPOLATED"),
    ),
    MeasureDefinition(
        "iso_speed_exact", "ISO speed, unrounded", "0.8/Hm", "ISO", 1,
        "0.8 / Hm.",
        "ISO 6:1993.",
        "The same speed before it is rounded to the scale.",
        (*_POINT, "N_OUT_OF_RANGE", "UNCALIBRATED", "CONTRAST_NOT_MET"),
    ),
    MeasureDefinition(
        "iso_degree", "ISO speed in degrees", "S°", "degree", 0,
        "floor(10 log10 S + 1.5).",
        "ISO 6:1993.",
        "The logarithmic form of the speed; three degrees are one stop.",
        (*_POINT, "N_OUT_OF_RANGE", "UNCALIBRATED", "CONTRAST_NOT_MET"),
    ),
    MeasureDefinition(
        "exposure_index", "Exposure index", "EI", "EI", 1,
        "0.8 / Hm, whatever the contrast.",
        "Formula of ISO 6:1993 without its contrast condition; house use.",
        "What to set the meter to for this development. Not an ISO speed.",
        (*_POINT, "UNCALIBRATED"),
    ),
    MeasureDefinition(
        "delta_x_speed", "ΔX-equivalent speed", "S(ΔX)", "EI", 1,
        "(0.8/Hm)·10^(ΔX − 0.2956), ΔX = 0.83 − 0.86 ΔD + 0.24 ΔD².",
        "Nelson and Simonds, JOSA 46(5), 1956; coefficients from memory, only ΔD 0.80 → 0.296 confirmed.",
        "A speed that allows for contrast, to compare between developments. Not an ISO speed.",
        (*_POINT, "N_OUT_OF_RANGE", "UNCALIBRATED", "EXTRAPOLATED"),
    ),
    MeasureDefinition(
        "fractional_gradient_log_exposure", "Fractional-gradient point", "log Hf", _X, 3,
        "Where dD/dx = 0.3·[D(x + 1.5) − D(x)]/1.5.",
        "The 1943 American standard, from memory.",
        "The shadow criterion that pictures were judged by before fixed density was agreed on.",
        (*_POINT,),
    ),
    MeasureDefinition(
        "box_difference_stops", "Exposure index against box", "EI/box", "stop", 2,
        "log2[(0.8/Hm) / box speed].",
        "Definition.",
        "How far the measured exposure index lies from the speed on the box.",
        (*_POINT, "UNCALIBRATED", "NO_BOX_SPEED"),
    ),
    MeasureDefinition(
        "average_gradient_150", "Average gradient", "G̅(1.5)", _G, 3,
        "[D(log Hm + 1.5) − D(log Hm)]/1.5.",
        "Common practice.",
        "Mean contrast of the part that most pictures use.",
        _POINT,
    ),
    MeasureDefinition(
        "gradient_130", "Average gradient of the ISO pair", "G̅(1.3)", _G, 3,
        "ΔD/1.30.",
        "ISO 6:1993 pair of points.",
        "The contrast condition as a slope: 0.615 when it is met exactly.",
        (*_POINT, "N_OUT_OF_RANGE"),
    ),
    MeasureDefinition(
        "arc_gradient_150", "Average gradient, arc variant", "G̅(arc)", _G, 3,
        "Slope of the chord of length 1.5 from the speed point to the curve.",
        "Common practice, no source.",
        "A different number from the plain average gradient; never compare one with the other.",
        _POINT,
    ),
    MeasureDefinition(
        "contrast_index", "Contrast index", "CI", _G, 3,
        "Slope of the line from the base-plus-fog line whose marks at 0.2 and 2.2 both lie on the curve.",
        "The ruler construction of the trade, from two secondary expositions; original paper not read.",
        "Contrast as it prints, toe included; negatives of one index print on one paper grade.",
        (*_POINT, "ILL_DEFINED"),
    ),
    MeasureDefinition(
        "gamma", "Gamma", "γ", _G, 3,
        "Slope of the longest run of at least four steps within 0.02 D of a line.",
        _HOUSE,
        "Contrast of the straight part alone.",
        _STRAIGHT,
    ),
    MeasureDefinition(
        "maximum_gradient", "Steepest gradient", "max dD/dx", _G, 3,
        "Largest slope of the fitted curve.",
        "Definition.",
        "The steepest point, also of curves without a straight part.",
        (*_ANY, "NOT_REACHED"),
    ),
    MeasureDefinition(
        "speed_point_gradient", "Gradient at the speed point", "dD/dx(Hm)", _G, 3,
        "Slope of the fitted curve at the speed point.",
        "Definition.",
        "How well the deepest shadows separate.",
        _POINT,
    ),
    MeasureDefinition(
        "toe_length", "Toe length", "toe", _X, 2,
        "Start of the straight part less the speed point; 0 when the speed point lies on it.",
        _HOUSE,
        "How long the shadows stay compressed.",
        (*_POINT, "NO_STRAIGHT_PART"),
    ),
    MeasureDefinition(
        "toe_shape", "Toe shape", "toe γ", "", 2,
        "Gradient at the speed point over gamma.",
        _HOUSE,
        "1 for a film whose straight part begins at the speed point, small for a long soft toe.",
        (*_POINT, "NO_STRAIGHT_PART"),
    ),
    MeasureDefinition(
        "toe_chord_gradient", "Shadow gradient", "G(0.4)", _G, 3,
        "[D(log Hm + 0.4) − D(log Hm)]/0.4.",
        _HOUSE,
        "Mean contrast of the first stop and a third above the speed point.",
        _POINT,
    ),
    MeasureDefinition(
        "straight_part_start", "Start of the straight part", "x1", _X, 2,
        "Lower end of the stretch with gradient at least 0.90 gamma.",
        _HOUSE,
        "Where the toe ends.",
        (*_STRAIGHT, "BELOW_RANGE"),
    ),
    MeasureDefinition(
        "straight_part_end", "End of the straight part", "x2", _X, 2,
        "Upper end of the stretch with gradient at least 0.90 gamma.",
        _HOUSE,
        "Where the shoulder begins to tell.",
        _STRAIGHT,
    ),
    MeasureDefinition(
        "straight_extent", "Straight extent", "x2 − x1", _X, 2,
        "End less start of the straight part.",
        _HOUSE,
        "The range of exposures that is rendered with even contrast.",
        (*_STRAIGHT, "BELOW_RANGE"),
    ),
    MeasureDefinition(
        "shoulder_onset", "Shoulder onset", "x2", _X, 2,
        "First exposure above the straight part where the gradient is below 0.90 gamma.",
        _HOUSE,
        "Where highlights begin to be compressed. Withheld when no shoulder was reached.",
        _STRAIGHT,
    ),
    MeasureDefinition(
        "useful_range", "Useful exposure range", "range", _X, 2,
        "From the speed point to where the gradient has fallen to 0.3 of the average gradient.",
        _HOUSE,
        "All exposures that the film can tell apart; at least that when no end was reached.",
        _POINT,
    ),
    MeasureDefinition(
        "latitude", "Latitude for a subject of 2.20", "latitude", _X, 2,
        "Useful range less a subject range of 2.20.",
        _HOUSE,
        "How much an average outdoor subject may be overexposed before highlights merge.",
        _POINT,
    ),
    MeasureDefinition(
        "highlight_gradient", "Highlight separation", "G(1.8–2.4)", _G, 3,
        "Mean slope between 1.8 and 2.4 above the speed point.",
        _HOUSE,
        "How well the bright tones of a normally exposed picture separate.",
        _POINT,
    ),
    MeasureDefinition(
        "reading_noise", "Reading noise", "σ", "D", 3,
        "Standard deviation of one reading about the fitted curve, with repeat readings when there are any.",
        _HOUSE,
        "How well the readings repeat; every interval follows from it.",
        _ANY,
    ),
    MeasureDefinition(
        "between_strip_stops", "Spread between strips", "σ(strip)", "stop", 2,
        "Standard deviation of the strips' shifts along the exposure axis, beyond reading noise.",
        _HOUSE,
        "How well the exposures of the strips of one roll repeat.",
        (*_ANY, "NO_INTERVAL"),
    ),
)  # fmt: skip

_PAIR = (*_POINT, "NO_OVERLAP", "ILL_DEFINED")

_COMPARISONS = (
    MeasureDefinition(
        "speed_shift_stops", "Speed against the reference", "Δ speed", "stop", 2,
        "[log Hm(reference) − log Hm(test)]/log10 2.",
        "Definition.",
        "Positive when the test film needs less exposure than the reference for the same shadow.",
        (*_PAIR, "MIXED_EXPOSURE"),
    ),
    MeasureDefinition(
        "contrast_ratio", "Contrast against the reference", "G̅/G̅ref", "", 3,
        "Rise over the 1.50 above the speed point (less where less was measured), test over reference.",
        _HOUSE,
        "1.10 means that the test film is a tenth more contrasty at this development.",
        _PAIR,
    ),
    MeasureDefinition(
        "shape_difference", "Shape left over", "rms ΔD", "D", 3,
        "Root mean square of the density difference with speed points laid together and contrast matched,"
        " reading error taken off.",
        _HOUSE,
        "What no change of exposure or development would make alike.",
        _PAIR,
    ),
    MeasureDefinition(
        "toe_difference", "Shape left over in the shadows", "ΔD toe", "D", 3,
        "Mean of the difference left over within 0.5 of the speed point.",
        _HOUSE,
        "Positive when the test film's shadows are denser than the reference's would be.",
        _PAIR,
    ),
    MeasureDefinition(
        "middle_difference", "Shape left over in the middle tones", "ΔD middle", "D", 3,
        "Mean of the difference left over between 0.5 and 1.5 above the speed point.",
        _HOUSE,
        "Positive when the test film's middle tones are denser than the reference's would be.",
        _PAIR,
    ),
    MeasureDefinition(
        "highlight_difference", "Shape left over in the highlights", "ΔD highlights", "D", 3,
        "Mean of the difference left over more than 1.5 above the speed point.",
        _HOUSE,
        "Positive when the test film's highlights are denser than the reference's would be.",
        _PAIR,
    ),
    MeasureDefinition(
        "base_difference", "Base plus fog against the reference", "Δ(B+F)", "D", 2,
        "Base plus fog of the test less that of the reference.",
        "Definition.",
        "Costs printing time only.",
        ("NO_BASE_FOG", "TOO_FEW_POINTS"),
    ),
)  # fmt: skip

ROLL_MEASURES: tuple[str, ...] = tuple(definition.name for definition in _DEFINITIONS)
COMPARISON_MEASURES: tuple[str, ...] = tuple(definition.name for definition in _COMPARISONS)
MEASURES: dict[str, MeasureDefinition] = {item.name: item for item in (*_DEFINITIONS, *_COMPARISONS)}
