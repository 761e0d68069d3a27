"""The arrival: the track that leads to the station, whether the approach goes straight in, a racetrack's entry.

Owns      the angle between the arrival and the inbound course; how a racetrack was entered.
Not here  the turn at the station and its lead (``station``), the sectors (``procedures.entries``), whether straight
          in was allowed (grading).
"""

from __future__ import annotations

import numpy as np

from debrief.language import tr
from debrief.measures import uncertainty
from debrief.measures.scene import Scene
from debrief.measures.station import track_before_deg, track_before_sd_deg
from debrief.measures.statistics import mean_direction_deg, weights_s
from debrief.measures.turning import TURNING_DEG_S, episodes
from debrief.navigation.angles import difference_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.radials import cross_track_nm
from debrief.navigation.turns import procedure_radius_nm
from debrief.phases.model import Span, StationView
from debrief.procedures.entries import (
    PARALLEL_SECTOR_DEG,
    SECTOR_EITHER_SIDE_DEG,
    Entry,
    entry,
    turn_side,
)
from debrief.procedures.model import Phase
from debrief.result import Arrival, StationTurn

_OFFSET_TRACK_DEG = (15.0, 50.0)  # 30 degrees, wind and corrections included. Mark: common practice
_DIRECT_TURN_DEG = (
    100.0  # a direct entry turns with the racetrack, and by more than this. Mark: common practice
)
# the most that an entry of that kind begins with. Mark: common practice
_PARALLEL_TURN_DEG = PARALLEL_SECTOR_DEG + 25.0
_SECTOR_SHARE = 1.0 / 3.0  # half of it in still air, less with a wind across
_OVERHEAD_RADII = 1.5  # 1.34 in still air
_SETTLED_S = 25.0  # so long of the first outbound track tells the entry
_TURNED_S = 20.0  # a turn begun later is none at the station
_LEAST_TURN_DEG = 20.0
_ARRIVES_FROM_NM = 15.0  # the direction of a station on the aerodrome is taken no farther out


def arrival(scene: Scene, turn: StationTurn | None, *, by_arc: bool | None = None) -> Arrival | None:
    """Measure the arrival; ``None`` where what came before the station (or being established) was not observed.

    The track is that over the last 20 s before the turn at the station; without such a turn, before the passage
    begins. Straight in to a station on the aerodrome it is the direction of the station where the way in begins.
    """
    procedure = scene.procedure
    inbound = scene.span(Phase.INBOUND)
    if inbound is None:
        return None
    straight_in = scene.attempt.straight_in
    if straight_in and procedure.station_on_aerodrome:
        track_deg, sure_deg = _towards_station(scene, inbound)
    else:
        track_deg, sure_deg = _track_to_station(scene, inbound, turn)
    if track_deg is None:
        return None
    inbound_true_deg = procedure.true_deg(procedure.inbound_course_deg)
    sector = None if straight_in else entry(procedure, track_deg - procedure.station.declination_deg)
    near_parallel = any(
        entry(procedure, track_deg - procedure.station.declination_deg + off_deg) == "parallel"
        for off_deg in (-SECTOR_EITHER_SIDE_DEG, 0.0, SECTOR_EITHER_SIDE_DEG)
    )
    return Arrival(
        track_true_deg=track_deg % 360.0,
        off_inbound_course_deg=float(difference_deg(track_deg, inbound_true_deg)),
        uncertainty_deg=sure_deg,
        straight_in=straight_in,
        entry=None if straight_in else _entry(scene, near_parallel=near_parallel),
        entry_by_sector=sector,
        by_arc=by_arc,
    )


def why_not_arrived(scene: Scene, arrived: Arrival | None) -> tuple[str, ...]:
    """Why the arrival, or a racetrack's entry, could not be told where a way in was flown."""
    if arrived is None:
        return (tr("Arrival not measured: the way to the station was not observed."),)
    racetrack = turn_side(scene.procedure) is not None and scene.span(Phase.OUTBOUND, 0) is not None
    if racetrack and not arrived.straight_in and arrived.entry is None:
        return (tr("Entry into the racetrack not told: the first turn and track out fit none of the three."),)
    return ()


def _track_to_station(scene: Scene, inbound: Span, turn: StationTurn | None) -> tuple[float | None, float]:
    """The ground track before the turn at the station (before its cone without one), and its uncertainty [deg]."""
    until_s = inbound.end_s
    if turn is not None:
        until_s = (turn.start - scene.flight.log.track.epoch).total_seconds()
    view = scene.over(inbound.start_s, max(until_s, inbound.end_s) + 1.0)
    if len(view) == 0:
        return None, np.inf
    sure_deg = half_width(
        track_before_sd_deg(scene.flight, float(view.groundspeed_kt[-1])),
        rectangular=scene.procedure.station.alignment_within_deg,
    )
    return track_before_deg(view, until_s), sure_deg


