"""From readings to a curve with its posterior: steps averaged, the form fitted, departures inferred."""
