"""Pages: what takes the lab's disk, and making room on it."""
