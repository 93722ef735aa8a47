"""Writing: keyword-only verbs, one transaction each."""
