"""At the station: each passage, and the turn onto the outbound course with its lead.

Owns      the result's view of each passage, its time's uncertainty included; how far from the station the turn
          began, and how far it should have.
Not here  finding the closest point (phases), the lead's formulas (navigation.turns).
Source    ``turn.lead_nm``: DEVELOPERS.md, Definitions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from debrief.language import mark, tr
from debrief.measures import log_errors, uncertainty
from debrief.measures.moments import closest_point, read_at, slant_sure_nm, turn_edge
from debrief.measures.scene import Scene
from debrief.measures.statistics import all_known, known, mean_direction_deg, weights_s
from debrief.measures.turning import TURNING_DEG_S, Episode, episodes
from debrief.navigation.angles import difference_deg, unwrap_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.turns import LARGEST_WITH_LEAD_DEG, lead_distance_nm, rule_of_thumb_lead_nm
from debrief.navigation.units import FEET_PER_NM, SECONDS_PER_HOUR
from debrief.phases.model import Flight, FoundAttempt, Passage, StationView
from debrief.procedures.entries import turn_side
from debrief.procedures.model import Phase
from debrief.result import StationPassage, StationTurn

# The turn at the station: what tells it from a correction and from a turn towards the station.
SMALL_CHANGE_DEG = 15.0  # so small a change of course takes no distinct turn
_DISTINCT_TURN_DEG = 25.0  # but a late one goes beyond the course, to come back to it
_LEAST_SHARE = 0.4  # of the change of course, made in the turn
_LEAST_TURN_DEG = 10.0
_BEYOND_DEG = 60.0  # past the outbound course, to come back to it at an angle
_UNDONE_SHARE = 0.75  # of the change is to be made again: the turn before was flown back
_TOWARDS_STATION_DEG = 30.0  # beforehand the station lies ahead within this
_AT_STATION_NM = 1.5  # nearer than this the direction of the station says nothing
_AHEAD_SHARE = 0.5  # of the turn: afterwards the station lies ahead within that
_ABEAM_NM = 0.5  # or no farther than this from the closest point of a missed one
_COMPLETE_SHARE = 0.8  # of the change: on the outbound course, and nothing to be made again ...
_PREMATURE_NM = 3.0  # ... unless it was made far from the station
_EARLIEST_NM = 8.0
_EARLY_S = 120.0  # before the passage
_EARLY_STEP_S = 0.25
_LATEST_S = 90.0  # after the passage
_NO_SLANT = mark(
    "DME and rule of thumb for the turn at the station not known: both need an altitude, and the log has none."
)
_OVERHEAD = mark(
    "Exact lead and rule of thumb not given: a change of course of more than {limit:.0f}° is turned over the "
    "station, since a lead before it would grow beyond all sense."
)
TRACK_S = 20.0  # the track inbound is the mean over so long before the turn
_OFFSET_DEG = (15.0, 50.0)  # of an offset entry's first track, wind and corrections included
_OFFSET_HELD_S = 20.0
_ROLL_S = 3.0  # less the roll into it


def passages(flight: Flight, attempt: FoundAttempt) -> tuple[StationPassage, ...]:
    """Every passage of the attempt, a missed station too (``missed``), in order of time."""
    if not attempt.passages:
        return ()
    view = flight.at(np.array([passage.t_s for passage in attempt.passages]))
    return tuple(
        StationPassage(
            time=flight.log.track.time_at(passage.t_s),
            distance_nm=passage.distance_nm,
            altitude_ft=known(view.altitude_ft[i]),
            groundspeed_kt=float(view.groundspeed_kt[i]),
            ground_track_true_deg=float(view.ground_track_true_deg[i]),
            missed=passage.missed,
            time_uncertainty_s=known(
                closest_point(flight, passage.distance_nm, float(view.groundspeed_kt[i])).half_width_s
            ),
            uncertainties=all_known(
                {
                    "distance_nm": uncertainty.position_nm(flight, turning=True),
                    "altitude_ft": uncertainty.altitude_ft(flight)
                    if np.isfinite(view.altitude_ft[i])
                    else None,
                    "groundspeed_kt": uncertainty.groundspeed_kt(flight),
                    "ground_track_true_deg": uncertainty.ground_track_deg(
                        flight,
                        float(view.groundspeed_kt[i]),
                        turning=bool(abs(view.turn_rate_deg_s[i]) >= TURNING_DEG_S),
                    ),
                }
            ),
        )
        for i, passage in enumerate(attempt.passages)
    )


def station_turn(scene: Scene, *, statistics: bool = True) -> tuple[StationTurn | None, str]:
    """The turn at the station onto the outbound course, and the reason where it or a part of it is not measured.

    ``None`` without a reason where none was to be made: a straight-in approach, or a change of course of less
    than 15 degrees without a turn of 25 onto it.
    """
    course_deg = scene.procedure.outbound_course_deg
    outbound = next((span for span in scene.attempt.spans if span.phase == Phase.OUTBOUND), None)
    passage = None if outbound is None else scene.passage_before(outbound.start_s)
    if course_deg is None or outbound is None or not scene.attempt.passages:
        return None, ""
    if passage is None:
        return None, tr("Turn at the station not measured: the passage before it was not observed.")
    outbound_true_deg = scene.procedure.true_deg(course_deg)
    view = _way_to_station(scene, passage, min(outbound.end_s, passage.t_s + _LATEST_S))
    view = view.where(view.distance_nm < _EARLIEST_NM)
    begun = _turn_onto(scene, passage, view, outbound_true_deg)
    if begun is not None:
        start_s, change_deg = begun
        turn = _measured(scene, start_s, passage.t_s, change_deg)
        if statistics:
            turn = replace(turn, uncertainties=all_known(_turn_sure(scene, turn, start_s)))
        why = [] if turn.lead_dme_nm is not None else [tr(_NO_SLANT)]
        why += [] if turn.exact_lead_nm is not None else [tr(_OVERHEAD, limit=LARGEST_WITH_LEAD_DEG)]
        return turn, " ".join(why)
    before_deg = track_before_deg(view, passage.entry_s)
    if before_deg is None:
        return None, tr("Turn at the station not measured: what came before it was not observed.")
    if abs(difference_deg(outbound_true_deg, before_deg)) < SMALL_CHANGE_DEG:
        return None, ""
    return None, (
        tr(
            "Turn at the station not measured: no distinct turn (1°/s and more) towards the "
            "outbound course was found between {before:g} NM before the station and {after:g} s "
            "after it.",
            before=_EARLIEST_NM,
            after=_LATEST_S,
        )
    )


def _way_to_station(scene: Scene, passage: Passage, until_s: float) -> StationView:
    """The attempt up to a moment, and the minutes before the passage where ``inbound`` is shorter.

    After a turn begun far too early the aircraft may draw away from the station for a while, and close on it again:
    ``inbound`` begins only then.
    """
    from_s = scene.attempt.start_s - TRACK_S
    earlier_s = max(
        [passage.entry_s - _EARLY_S, *(a.end_s for a in scene.flight.attempts if a.end_s < from_s)]
    )
    if earlier_s >= from_s:
        return scene.over(from_s, until_s)
    view = scene.flight.at(np.arange(earlier_s, until_s, _EARLY_STEP_S))
    return view.where(view.segment >= 0)


def _turn_onto(
    scene: Scene, passage: Passage, view: StationView, outbound_true_deg: float
) -> tuple[float, float] | None:
    """When the turn onto the outbound course began [s], and how far it leads the way it is flown [deg, right positive].

    The first turn that leads there. A later one where the first was a correction on the way in: one that stopped
    short of the outbound course, or far out, and was flown back.
    """
    start_s: float | None = None
    whole_deg = change_deg = 0.0
    turned_s = -np.inf
    for turn in episodes(view, _LEAST_TURN_DEG):
        before_deg = track_before_deg(view, turn.start_s, turned_s)
        turned_s = turn.end_s
        if before_deg is None:
            continue
        left_deg = float(difference_deg(outbound_true_deg, before_deg))
        distinct = abs(left_deg) >= SMALL_CHANGE_DEG or abs(turn.change_deg) >= _DISTINCT_TURN_DEG
        if not distinct or not _leads_outbound(scene, passage, turn, left_deg):
            continue
        if _ends_an_offset_entry(scene, passage, turn, left_deg):
            continue
        if start_s is None or left_deg * np.sign(whole_deg) >= _UNDONE_SHARE * abs(whole_deg):
            start_s, whole_deg = turn.start_s, left_deg
            other_way = np.sign(left_deg) != np.sign(turn.change_deg)
            change_deg = left_deg - np.sign(left_deg) * 360.0 if other_way else left_deg
        near = float(scene.at(start_s).distance_nm[0]) <= _PREMATURE_NM
        if near and abs(turn.change_deg) >= _COMPLETE_SHARE * abs(left_deg):
            break
    return None if start_s is None else (start_s, float(change_deg))


def track_before_deg(view: StationView, t_s: float, since_s: float = -np.inf) -> float | None:
    """Mean ground track over the last seconds before a moment, without the roll into a turn. [deg true]

    ``since_s`` is when the turn before it ended: between two turns there may be no more than that roll, and then it is
    all that there is.
    """
    steady = (view.t_s <= t_s) & (view.t_s >= max(t_s - TRACK_S, since_s))
    steady &= np.abs(view.turn_rate_deg_s) < TURNING_DEG_S
    before = steady & (view.t_s <= t_s - _ROLL_S)
    if not before.any():
        if since_s < t_s - TRACK_S:
            return None
        before = steady
    if not before.any():
        return float(np.interp(t_s, view.t_s, unwrap_deg(view.ground_track_true_deg)) % 360.0)
    picked = view.where(before)
    return mean_direction_deg(picked.ground_track_true_deg, weights_s(picked.t_s, picked.segment))


def beside_station_nm(scene: Scene, t_s: float) -> float:
    """How far beside the station the ground track leads at a moment. [NM] ``nan`` where that was not observed."""
    view = scene.at(t_s)
    track_rad = np.radians(float(view.ground_track_true_deg[0]))
    return float(abs(view.east_nm[0] * np.cos(track_rad) - view.north_nm[0] * np.sin(track_rad)))


def track_before_sd_deg(flight: Flight, groundspeed_kt: float) -> float:
    """Standard deviation of that mean: the velocity's across a straight track. [deg]"""
    if not groundspeed_kt > 0:
        return np.nan
    across_kt = log_errors.mean(log_errors.velocity_kt(flight, turning=False), TRACK_S - _ROLL_S)
    return float(np.degrees(across_kt / groundspeed_kt))


