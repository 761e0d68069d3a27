"""Pilots compared over many flights of one procedure, without being fooled by few of them."""

from debrief.comparison.comparing import compare
from debrief.comparison.model import Comparison, Flown

__all__ = ["Comparison", "Flown", "compare"]
