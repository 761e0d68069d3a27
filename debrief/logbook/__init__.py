"""The club's logbook: who flew what, when, and how; the original logs kept, so that all can be measured again.

>>> from debrief.logbook import flights, open_logbook
>>> flights(open_logbook("sqlite://"))
()
"""

from debrief.logbook.adding import Added, add_flight
from debrief.logbook.entry import Entry, Reading, measure_log
from debrief.logbook.looking import (
    Approach,
    FlightRow,
    Original,
    PilotRow,
    approaches,
    flight,
    flights,
    original,
    pilots,
    stored_result,
)
from debrief.logbook.opening import Logbook, default_address, open_logbook

__all__ = [
    "Added",
    "Approach",
    "Entry",
    "FlightRow",
    "Logbook",
    "Original",
    "PilotRow",
    "Reading",
    "add_flight",
    "approaches",
    "default_address",
    "flight",
    "flights",
    "measure_log",
    "open_logbook",
    "original",
    "pilots",
    "stored_result",
]