def _leads_outbound(scene: Scene, passage: Passage, turn: Episode, left_deg: float) -> bool:
    """Whether a turn, begun with the station ahead or near, takes up the change of course still left."""
    at = scene.at(turn.start_s)
    off_station_deg = float(difference_deg(float(at.radial_deg[0]) + 180.0, float(at.ground_track_deg[0])))
    near_nm = max(_AT_STATION_NM, passage.distance_nm + _ABEAM_NM)
    far_out = turn.start_s < passage.t_s and float(at.distance_nm[0]) > near_nm
    if far_out and abs(off_station_deg) > _TOWARDS_STATION_DEG:
        return False
    if far_out and _ends_at_station(scene, turn):
        return False
    made_deg, whole_deg = abs(turn.change_deg), abs(left_deg)
    either_way = whole_deg > 180.0 - _TOWARDS_STATION_DEG  # nearly straight back: both ways lead there
    if np.sign(left_deg) != np.sign(turn.change_deg) and not either_way:
        long_way_deg = 360.0 - whole_deg
        return not far_out and _COMPLETE_SHARE * long_way_deg <= made_deg <= long_way_deg + _BEYOND_DEG
    return _LEAST_SHARE * whole_deg <= made_deg <= whole_deg + _BEYOND_DEG


def _ends_an_offset_entry(scene: Scene, passage: Passage, turn: Episode, left_deg: float) -> bool:
    """Whether a turn leads from the 30 degrees of an offset entry, held for a while, to the outbound course."""
    side = turn_side(scene.procedure)
    if side is None or turn.start_s < passage.exit_s + _OFFSET_HELD_S:
        return False
    return _OFFSET_DEG[0] <= side * left_deg <= _OFFSET_DEG[1]


