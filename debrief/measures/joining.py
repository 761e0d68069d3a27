"""How sure the moments are at which the inbound course is joined: the needle comes alive, the aircraft is established.

Owns      ``needle_alive`` and ``established``: the errors of those moments, of needle and ground track there.
Not here  finding them (``intercept``, phases), the errors of other moments (``moments``).
Source    Limits of the needle and the track: ``intercept`` and "Phases" in DEVELOPERS.md, Definitions.

A station whose alignment is published wrongly by an angle turns its course too: the needle then stands farther to one
side by that angle, and the ground track farther to the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.measures import log_errors
from debrief.measures.moments import Moment, passing
from debrief.measures.scene import Scene
from debrief.measures.turning import TURNING_DEG_S
from debrief.navigation.angles import difference_deg
from debrief.phases.model import Floats
from debrief.phases.on_course import ESTABLISHED_DEG, ESTABLISHED_TRACK_DEG, inbound_deviation_deg
from debrief.procedures.guidance import guidance_of

_BESIDE_S = 1.0  # to each side, for how fast a deviation or a track changes
_ASIDE_NM = 1e-3  # to see what a position farther aside does to a needle
_NEAR = 4.0  # standard deviations: farther from both limits, something else decided


@dataclass(frozen=True, slots=True)
class _Quantity:
    """Needle or ground track off the course about a moment: its values, and what may be wrong with one of them."""

    before_at_after_deg: Floats
    wrong_deg: float
    turned_deg: float

    def passes(self) -> Moment:
        """The moment at which it passes a limit."""
        rate_deg_s = float(self.before_at_after_deg[2] - self.before_at_after_deg[0]) / (2.0 * _BESIDE_S)
        return passing(rate_deg_s, self.wrong_deg, self.turned_deg)

    def beyond(self, limit_deg: float) -> float:
        """How many standard deviations from a limit."""
        wrong_deg = float(np.hypot(self.wrong_deg, self.turned_deg))
        off_deg = abs(abs(float(self.before_at_after_deg[1])) - limit_deg)
        return off_deg / wrong_deg if wrong_deg > 0.0 else np.inf


def needle_alive(scene: Scene, t_s: float) -> Moment:
    """The error of the moment at which the needle comes off its stop."""
    needle, _ = _needle_and_track(scene, t_s)
    return needle.passes()


def established(scene: Scene, t_s: float) -> Moment | None:
    """That of being established: needle or track came within its limit, whichever was the last.

    ``None`` where neither was near it: something else decided, as the edge of a cone, or the way in before a gap.
    """
    needle, track = _needle_and_track(scene, t_s)
    beyond_needle, beyond_track = needle.beyond(ESTABLISHED_DEG), track.beyond(ESTABLISHED_TRACK_DEG)
    if not min(beyond_needle, beyond_track) < _NEAR:
        return None
    found = needle.passes() if beyond_needle <= beyond_track else track.passes()
    return found if np.isfinite(found.sd_s) else None


def _needle_and_track(scene: Scene, t_s: float) -> tuple[_Quantity, _Quantity]:
    """Needle and ground track off the inbound course at a moment and a second to each side of it."""
    flight, procedure = scene.flight, scene.procedure
    view = flight.at(np.array([t_s - _BESIDE_S, t_s, t_s + _BESIDE_S]))
    turning = bool((np.abs(view.turn_rate_deg_s) >= TURNING_DEG_S).any())
    position_nm = log_errors.one(log_errors.position_nm(flight, turning=turning))
    velocity_kt = log_errors.one(log_errors.velocity_kt(flight, turning=turning))
    speed_kt, distance_nm = float(view.groundspeed_kt[1]), float(view.distance_nm[1])
    track_deg = float(np.degrees(velocity_kt / speed_kt)) if speed_kt > 0 else np.nan
    guidance = None if procedure.has_intermediate else guidance_of(procedure)
    if guidance is None:
        alignment_deg = procedure.station.alignment_within_deg
        reach_deg_nm = float(np.degrees(1.0 / distance_nm)) if distance_nm > 0 else np.nan
        return (
            _Quantity(inbound_deviation_deg(view, procedure), reach_deg_nm * position_nm, alignment_deg),
            _Quantity(
                difference_deg(view.ground_track_deg, procedure.inbound_course_deg), track_deg, -alignment_deg
            ),
        )
    right_rad = np.radians(guidance.course_true_deg + 90.0)
    needle_deg = guidance.as_station_deg(view.east_nm, view.north_nm)
    aside_deg = guidance.as_station_deg(
        view.east_nm + _ASIDE_NM * np.sin(right_rad), view.north_nm + _ASIDE_NM * np.cos(right_rad)
    )
    reach_deg_nm = abs(float(aside_deg[1] - needle_deg[1])) / _ASIDE_NM
    track_off_deg = difference_deg(view.ground_track_true_deg, guidance.course_true_deg)
    return _Quantity(needle_deg, reach_deg_nm * position_nm, 0.0), _Quantity(track_off_deg, track_deg, 0.0)
