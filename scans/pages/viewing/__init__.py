"""Pages: tiles, and scans side by side."""
