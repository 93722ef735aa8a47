"""Measurements, not tests: each module's ``rows()`` times ours beside the obvious way in one run."""
