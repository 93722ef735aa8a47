"""Template tags: the frame of a page (navigation), its parts (components), its numbers (measures)."""
