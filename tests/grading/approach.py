"""The approach of ``tests.measures.builders``, bent where a test wants it, and judged.

The bends are exact: feet added to the altitude, or a turn of the position about the station, which changes the
deviation by just as many degrees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from debrief.grading.assessment import Assessment
from debrief.grading.case import Case
from debrief.grading.rules import RULES, assess
from debrief.grading.standard import Standard, Tolerance
from debrief.grading.standard_reader import load_standard
from debrief.measures import measure
from debrief.measures.scene import scene_of
from debrief.phases.model import FoundAttempt, Noise
from debrief.procedures.model import Procedure
from debrief.result import Measures, Wind
from debrief.tracks.model import PositionErrors
from tests.measures import builders
from tests.measures.builders import Path

Floats = NDArray[np.float64]
Bend = tuple[float, float, float]  # from, to [s], by how much

RAMP_S = 4.0
#: 0.02 NM of position, 40 ft of altitude: half-widths at 95 %.
SURE_NM, SURE_FT = 0.02, 40.0
#: A log of which only the bias is known, so that the half-widths are just those.
QUIET = Noise(
    position_nm=0.0,
    worse_in_turns=1.0,
    altitude_ft=0.0,
    smoothed_position_nm=0.0,
    smoothed_altitude_ft=0.0,
    smoothed_groundspeed_kt=0.0,
    smoothed_vertical_speed_ft_min=0.0,
)


def _ramp(t_s: Floats, bend: Bend) -> Floats:
    """``by`` from start to end, risen and gone within 4 s outside."""
    start_s, end_s, by = bend
    shape = np.interp(t_s, [start_s - RAMP_S, start_s, end_s, end_s + RAMP_S], [0.0, 1.0, 1.0, 0.0])
    return by * shape


@dataclass
class Bent(Path):
    """A path with bends in its altitude [ft] and about the station [deg, clockwise]."""

    straight_path: Path | None = None
    higher: Sequence[Bend] = ()
    clockwise: Sequence[Bend] = ()

    def at(self, t_s: Floats) -> dict[str, Floats]:
        assert self.straight_path is not None
        values = self.straight_path.at(t_s)
        for bend in self.higher:
            values["altitude"] = values["altitude"] + _ramp(t_s, bend)
            values["climb"] = values["climb"] + (_ramp(t_s + 0.5, bend) - _ramp(t_s - 0.5, bend)) * 60.0
        for bend in self.clockwise:
            angle = np.radians(_ramp(t_s, bend))
            east, north = values["east"], values["north"]
            values["east"] = east * np.cos(angle) + north * np.sin(angle)
            values["north"] = north * np.cos(angle) - east * np.sin(angle)
        return values


def bent(path: Path, higher: Sequence[Bend] = (), clockwise: Sequence[Bend] = ()) -> Bent:
    return Bent(
        east_nm=path.east_nm,
        north_nm=path.north_nm,
        track_deg=path.track_deg,
        groundspeed_kt=path.groundspeed_kt,
        altitude_ft=path.altitude_ft,
        now_s=path.now_s,
        marks=path.marks,
        straight_path=path,
        higher=higher,
        clockwise=clockwise,
    )


def case(
    plan: Procedure | None = None,
    *,
    higher: Sequence[tuple[str | float, str | float, float]] = (),
    clockwise: Sequence[tuple[str | float, str | float, float]] = (),
    standard: Standard | None = None,
    wind: Wind | None = None,
    attempt: FoundAttempt | None = None,
    measures: dict[str, Any] | None = None,
    sure_nm: float = SURE_NM,
    sure_ft: float = SURE_FT,
    wander_ft: float = 0.0,
    **log: Any,
) -> Case:
    """The whole approach with bends (between marks or seconds), its attempt or some measures replaced.

    ``wander_ft`` is the standard deviation of a slow error of the altitude.
    """
    plan = plan or builders.procedure()
    built = builders.whole_approach(plan)

    def moments(bends: Sequence[tuple[str | float, str | float, float]]) -> list[Bend]:
        return [(_moment(built.path, a), _moment(built.path, b), by) for a, b, by in bends]

    found = attempt or built.attempt
    log = {"noise": QUIET, "altitude_uncertainty_ft": sure_ft} | log
    flight = builders.flight(bent(built.path, moments(higher), moments(clockwise)), plan, found, **log)
    errors = replace(flight.log.altitude_errors, wander_ft=wander_ft)
    position = PositionErrors(constant_nm=sure_nm / 2.0)
    flight = replace(flight, log=replace(flight.log, position_errors=position, altitude_errors=errors))
    standard = standard or load_standard()
    measured = measure(flight, found, wind, gate_limits=standard.gate_limits)
    for name, change in (measures or {}).items():
        measured = replace(measured, **{name: _changed(getattr(measured, name), change)})
    return Case(scene=scene_of(flight, found, wind), measures=measured, standard=standard)


def _changed(part: Any, change: Any) -> Any:
    return replace(part, **change) if isinstance(change, dict) and part is not None else change


def _moment(path: Path, at: str | float) -> float:
    """A mark, a mark and seconds ("turn off - 20"), or seconds."""
    if not isinstance(at, str):
        return at
    for sign in (" + ", " - "):
        if sign in at:
            name, seconds = at.split(sign)
            return path.marks[name] + float(sign.strip() + seconds)
    return path.marks[at]


def with_rule(rule: str, unit: str | None = None, **changes: Any) -> Standard:
    """The instrument rating with some keys of a rule changed."""
    standard = load_standard()
    tolerances = tuple(
        Tolerance.model_validate(t.model_dump(exclude_unset=True) | changes, strict=False)
        if t.rule == rule and (unit is None or t.unit == unit)
        else t
        for t in standard.rule
    )
    return standard.model_copy(update={"rule": tolerances})


def assessed(case: Case, rule: str, phase: str | None = None, unit: str | None = None) -> Assessment:
    """The assessment of one rule (and phase), the worst where several were given."""
    found = [
        a
        for a in assess(case)
        if a.rule == rule
        and (phase is None or a.phase == phase)
        and (unit is None or a.tolerance.unit == unit)
    ]
    assert len(found) == 1, [(a.rule, a.phase, a.outcome) for a in found]
    return found[0]


def outcomes(case: Case, rule: str) -> list[str]:
    """Verdicts of one rule."""
    return [a.outcome for t in case.standard.rule if t.rule == rule for a in RULES[rule](case, t)]


def no_measures() -> Measures:
    return Measures()
