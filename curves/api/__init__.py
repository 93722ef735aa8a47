"""The curves app for scripts, a noun a file: services and queries of the pages, so the same words."""
