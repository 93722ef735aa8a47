"""Reading: querysets and frozen view data, no writes."""
