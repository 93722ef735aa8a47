"""Sensitometry: readings of a step tablet in, a characteristic curve and its measures out."""

from curves.sensitometry.analysing import analyse_many, analyse_readings
from curves.sensitometry.analysis import ENGINE_VERSION, Analysis, Curve, Points
from curves.sensitometry.codes import FLAGS, REASONS
from curves.sensitometry.comparing.comparison import VERDICTS, Comparison, compare_with_reference
from curves.sensitometry.comparing.lab_spread import LabSpread, estimate_lab_spread
from curves.sensitometry.comparing.pooling import pool_analyses
from curves.sensitometry.comparing.wording import Sentence
from curves.sensitometry.measures import Flag, Measure, SensitometryError
from curves.sensitometry.measuring.exposure_error import with_exposure_error
from curves.sensitometry.readings import Readings
from curves.sensitometry.registry import COMPARISON_MEASURES, MEASURES, METHOD_MEASURES, ROLL_MEASURES
from curves.sensitometry.registry.measure_definition import MeasureDefinition

__all__ = [
    "COMPARISON_MEASURES",
    "ENGINE_VERSION",
    "FLAGS",
    "MEASURES",
    "METHOD_MEASURES",
    "REASONS",
    "ROLL_MEASURES",
    "VERDICTS",
    "Analysis",
    "Comparison",
    "Curve",
    "Flag",
    "LabSpread",
    "Measure",
    "MeasureDefinition",
    "Points",
    "Readings",
    "SensitometryError",
    "Sentence",
    "analyse_many",
    "analyse_readings",
    "compare_with_reference",
    "estimate_lab_spread",
    "pool_analyses",
    "with_exposure_error",
]
