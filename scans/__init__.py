"""Scans: a flatbed or film scanner as a measuring instrument for density, grain and sharpness."""
