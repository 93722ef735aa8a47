"""Writing: keyword-only verbs, one transaction each.

A service checks who asks and what state things are in, changes named fields only, leaves an audit
record, and submits a job on commit where something has to be computed. Nothing else writes.
"""
