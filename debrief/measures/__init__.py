"""Measures: from a flight and an attempt found in it to numbers with units, signs and uncertainties."""

from debrief.measures.altitude import Tolerance
from debrief.measures.attempt import measure
from debrief.measures.gates import GateLimits
from debrief.measures.station import passages
from debrief.measures.turning import turns

__all__ = ["GateLimits", "Tolerance", "measure", "passages", "turns"]
