"""Characteristic curves: readings of test rolls, what they say, and how stocks compare."""
