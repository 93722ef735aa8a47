"""The scans API: the same services and queries as the pages."""
