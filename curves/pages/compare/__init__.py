"""The Compare area: many stocks next to the house reference, under the same standards."""
