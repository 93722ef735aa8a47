"""The colours of figures on paper; a page's own style sheet has those of its themes."""

INK = "#1a1a1a"
SOFT = "#474747"
PAPER = "#ffffff"
GRID = "#dddddd"
AXIS = "#5c5c5c"
UNLIT = "#767676"
REFERENCE = "#000000"
BAND_OPACITY = 0.17