def _ends_at_station(scene: Scene, turn: Episode) -> bool:
    """Whether a turn leaves the station ahead: a bend of the way to it, whatever course follows there."""
    at = scene.at(turn.end_s)
    off_station_deg = float(difference_deg(float(at.radial_deg[0]) + 180.0, float(at.ground_track_deg[0])))
    return abs(off_station_deg) <= _AHEAD_SHARE * abs(turn.change_deg)


def _measured(scene: Scene, start_s: float, passage_s: float, change_deg: float) -> StationTurn:
    at = scene.at(start_s)
    groundspeed_kt = float(at.groundspeed_kt[0])
    distance_nm = float(at.distance_nm[0])
    height_ft = float(at.altitude_ft[0]) - scene.procedure.station.elevation_ft
    ahead = abs(change_deg) <= LARGEST_WITH_LEAD_DEG
    return StationTurn(
        start=scene.time(start_s),
        change_deg=change_deg,
        lead_nm=distance_nm if start_s <= passage_s else -distance_nm,
        lead_uncertainty_nm=read_at(
            turn_edge(scene.flight, start_s), float(at.closing_kt[0]) / SECONDS_PER_HOUR, _position_nm(scene)
        ),
        lead_dme_nm=known(at.dme_nm[0]),
        exact_lead_nm=known(lead_distance_nm(groundspeed_kt, change_deg)) if ahead else None,
        rule_of_thumb_nm=known(rule_of_thumb_lead_nm(groundspeed_kt, change_deg, height_ft))
        if ahead
        else None,
        groundspeed_kt=groundspeed_kt,
    )