def _towards_station(scene: Scene, inbound: Span) -> tuple[float | None, float]:
    """The direction of the station where the way in begins, at most 15 NM out, and its uncertainty [deg]."""
    view = scene.over(inbound.start_s, inbound.end_s)
    view = view.where(view.distance_nm <= _ARRIVES_FROM_NM)
    if len(view) == 0:
        return None, np.inf
    towards_deg = scene.procedure.true_deg(float(view.radial_deg[0]) + 180.0)
    return towards_deg, uncertainty.angle_at_station_deg(scene.flight, float(view.distance_nm[0]))


def _outbound_true_deg(scene: Scene) -> float:
    return scene.procedure.true_deg(scene.procedure.outbound_course_deg or 0.0)


def _entry(scene: Scene, *, near_parallel: bool) -> Entry | None:
    """How a racetrack was entered; ``None`` for another pattern, and where it cannot be told.

    Parallel: the first turn inbound goes the other way than the racetrack's turns, through its holding side, and
    farther to that side than to the other; a turn at the station of far more than leads there from its sector, against
    the racetrack's turns, is that of a racetrack flown to the other side. From the parallel sector less of it is enough, or no more on the other
    side than the turn at the station explains: one of 110 degrees begun overhead leads 1.3 of its radii there, of
    which the turn back leaves 0.7.
    Offset: the first outbound track stands about 30 degrees off the outbound course, into the holding side.
    Direct: the turn at the station goes with the racetrack's turns, onto the outbound course.
    """
    side, outbound = turn_side(scene.procedure), scene.span(Phase.OUTBOUND, 0)
    if side is None or outbound is None:
        return None
    began_s = (
        scene.attempt.start_s if not scene.attempt.passages else scene.attempt.passages[0].entry_s - 30.0
    )
    until_s = min(outbound.start_s + _TURNED_S, outbound.end_s)
    onto = [
        turn
        for turn in episodes(scene.over(began_s, outbound.end_s), _LEAST_TURN_DEG)
        if turn.start_s < until_s
    ]
    turned_deg = side * onto[0].change_deg if onto else 0.0  # with the racetrack's turns positive
    back = scene.span(Phase.COURSE_REVERSAL, 0)
    little_against = turned_deg >= -_PARALLEL_TURN_DEG
    if back is not None and little_against and _is_parallel(scene, side, back, by_sector=near_parallel):
        return "parallel"
    first_s = max(onto[0].end_s if onto else outbound.start_s, outbound.start_s)
    if turned_deg >= _DIRECT_TURN_DEG:
        return "direct"
    off_deg = _steady_track_off_deg(
        scene.over(first_s, min(first_s + _SETTLED_S, outbound.end_s)), _outbound_true_deg(scene)
    )
    if off_deg is None:
        return None
    # seen along the outbound course the holding side lies on the other hand than the turns
    into_deg = -side * off_deg
    if _OFFSET_TRACK_DEG[0] <= into_deg <= _OFFSET_TRACK_DEG[1]:
        return "offset"
    return "direct" if turned_deg > 0 else None


def _is_parallel(scene: Scene, side: float, back: Span, *, by_sector: bool) -> bool:
    """Whether the turn inbound goes against the racetrack's turns and through its holding side."""
    view = scene.over(back.start_s, back.end_s)
    turns = episodes(view, _LEAST_TURN_DEG)
    if not turns or len(view) == 0:
        return False
    turn = max(turns, key=lambda one: abs(one.change_deg))
    if side * turn.change_deg > 0:
        return False
    across_nm = side * cross_track_nm(
        view.east_nm, view.north_nm, scene.procedure.true_deg(scene.procedure.inbound_course_deg)
    )
    holding_nm, other_nm = float(np.max(across_nm)), -float(np.min(across_nm))
    radius_nm = float(procedure_radius_nm(float(view.groundspeed_kt[0])))
    overhead = other_nm <= _OVERHEAD_RADII * radius_nm
    return holding_nm > other_nm or (by_sector and (holding_nm > _SECTOR_SHARE * other_nm or overhead))


def _steady_track_off_deg(view: StationView, course_true_deg: float) -> float | None:
    """Mean ground track off a course, turns left out, right positive. [deg]"""
    steady = view.where(np.abs(view.turn_rate_deg_s) < TURNING_DEG_S)
    if len(steady) == 0:
        return None
    track_deg = mean_direction_deg(steady.ground_track_true_deg, weights_s(steady.t_s, steady.segment))
    return None if track_deg is None else float(difference_deg(track_deg, course_true_deg))
