"""The club's logbook: who flew what, when, and how; the original logs kept, so that all can be measured again.

>>> from debrief.logbook import flights, open_logbook
>>> flights(open_logbook("sqlite://"))
()
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

#: Where each name lives. Nothing is loaded before it is asked for: a list of flights needs no numpy.
_WHERE = {
    "Added": "adding",
    "Approach": "looking",
    "Entry": "entry",
    "FlightRow": "looking",
    "Logbook": "opening",
    "Original": "looking",
    "PilotRow": "looking",
    "Reading": "entry",
    "add_flight": "adding",
    "approaches": "looking",
    "default_address": "addresses",
    "flight": "looking",
    "flights": "looking",
    "measure_log": "entry",
    "open_logbook": "opening",
    "original": "looking",
    "pilots": "looking",
    "stored_result": "looking",
}
__all__ = sorted(_WHERE)

if TYPE_CHECKING:
    from debrief.logbook.adding import Added as Added
    from debrief.logbook.adding import add_flight as add_flight
    from debrief.logbook.addresses import default_address as default_address
    from debrief.logbook.entry import Entry as Entry
    from debrief.logbook.entry import Reading as Reading
    from debrief.logbook.entry import measure_log as measure_log
    from debrief.logbook.looking import Approach as Approach
    from debrief.logbook.looking import FlightRow as FlightRow
    from debrief.logbook.looking import Original as Original
    from debrief.logbook.looking import PilotRow as PilotRow
    from debrief.logbook.looking import approaches as approaches
    from debrief.logbook.looking import flight as flight
    from debrief.logbook.looking import flights as flights
    from debrief.logbook.looking import original as original
    from debrief.logbook.looking import pilots as pilots
    from debrief.logbook.looking import stored_result as stored_result
    from debrief.logbook.opening import Logbook as Logbook
    from debrief.logbook.opening import open_logbook as open_logbook


def __getattr__(name: str) -> object:
    if name in _WHERE:
        return getattr(import_module(f"debrief.logbook.{_WHERE[name]}"), name)
    raise AttributeError(f"debrief.logbook has no {name!r}; it offers {', '.join(__all__)}")


def __dir__() -> list[str]:
    return __all__
