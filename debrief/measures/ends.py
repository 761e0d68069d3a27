"""How sure the two ends of a phase are, and what hangs on them: how long it lasted, how far it led.

Owns      the error of each end, by what ends a phase there; the half-widths of duration and way.
Not here  finding the ends (phases), the errors of single moments (``moments``).

Of some ends it cannot be told: of a log's own, or where more than one thing decides. What hangs on such an end has no
half-width, and the reason is given.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.language import tr
from debrief.measures import log_errors
from debrief.measures.climb import climb_begins, climb_ends
from debrief.measures.joining import established
from debrief.measures.moments import (
    Moment,
    between,
    closest_point,
    cone_edge,
    cone_radius_sd_nm,
    passing,
    turn_edge,
)
from debrief.measures.scene import Scene
from debrief.measures.touchdown import touchdown
from debrief.navigation.intervals import half_width
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.draft import INBOUND_WITHIN_NM
from debrief.phases.model import Span
from debrief.procedures.model import Phase

_SAME_S = 1.0
_AT_EDGE_S = 2.0  # so near it an end is that of the log
_AT_LIMIT_NM = 0.1
_ABEAM_S = 15.0  # before it the aircraft was still drawing away from the station
_BESIDE_S = 2.0  # to each side, for how fast the closing rate changes


Ends = tuple[Moment | None, Moment | None]


def ends_of(scene: Scene, span: Span) -> Ends:
    """The errors of the moments at which a phase begins and ends; ``None`` where they cannot be told."""
    return _begins(scene, span), _ends(scene, span)


def moved_s(ends: Ends) -> tuple[float, float]:
    """How far off both ends are, standard deviations; 0 of an end of the log: what was observed ends there for sure."""
    first_s, last_s = (0.0 if end is None or not np.isfinite(end.rms_s) else end.rms_s for end in ends)
    return first_s, last_s


def ends_sure(scene: Scene, span: Span, ends: Ends, way_nm: float) -> tuple[dict[str, float | None], str]:
    """Half-widths at 95 % of ``duration_s`` and ``track_length_nm``; why there are none, where they cannot be told."""
    first, last = ends
    if first is None or last is None:
        return {}, _why_not(
            scene, [t_s for t_s, end in ((span.start_s, first), (span.end_s, last)) if end is None]
        )
    if span.phase is Phase.STATION_PASSAGE:
        return (_through_the_cone(scene, span) if span.end_s > span.start_s else {}), ""
    speeds_nm_s = [
        float(scene.at(t_s).groundspeed_kt[0]) / SECONDS_PER_HOUR for t_s in (span.start_s, span.end_s)
    ]
    # of the way from one end to the other the position's own error counts at both, as far as it changes meanwhile
    position_nm = log_errors.changing(log_errors.position_nm(scene.flight, turning=True))
    moved_nm = np.hypot(speeds_nm_s[0] * first.sd_s, speeds_nm_s[1] * last.sd_s)
    early_nm = speeds_nm_s[1] * last.bias_s - speeds_nm_s[0] * first.bias_s
    turned_nm = abs(speeds_nm_s[1] * last.turned_s - speeds_nm_s[0] * first.turned_s)
    turned_nm += speeds_nm_s[0] * first.within_s + speeds_nm_s[1] * last.within_s
    whole_nm = float(np.hypot(moved_nm, np.sqrt(2.0) * position_nm))
    return {
        "duration_s": between(first, last),
        "track_length_nm": half_width(whole_nm, bias=early_nm, rectangular=turned_nm)
        if way_nm > 0.0
        else None,
    }, ""


def _why_not(scene: Scene, ends_s: Sequence[float]) -> str:
    """Why it cannot be told how sure those ends are."""
    seen_s = scene.flight.view.t_s
    edges_s = [float(seen_s[0]), float(seen_s[-1])] + [
        t_s for gap in scene.flight.log.gaps for t_s in (gap.start_s, gap.end_s)
    ]
    if any(abs(edge_s - t_s) <= _AT_EDGE_S for edge_s in edges_s for t_s in ends_s):
        return tr(
            "How sure its duration and distance are cannot be told: one end of it is that of the log, or of a gap."
        )
    return tr(
        "How sure its duration and distance are cannot be told: more than one thing decides where it begins or ends."
    )


def _through_the_cone(scene: Scene, span: Span) -> dict[str, float | None]:
    """Where the cone is wider the aircraft enters it earlier and leaves it later: its radius counts twice."""
    speed_nm_s = float(scene.at(span.start_s).groundspeed_kt[0]) / SECONDS_PER_HOUR
    wide_nm = cone_radius_sd_nm(scene.flight)
    position_nm = log_errors.changing(log_errors.position_nm(scene.flight))
    way_nm = half_width(float(np.hypot(2.0 * wide_nm, np.sqrt(2.0) * position_nm)))
    return {"duration_s": way_nm / speed_nm_s, "track_length_nm": way_nm}


def _begins(scene: Scene, span: Span) -> Moment | None:
    if span.phase is Phase.COURSE_REVERSAL:
        return turn_edge(scene.flight, span.start_s)
    if span.phase is Phase.INBOUND:
        return _begins_to_close(scene, span.start_s)
    if span.phase is Phase.MISSED_APPROACH:
        return climb_begins(scene, span.start_s)
    if span.phase is Phase.LANDING:
        return touchdown(scene, span.start_s)
    return _at_station(scene, span.start_s) or _established(scene, span.start_s)


def _ends(scene: Scene, span: Span) -> Moment | None:
    if span.phase is Phase.OUTBOUND:
        return turn_edge(scene.flight, span.end_s) if scene.turns_off(span) else None
    if span.phase is Phase.FINAL and scene.attempt.ending == "landing":
        return touchdown(scene, span.end_s)
    if span.phase is Phase.FINAL:
        return climb_begins(scene, span.end_s) if scene.attempt.ending == "missed approach" else None
    if span.phase is Phase.MISSED_APPROACH:
        return climb_ends(scene, span)
    if span.phase is Phase.LANDING:
        return None
    return _at_station(scene, span.end_s) or _established(scene, span.end_s)


def _begins_to_close(scene: Scene, t_s: float) -> Moment | None:
    """Where the distance from the station began to fall: how wrong that rate is, over how fast it changes there.

    Or where the aircraft came within so many miles of the station; ``None`` where it closed on it before already.
    """
    flight, at = scene.flight, scene.at(t_s)
    if abs(float(at.distance_nm[0]) - INBOUND_WITHIN_NM) <= _AT_LIMIT_NM and float(at.closing_kt[0]) > 0.0:
        position_nm = log_errors.one(log_errors.position_nm(flight))
        return passing(float(at.closing_kt[0]) / SECONDS_PER_HOUR, position_nm)
    closing_kt = flight.at(np.array([t_s - _ABEAM_S, t_s - _BESIDE_S, t_s, t_s + _BESIDE_S])).closing_kt
    wrong_kt = log_errors.one(log_errors.velocity_kt(flight))
    if not abs(float(closing_kt[2])) <= log_errors.NEAR * wrong_kt:
        return None
    if not float(closing_kt[0]) < -log_errors.NEAR * wrong_kt:  # as along an arc: any moment will do
        return None
    moment = passing(float(closing_kt[3] - closing_kt[1]) / (2.0 * _BESIDE_S), wrong_kt)
    return moment if np.isfinite(moment.sd_s) else None


def _at_station(scene: Scene, t_s: float) -> Moment | None:
    """The edge of the cone, or the closest point of a passage outside it."""
    speed_kt = float(scene.at(t_s).groundspeed_kt[0])
    for passage in scene.attempt.passages:
        if (
            passage.exit_s > passage.entry_s
            and min(abs(passage.entry_s - t_s), abs(passage.exit_s - t_s)) < _SAME_S
        ):
            return cone_edge(scene.flight, speed_kt)
        if abs(passage.t_s - t_s) < _SAME_S:
            return closest_point(scene.flight, passage.distance_nm, speed_kt)
    return None


def _established(scene: Scene, t_s: float) -> Moment | None:
    known_s = scene.attempt.established_s
    return None if known_s is None or abs(known_s - t_s) > _SAME_S else established(scene, t_s)
