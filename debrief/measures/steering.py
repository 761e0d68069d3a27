"""Steering by the needle: turned away from it while it went out, or chasing it from side to side.

Owns      the greatest turn away from the course beside a needle that stood to one side (reverse sensing), and the
          greatest swings of heading that followed a needle too quickly (chasing).
Not here  how much is too much (grading), the needle itself (``instruments``, ``tracking``).
Source    What a needle can show in so short a time is geometry; the other figures are common practice.

A swing is a turn one way between two turns the other way. It counts as far as heading and ground track both made it:
an aircraft that only yaws, or is only blown about, has corrected nothing. Where neither heading nor wind is known it
counts as far as the track made it: no less than both, so that what the track does not show was not there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from debrief.language import tr
from debrief.measures import uncertainty
from debrief.measures.minimum import judged_until_s
from debrief.measures.scene import Scene
from debrief.measures.stretches import stretches
from debrief.measures.swings import greatest_row, swing_sure_deg
from debrief.measures.tracking import off_course, scored_course_deg
from debrief.measures.weaving import weaving
from debrief.navigation.angles import difference_deg, unwrap_deg
from debrief.phases.model import Floats, Span, StationView
from debrief.procedures.guidance import guidance_in
from debrief.procedures.model import Phase
from debrief.result import NeedleChase, Steering, TurnAway

#: Positions farther apart than this show no correction that is over in ten seconds. [s]
COARSEST_S = 5.0

# Chasing. Mark: common practice.
CHASE_PERIOD_S = 20.0  # there and back again in less
_CHASE_SWINGS = 4  # twice there and twice back
_CONE_SWINGS = 2  # in the cone, where the needle says nothing, once is enough
_LEAST_SWING_DEG = 2.0  # below this, swings are the unsteadiness of any flight
_BACK_S = 12.0  # a swing begun there may end so long after it
_SAME_COURSE_DEG = 10.0  # over the station: with more, a turn is asked for there

# Turning away. Mark: common practice.
_BESIDE_DEG = 2.0  # a fifth of full scale: seen, and to be corrected
_NEAREST_NM = 1.0
_GOES_OUT_DEG = 2.0  # the needle then went out by so much more
_NO_CORRECTION_DEG = 60.0  # a turn that goes on beyond this is no correction but a turn away
_BEFORE_TURN_OFF_S = 20.0  # the outbound leg ends with one
_HELD_S = 30.0  # along the course beside it, or another radial, for so long: flown to, whatever for
_TURNED_BACK = 0.25  # of what was turned away: rolled out on a line, and not only unsteady
_ALONG_DEG = 4.0  # what a track held by hand keeps within

_THROUGH = (Phase.INTERMEDIATE, Phase.STATION_PASSAGE, Phase.FINAL)
_LEGS = (Phase.OUTBOUND, Phase.INTERMEDIATE, Phase.FINAL)


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """A stretch of the attempt: the view, and heading and track without the jump at north. [deg]"""

    view: StationView
    heading_deg: Floats
    track_deg: Floats

    def part(self, inside: slice) -> _Way:
        """Some of its moments."""
        return _Way(self.view.where(inside), self.heading_deg[inside], self.track_deg[inside])

    def turned_deg(self, first: int, last: int) -> float:
        """What heading and track both turned between two moments, right positive; 0 where they disagree. [deg]"""
        heading = float(self.heading_deg[last] - self.heading_deg[first])
        track = float(self.track_deg[last] - self.track_deg[first])
        return float(np.sign(track) * min(abs(heading), abs(track))) if heading * track > 0 else 0.0


def steering(scene: Scene) -> Steering | None:
    """Look for all three on every leg with a course; ``None`` where none was flown."""
    legs = list(_legs(scene))
    if not legs:
        return None
    weave, sure_deg, why = weaving(scene, [(span, way.view) for span, way in legs])
    # a localiser's needle, or a satellite course's, is another one, with a full scale of its own
    by_station = [(span, way) for span, way in legs if guidance_in(scene.procedure, span.phase) is None]
    return replace(_by_heading(scene, by_station), weave=weave, weave_uncertainty_deg=sure_deg, weave_why=why)


def _by_heading(scene: Scene, legs: list[tuple[Span, _Way]]) -> Steering:
    """Turning away and chasing."""
    interval_s = scene.flight.log.measured_interval_s
    if interval_s > COARSEST_S:
        return Steering(
            why=tr(
                "with a position every {interval} s the log cannot show corrections of a few seconds",
                interval=f"{interval_s:.0f}",
            )
        )
    ways = [(span, way) for span, leg in legs for way in _observed(leg)]
    looked = [*ways, *_cones(scene)]
    chases = [found for span, way in looked if (found := _chase(scene, span, way)) is not None]
    turns = [found for span, way in ways for found in _turns_away(scene, span, way)]
    return Steering(
        turn_away=max(turns, key=lambda turn: turn.turned_deg, default=None),
        chase=max(chases, key=lambda chase: chase.swing_deg, default=None),
        turn_uncertainty_deg=swing_sure_deg(scene.flight, [way.view for _, way in ways], CHASE_PERIOD_S),
        by_track=not _heading_known(scene),
    )


def _heading_known(scene: Scene) -> bool:
    return bool(np.isfinite(scene.air.heading_true_deg).any())


def _way(scene: Scene, inside: slice) -> _Way:
    track_deg = unwrap_deg(scene.view.ground_track_true_deg[inside])
    known = _heading_known(scene)
    heading_deg = unwrap_deg(scene.air.heading_true_deg[inside]) if known else track_deg
    return _Way(scene.view.where(inside), heading_deg, track_deg)


def _legs(scene: Scene) -> Iterator[tuple[Span, _Way]]:
    """Each leg with a course, the final only until the runway is in sight."""
    sight_s = judged_until_s(scene)
    for span in scene.attempt.spans:
        if span.phase not in _LEGS or scored_course_deg(scene.procedure, span.phase) is None:
            continue
        end_s = span.end_s
        if span.phase is Phase.FINAL and sight_s is not None:
            end_s = min(end_s, sight_s)
        yield span, _way(scene, scene.part(span.start_s, end_s))


def _observed(way: _Way) -> Iterator[_Way]:
    """The unbroken parts of a way, without moments of unknown heading."""
    known = np.isfinite(way.heading_deg) & np.isfinite(way.track_deg)
    for stretch in stretches(way.view.t_s, known.astype(np.float64), way.view.segment):
        if stretch.last > stretch.first:
            yield way.part(stretch.part)


def _cones(scene: Scene) -> Iterator[tuple[Span, _Way]]:
    """Each way through the cone between an intermediate and a final that goes on in its direction."""
    procedure, spans = scene.procedure, scene.attempt.spans
    before_deg = scored_course_deg(procedure, Phase.INTERMEDIATE)
    after_deg = scored_course_deg(procedure, Phase.FINAL)
    if before_deg is None or after_deg is None or procedure.final_guidance is not None:
        return  # the needle of a localiser or a satellite course may be followed there
    if abs(float(difference_deg(after_deg, before_deg))) > _SAME_COURSE_DEG:
        return
    for before, span, after in zip(spans, spans[1:], spans[2:], strict=False):
        if (before.phase, span.phase, after.phase) == _THROUGH:
            for way in _observed(_way(scene, scene.part(span.start_s, span.end_s + _BACK_S))):
                yield span, way


# Chasing


def _chase(scene: Scene, span: Span, way: _Way) -> NeedleChase | None:
    """The greatest size that so many swings in a row all had, and where."""
    in_cone = span.phase is Phase.STATION_PASSAGE
    row = greatest_row(
        way.view.t_s,
        way.track_deg,
        count=_CONE_SWINGS if in_cone else _CHASE_SWINGS,
        least_deg=_LEAST_SWING_DEG,
        size_deg=lambda first, last: abs(way.turned_deg(first, last)),
        together=lambda begins_s, meet_s, ends_s: (
            meet_s <= span.end_s if in_cone else ends_s - begins_s < CHASE_PERIOD_S
        ),
    )
    if row is None:
        return None
    return NeedleChase(
        phase=span.phase.value,
        start=scene.time(row.start_s),
        end=scene.time(row.end_s),
        swing_deg=row.swing_deg,
        swings=row.swings,
        period_s=row.period_s,
        in_cone=in_cone,
    )


# Turning away


def _turns_away(scene: Scene, span: Span, way: _Way) -> Iterator[TurnAway]:
    """Each turn from along the course (or away from it already) farther away, with the needle to one side."""
    view, procedure = way.view, scene.procedure
    course_deg = scored_course_deg(procedure, span.phase)
    if course_deg is None:
        return
    _, deviation = off_course(procedure, span.phase, course_deg, view)
    off_deg: Floats = difference_deg(view.ground_track_true_deg, procedure.true_deg(course_deg))
    sure_deg = np.degrees(np.arctan2(uncertainty.position_nm(scene.flight), view.distance_nm))
    counts = ~view.in_cone & (view.distance_nm >= _NEAREST_NM)
    for side in (1.0, -1.0):
        beside = np.where(counts, side * deviation - np.maximum(_BESIDE_DEG, sure_deg), np.nan)
        for stretch in stretches(view.t_s, beside, view.segment):
            found = _turn_away(
                scene, span, way.part(stretch.part), side, deviation[stretch.part], off_deg[stretch.part]
            )
            if found is not None:
                yield found


def _turn_away(
    scene: Scene, span: Span, way: _Way, side: float, deviation: Floats, off_deg: Floats
) -> TurnAway | None:
    """The greatest turn away in a stretch beside the course, where the needle went on out after it."""
    # how far the track leads away; 0 along the course and towards it
    away_deg = np.maximum(side * off_deg, 0.0)
    # the last moment of the least: where the turn begins, not the stretch
    before = [index - int(np.argmin(away_deg[index::-1])) for index in range(len(away_deg))]
    turned = np.array([_turned_away(way, away_deg, side, b, i) for i, b in enumerate(before)])
    t_s, out_deg = way.view.t_s, side * deviation
    if span.phase is Phase.OUTBOUND:  # a turn that began long before the turn off may go on into it
        turned[t_s > span.end_s - _BEFORE_TURN_OFF_S] = 0.0
    last = int(np.argmax(turned))
    first = before[last]
    farthest = last + int(np.argmax(out_deg[last:]))
    if (
        turned[last] < _LEAST_SWING_DEG
        or out_deg[farthest] - out_deg[first] < _GOES_OUT_DEG
        or np.max(side * off_deg[last:]) > _NO_CORRECTION_DEG
        or _holds_a_line(way.view.where(slice(last, None)), off_deg[last:])
        or _joins_another_radial(span, way, last, side * off_deg, out_deg, float(turned[last]))
    ):
        return None
    return TurnAway(
        phase=span.phase.value,
        start=scene.time(float(t_s[first])),
        end=scene.time(float(t_s[farthest])),
        side="right" if side > 0 else "left",
        turned_deg=float(turned[last]),
        deviation_before_deg=float(out_deg[first]),
        deviation_after_deg=float(out_deg[farthest]),
    )


def _holds_a_line(view: StationView, off_deg: Floats) -> bool:
    """Whether the aircraft then flew along the course beside it, or out along another radial.

    Who reads the needle the wrong way round goes on turning away while it goes out.
    """
    lines = np.abs(off_deg), np.abs(difference_deg(view.ground_track_deg, view.radial_deg))
    return any(
        held.seconds >= _HELD_S
        for line_deg in lines
        for held in stretches(view.t_s, np.where(line_deg <= _ALONG_DEG, 1.0, -1.0), view.segment)
    )


def _joins_another_radial(
    span: Span, way: _Way, last: int, away_deg: Floats, out_deg: Floats, turned_deg: float
) -> bool:
    """Whether on the outbound leg, after turning away, the aircraft turned back while the needle stayed out.

    Who joins another radial rolls out on it so, however slowly; who reads the needle the wrong way round does not
    turn towards it while it goes out, and who sees the error brings it in again.
    """
    if span.phase is not Phase.OUTBOUND:
        return False
    ends = int(np.searchsorted(way.view.t_s, span.end_s - _BEFORE_TURN_OFF_S, side="right"))
    if ends - last < 2:
        return False
    most = last + int(np.argmax(away_deg[last:ends]))
    least = most + int(np.argmin(away_deg[most:ends]))
    back_deg = min(away_deg[most] - away_deg[least], abs(way.turned_deg(most, least)))
    came_in_deg = np.max(np.maximum.accumulate(out_deg[last:ends]) - out_deg[last:ends])
    return bool(back_deg >= max(_ALONG_DEG, _TURNED_BACK * turned_deg) and came_in_deg < _GOES_OUT_DEG)


def _turned_away(way: _Way, away_deg: Floats, side: float, first: int, last: int) -> float:
    return float(min(away_deg[last] - away_deg[first], max(side * way.turned_deg(first, last), 0.0)))
