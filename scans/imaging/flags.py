"""The one registry of codes: why a file is refused, a number withheld, or something flagged."""

REFUSALS: dict[str, str] = {
    "NOT_FOUND": "The file cannot be opened.",
    "EMPTY_FILE": "The file holds nothing.",
    "TOO_LARGE": "The file is larger than the limit.",
    "NOT_A_PICTURE": "The content is not TIFF, PNG or JPEG.",
    "DAMAGED_FILE": "The file is cut short or damaged.",
    "TOO_MANY_PAGES": "The file holds more pages than the limit.",
    "TOO_MANY_PIXELS": "The picture declares more pixels than the limit.",
    "NO_PIXELS": "The picture has no width or no height.",
    "UNSUPPORTED_COMPRESSION": "The picture is compressed in a way that is not accepted.",
    "UNSUPPORTED_SAMPLES": "The picture's samples are not 8 or 16 bits of grey or red, green and blue.",
    "SEGMENT_TOO_LARGE": "One strip or tile of the picture is larger than the limit.",
    "OUT_OF_MEMORY": "Decoding needs more memory than the limit.",
    "OUT_OF_TIME": "Decoding takes more time than the limit.",
    "DECODER_STOPPED": "The decoder stopped without an answer.",
}
"""Why a file gives no picture at all."""

REASONS: dict[str, str] = {
    "LOSSY": "A JPEG has lost the fine differences that are measured; scan to TIFF or PNG.",
    "EIGHT_BITS": "Eight bits a sample are too coarse to measure with; scan with 16 bits.",
    "INVERTED": "The file stores white as zero, so it is inverted; scan as a positive.",
    "UNCALIBRATED": "No valid calibration of this scanner with these settings was given.",
    "OTHER_SCANNER": "The calibration is of another scanner.",
    "OTHER_SETTINGS": "The calibration was made with other settings.",
    "EXPIRED": "The calibration is older than its time of validity.",
    "TAMPERED": "The calibration does not match its own digest.",
    "SATURATED": "The levels stand at the scanner's limit.",
    "BELOW_RANGE": "The area is lighter than the lightest step of the calibration.",
    "EXTRAPOLATED": "The area is denser than the calibration reaches.",
    "TOO_FEW_PIXELS": "Too few usable pixels.",
    "TOO_FEW_STEPS": "Fewer than ten usable steps.",
    "NON_MONOTONE": "The levels do not fall as density rises.",
    "POOR_FIT": "The steps scatter too widely about any smooth response.",
    "NOISE_DOMINATES": "The scanner's own noise is too large a part of what is measured.",
    "RESOLUTION_TOO_LOW": "The scan's resolution is too low for this measure.",
    "RESOLUTION_UNKNOWN": "The scan does not say how many pixels an inch has.",
    "NOT_REACHED": "The criterion is not reached within what was measured.",
    "TABLET_NOT_FOUND": "No step tablet was found.",
    "WRONG_STEP_COUNT": "The number of steps seen is not the number expected.",
    "CUT_SHORT": "The tablet runs out of the picture or is cut short.",
    "STEPS_UNEVEN": "A step is not uniform, as when two films overlap or the tablet lies askew.",
    "STEPS_IRREGULAR": "The steps are not evenly spaced or do not darken steadily.",
    "AMBIGUOUS": "Two different places fit almost equally well.",
}
"""Why a picture or an area supports no number."""

FLAGS: dict[str, str] = {
    "DUST_LEFT_OUT": "More than two per cent of the area's pixels were left out as dust or scratches.",
    "UNEVEN": "The area's halves differ by more than its grain explains.",
    "SATURATED": "Some of the area's pixels stand at the scanner's limit.",
    "ABOVE_USABLE_RANGE": "The area is denser than the scanner distinguishes with certainty.",
    "DARK_NOT_MEASURED": "The scanner's level in the dark was not measured and is taken as zero.",
    "SPLINE_USED": "The response departs from gain, flare and gamma; a smooth correction was added.",
    "STEP_LEFT_OUT": "A step was left out of the calibration.",
    "SEVERAL_PAGES": "The file holds several pages; the first was read.",
    "RESOLUTION_UNKNOWN": "The scan does not say how many pixels an inch has.",
    "RESOLUTION_UNEQUAL": "The scan's resolution differs between width and height.",
    "WEAK_STEPS": "Steps of little contrast were placed by the others' spacing.",
    "MIRRORED": "The tablet lies mirrored or upside down.",
}
"""What a person should see although there is a number."""
