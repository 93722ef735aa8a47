"""Sensitometry: readings of a step tablet in, a characteristic curve and its measures out."""
