"""Pages: a view parses, makes one service or query call, and renders; an area of the site each."""
