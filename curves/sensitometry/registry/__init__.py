"""The one registry of measures: title, symbol, unit, digits, formula, source, explanation and reasons."""

from curves.sensitometry.registry.comparison_definitions import COMPARISON_DEFINITIONS
from curves.sensitometry.registry.control_definitions import CONTROL_DEFINITIONS
from curves.sensitometry.registry.measure_definition import MeasureDefinition
from curves.sensitometry.registry.method_definitions import METHOD_DEFINITIONS
from curves.sensitometry.registry.picture_definitions import PICTURE_DEFINITIONS
from curves.sensitometry.registry.roll_definitions import ROLL_DEFINITIONS

ROLL_MEASURES: tuple[str, ...] = tuple(definition.name for definition in ROLL_DEFINITIONS)
COMPARISON_MEASURES: tuple[str, ...] = tuple(definition.name for definition in COMPARISON_DEFINITIONS)
PICTURE_MEASURES: tuple[str, ...] = tuple(definition.name for definition in PICTURE_DEFINITIONS)
CONTROL_MEASURES: tuple[str, ...] = tuple(definition.name for definition in CONTROL_DEFINITIONS)
# All that stands beside the curve, grain and sharpness first, control and agreement last.
METHOD_MEASURES: tuple[str, ...] = (
    *PICTURE_MEASURES,
    *(definition.name for definition in METHOD_DEFINITIONS),
    *CONTROL_MEASURES,
)
MEASURES: dict[str, MeasureDefinition] = {
    definition.name: definition
    for definition in (
        *ROLL_DEFINITIONS,
        *COMPARISON_DEFINITIONS,
        *PICTURE_DEFINITIONS,
        *METHOD_DEFINITIONS,
        *CONTROL_DEFINITIONS,
    )
}
