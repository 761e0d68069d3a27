"""Debriefs of recorded instrument approaches, for simulator flying and training. Not for navigation.

>>> import debrief
>>> track = debrief.read_track("sample_tracks/lantern-clean.gpx")
>>> result = debrief.debrief(track, debrief.load_procedure("lantern-vor-22"), "training")
>>> [phase.phase for phase in result.attempts[0].phases][:3]
['inbound', 'station_passage', 'outbound']
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

#: Where each public name lives. Nothing is loaded before it is asked for.
_WHERE = {
    "AltitudeCorrection": "pipeline",
    "DebriefError": "errors",
    "Procedure": "procedures",
    "Result": "result",
    "Standard": "grading",
    "Track": "tracks.model",
    "bundled_procedures": "procedures",
    "debrief": "pipeline",
    "debrief_best": "choice",
    "load_procedure": "procedures",
    "load_standard": "grading",
    "read_result": "reports",
    "read_track": "tracks.readers",
    "write_report": "reports",
}
__all__ = sorted(_WHERE)

if TYPE_CHECKING:
    from debrief.choice import debrief_best as debrief_best
    from debrief.errors import DebriefError as DebriefError
    from debrief.grading import Standard as Standard
    from debrief.grading import load_standard as load_standard
    from debrief.pipeline import AltitudeCorrection as AltitudeCorrection
    from debrief.pipeline import debrief as debrief
    from debrief.procedures import Procedure as Procedure
    from debrief.procedures import bundled_procedures as bundled_procedures
    from debrief.procedures import load_procedure as load_procedure
    from debrief.reports import read_result as read_result
    from debrief.reports import write_report as write_report
    from debrief.result import Result as Result
    from debrief.tracks.model import Track as Track
    from debrief.tracks.readers import read_track as read_track


def __getattr__(name: str) -> object:
    if name in _WHERE:
        return getattr(import_module(f"debrief.{_WHERE[name]}"), name)
    raise AttributeError(f"debrief has no {name!r}; it offers {', '.join(__all__)}")


def __dir__() -> list[str]:
    return __all__
