"""Debriefs of recorded instrument approaches, for simulator flying and training. Not for navigation."""

__version__ = "0.1.0"
