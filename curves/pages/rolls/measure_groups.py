"""A roll's measures in the order in which they are read, in groups; none is left out."""

from dataclasses import dataclass

from curves.sensitometry import MEASURES, Analysis, Measure, MeasureDefinition

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Speed",
        (
            "iso_speed",
            "iso_speed_exact",
            "iso_degree",
            "exposure_index",
            "box_difference_stops",
            "delta_x_speed",
            "speed_point_log_exposure",
            "fractional_gradient_log_exposure",
            "delta_d_130",
        ),
    ),
    (
        "Contrast",
        (
            "average_gradient_150",
            "gradient_130",
            "arc_gradient_150",
            "contrast_index",
            "gamma",
            "maximum_gradient",
        ),
    ),
    ("Shadows", ("toe_length", "toe_shape", "toe_chord_gradient", "speed_point_gradient")),
    (
        "Middle tones and highlights",
        (
            "straight_part_start",
            "straight_part_end",
            "straight_extent",
            "shoulder_onset",
            "highlight_gradient",
            "useful_range",
            "latitude",
        ),
    ),
    ("Density and readings", ("base_plus_fog", "d_max", "reading_noise", "between_strip_stops")),
)
REST = "Others"
#: Shown large at the top, the first of each pair that has a value.
KEY_MEASURES = (
    ("iso_speed", "exposure_index", "speed_point_log_exposure"),
    ("average_gradient_150",),
    ("base_plus_fog",),
    ("d_max",),
    ("useful_range",),
)


@dataclass(frozen=True)
class MeasureRow:
    """One measure with what the registry says about it."""

    definition: MeasureDefinition
    measure: Measure

    @property
    def is_bound(self) -> bool:
        """Whether the value is an "at least" or "at most", whose note says why."""
        return self.measure.value is not None and (self.measure.low is None) != (self.measure.high is None)


def grouped_measures(result: Analysis) -> list[tuple[str, list[MeasureRow]]]:
    """Return every measure of a result under the title of its group."""
    grouped = {name for _, names in GROUPS for name in names}
    rest = (REST, tuple(name for name in result.measures if name not in grouped))
    groups = [
        (title, [_row(result, name) for name in names if name in result.measures])
        for title, names in (*GROUPS, rest)
    ]
    return [(title, rows) for title, rows in groups if rows]


def key_measures(result: Analysis) -> list[MeasureRow]:
    """Return the measures that are looked at first; a withheld one only where no other can stand in."""
    chosen = []
    for names in KEY_MEASURES:
        known = [name for name in names if name in result.measures]
        valued = [name for name in known if result.measures[name].value is not None]
        chosen += [_row(result, name) for name in (valued or known)[:1]]
    return chosen


def _row(result: Analysis, name: str) -> MeasureRow:
    return MeasureRow(MEASURES[name], result.measures[name])
