"""From a curve to its measures: speeds, contrasts, toe and shoulder, each with its interval or reason."""
