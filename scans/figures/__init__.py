"""Figures of scans: stored documents in, Plotly figure dictionaries out. Pure; nothing here draws.

They follow the conventions of `curves.figures`: no colours, a role and an ink for each trace, and one
plain sentence in ``meta["description"]`` for those who do not see it.
"""
