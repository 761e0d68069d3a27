"""The result of a debrief: the model of the JSON file (``"format": 1``) and of every report.

Owns      frozen dataclasses, data only: what went in (``inputs``), what happened (``events``), what was measured
          (``measures``) and judged (``judged``), and the whole (``model``). A number that could not be measured is
          ``None``; the reason stands in the nearest ``warnings`` or finding.
Not here  how anything is measured, judged, drawn or written.

Times are UTC. Every ``..._uncertainty...`` is the half-width of the 95 % interval. Signs and definitions:
DEVELOPERS.md, "Definitions".
"""

from __future__ import annotations

from debrief.result.events import (
    MomentName,
    NotSeenInfo,
    PhaseSpan,
    Shown,
    StationPassage,
    TurnInfo,
    Wind,
)
from debrief.result.inputs import (
    Candidate,
    GapInfo,
    ProcedureInfo,
    StandardInfo,
    TrackInfo,
)
from debrief.result.judged import (
    Cause,
    Finding,
    Grade,
    GradeItem,
    Practice,
    Verdict,
)
from debrief.result.measures import (
    ArcMeasures,
    Arrival,
    CirclingMeasures,
    Circuit,
    FinalMeasures,
    Gate,
    HoldMeasures,
    Intercept,
    LandingMeasures,
    LegMeasures,
    LimitBreak,
    Measures,
    MissedMeasures,
    NeedleChase,
    OutboundMeasures,
    Range,
    ReversalMeasures,
    Spread,
    StationTurn,
    Steering,
    TurnAway,
    Uncertainties,
    VisualMeasures,
    Weave,
)
from debrief.result.model import (
    Attempt,
    KeyFigures,
    Notes,
    Reference,
    Result,
)

__all__ = [
    "ArcMeasures",
    "Arrival",
    "Attempt",
    "Candidate",
    "Cause",
    "CirclingMeasures",
    "Circuit",
    "FinalMeasures",
    "Finding",
    "GapInfo",
    "Gate",
    "Grade",
    "GradeItem",
    "HoldMeasures",
    "Intercept",
    "KeyFigures",
    "LandingMeasures",
    "LegMeasures",
    "LimitBreak",
    "Measures",
    "MissedMeasures",
    "MomentName",
    "NeedleChase",
    "NotSeenInfo",
    "Notes",
    "OutboundMeasures",
    "PhaseSpan",
    "Practice",
    "ProcedureInfo",
    "Range",
    "Reference",
    "Result",
    "ReversalMeasures",
    "Shown",
    "Spread",
    "StandardInfo",
    "StationPassage",
    "StationTurn",
    "Steering",
    "TrackInfo",
    "TurnAway",
    "TurnInfo",
    "Uncertainties",
    "Verdict",
    "VisualMeasures",
    "Weave",
    "Wind",
]
