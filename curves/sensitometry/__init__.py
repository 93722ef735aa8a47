"""Sensitometry: readings of a step tablet in, a characteristic curve and its measures out."""

from curves.sensitometry.analysing import analyse_many, analyse_readings
from curves.sensitometry.analysis import ENGINE_VERSION, Analysis, Curve, Points
from curves.sensitometry.codes import FLAGS, REASONS
from curves.sensitometry.measures import Flag, Measure, SensitometryError
from curves.sensitometry.readings import Readings
from curves.sensitometry.registry import MEASURES, MeasureDefinition

__all__ = [
    "ENGINE_VERSION",
    "FLAGS",
    "MEASURES",
    "REASONS",
    "Analysis",
    "Curve",
    "Flag",
    "Measure",
    "MeasureDefinition",
    "Points",
    "Readings",
    "SensitometryError",
    "analyse_many",
    "analyse_readings",
]
