"""Rolls pooled to stocks, stocks held against the reference: differences, spread, sameness, words."""
