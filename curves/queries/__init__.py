"""Reading: querysets and frozen view data, no writes. ``visible_…(user)`` says who sees what."""
