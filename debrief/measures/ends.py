"""How sure the two ends of a phase are, and what hangs on them: how long it lasted, how far it led.

Owns      the error of each end, by what ends a phase there; the half-widths of duration and way.
Not here  finding the ends (phases), the errors of single moments (``moments``).

Of some ends it cannot be told: where the aircraft began to close on the station, of a touchdown, of a log's own end.
What hangs on such an end has no half-width.
"""

from __future__ import annotations

import numpy as np

from debrief.measures import log_errors
from debrief.measures.moments import Moment, closest_point, cone_edge, cone_radius_sd_nm, turn_edge
from debrief.measures.scene import Scene
from debrief.navigation.angles import difference_deg
from debrief.navigation.intervals import half_width
from debrief.navigation.units import SECONDS_PER_HOUR
from debrief.phases.model import Span
from debrief.phases.on_course import ESTABLISHED_DEG, ESTABLISHED_TRACK_DEG, inbound_deviation_deg
from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Phase

_SAME_S = 1.0
_BESIDE_S = 1.0  # to each side, for how fast a deviation or a track changes
_NEAR = 4.0  # standard deviations: farther from both limits, something else decided


def ends_sure(scene: Scene, span: Span, way_nm: float) -> dict[str, float | None]:
    """Half-widths at 95 % of ``duration_s`` and ``track_length_nm``, as far as they can be told."""
    first, last = _begins(scene, span), _ends(scene, span)
    if first is None or last is None:
        return {}
    if span.phase is Phase.STATION_PASSAGE:
        return _through_the_cone(scene, span) if span.end_s > span.start_s else {}
    speeds_nm_s = [
        float(scene.at(t_s).groundspeed_kt[0]) / SECONDS_PER_HOUR for t_s in (span.start_s, span.end_s)
    ]
    # of the way from one end to the other the position's own error counts at both, as far as it changes meanwhile
    position_nm = log_errors.changing(log_errors.position_nm(scene.flight, turning=True))
    moved_nm = np.hypot(speeds_nm_s[0] * first.sd_s, speeds_nm_s[1] * last.sd_s)
    early_nm = speeds_nm_s[1] * last.bias_s - speeds_nm_s[0] * first.bias_s
    return {
        "duration_s": half_width(float(np.hypot(first.sd_s, last.sd_s)), bias=last.bias_s - first.bias_s),
        "track_length_nm": half_width(float(np.hypot(moved_nm, np.sqrt(2.0) * position_nm)), bias=early_nm)
        if way_nm > 0.0
        else None,
    }


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
    return _at_station(scene, span.start_s) or _established(scene, span.start_s)


def _ends(scene: Scene, span: Span) -> Moment | None:
    if span.phase is Phase.OUTBOUND:
        return turn_edge(scene.flight, span.end_s) if scene.turns_off(span) else None
    return _at_station(scene, span.end_s) or _established(scene, span.end_s)


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
    """Coming within the needle's limit or the track's, whichever was the last: the error there over its rate of change."""
    known_s, flight, procedure = scene.attempt.established_s, scene.flight, scene.procedure
    by_station = procedure.has_intermediate or guidance_of(procedure) is None
    if known_s is None or abs(known_s - t_s) > _SAME_S or not by_station:
        return None
    view = flight.at(np.array([t_s - _BESIDE_S, t_s, t_s + _BESIDE_S]))
    if not (view.distance_nm[1] > 0 and view.groundspeed_kt[1] > 0):
        return None
    needle = (
        np.abs(inbound_deviation_deg(view, procedure)),
        ESTABLISHED_DEG,
        log_errors.one(log_errors.position_nm(flight, turning=True)) / float(view.distance_nm[1]),
    )
    track = (
        np.abs(difference_deg(view.ground_track_deg, procedure.inbound_course_deg)),
        ESTABLISHED_TRACK_DEG,
        log_errors.one(log_errors.velocity_kt(flight)) / float(view.groundspeed_kt[1]),
    )
    found: list[tuple[float, float]] = []
    for off_deg, limit_deg, wrong_rad in (needle, track):
        wrong_deg = float(np.degrees(wrong_rad))
        rate_deg_s = abs(float(off_deg[2] - off_deg[0])) / (2.0 * _BESIDE_S)
        if wrong_deg > 0 and rate_deg_s > 0:
            found.append((abs(float(off_deg[1]) - limit_deg) / wrong_deg, wrong_deg / rate_deg_s))
    beyond, sd_s = min(found, default=(np.inf, np.nan))
    return Moment(sd_s) if beyond < _NEAR else None