def _turn_sure(scene: Scene, turn: StationTurn, start_s: float) -> dict[str, float | None]:
    """Half-widths at 95 % of what else is measured at the turn, and of the leads that follow from it."""
    flight, at = scene.flight, scene.at(start_s)
    begins = turn_edge(flight, start_s)
    speed_kt = turn.groundspeed_kt
    velocity_kt = log_errors.velocity_kt(flight, turning=False)  # straight until there
    before = scene.over(start_s - _ROLL_S, start_s)
    slowing_kt_s = 0.0
    if len(before) > 1:
        slowing_kt_s = float(before.groundspeed_kt[-1] - before.groundspeed_kt[0]) / _ROLL_S
    speed_sd_kt = float(np.hypot(log_errors.one(velocity_kt), slowing_kt_s * begins.sd_s))
    track_deg = track_before_sd_deg(flight, speed_kt)
    alignment_deg = scene.procedure.station.alignment_within_deg
    sure: dict[str, float | None] = {
        "start": begins.half_width_s,
        "change_deg": half_width(track_deg, rectangular=alignment_deg),
        "groundspeed_kt": half_width(speed_sd_kt, bias=slowing_kt_s * begins.bias_s),
        "lead_dme_nm": slant_sure_nm(flight, at, begins),
    }
    change_deg = abs(turn.change_deg)
    if turn.exact_lead_nm is not None:
        sure["exact_lead_nm"] = _of_both(
            lambda kt, deg: float(lead_distance_nm(kt, deg)),
            (speed_kt, change_deg),
            (speed_sd_kt, track_deg),
            alignment_deg,
        )
    if turn.rule_of_thumb_nm is not None:
        height_nm = uncertainty.altitude_ft(flight) / uncertainty.COVERAGE / FEET_PER_NM
        sure["rule_of_thumb_nm"] = _of_both(
            lambda kt, deg: rule_of_thumb_lead_nm(kt, deg, 0.0),
            (speed_kt, change_deg),
            (speed_sd_kt, track_deg),
            alignment_deg,
            besides=height_nm,
        )
    return sure


def _of_both(
    lead_nm: Callable[[float, float], float],
    at: tuple[float, float],
    sd: tuple[float, float],
    alignment_deg: float,
    besides: float = 0.0,
) -> float:
    """Half-width at 95 % of a lead, by its slopes over ground speed and change of course at those values. [NM]

    ``sd`` are the standard deviations of the two, ``besides`` what is added to the lead itself; the alignment of the
    station is the course's.
    """
    (speed_kt, change_deg), here_nm = at, lead_nm(*at)
    by_speed_nm = lead_nm(speed_kt + sd[0], change_deg) - here_nm
    by_deg_nm = here_nm - lead_nm(speed_kt, change_deg - 1.0)  # a larger change may have none
    return half_width(
        float(np.sqrt(by_speed_nm**2 + (by_deg_nm * sd[1]) ** 2 + besides**2)),
        rectangular=abs(by_deg_nm) * alignment_deg,
    )


def _position_nm(scene: Scene) -> float:
    return log_errors.one(log_errors.position_nm(scene.flight, turning=True))
