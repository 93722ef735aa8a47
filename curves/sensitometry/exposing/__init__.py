"""Exposure as the camera gives it: true settings, brackets, matching frames, reciprocity."""
