"""The procedure as lines on the ground: what it looks like when flown as published in still air.

Owns      the outline of a procedure in its station's plane, for drawing it and for measuring the fit of a track.
Not here  flying it (``simulation``), drawing it (``reports``), anything about a track.
Source    Turns: ICAO Doc 8168 Vol II, I-4-3, 3.6 (in ``navigation.turns``). Patterns: DEVELOPERS.md, Definitions.

The plane is that of ``navigation.geodesy.StationPlane``: x east and y north of the station, in NM. Turns begin
and end at once; there is no wind.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.angles import difference_deg
from debrief.navigation.geodesy import StationPlane
from debrief.navigation.radials import along_track_nm, ground_distance_nm
from debrief.navigation.turns import procedure_radius_nm
from debrief.procedures.alignment import centre_line_crossing_nm
from debrief.procedures.model import Extent, Leg, Pattern, Procedure, Runway
from debrief.procedures.steps import step_ground_nm
from debrief.procedures.words import until_words

Floats = NDArray[np.float64]

ORDINARY_SPEED_KT = 120.0  # a light aircraft's, where the reader asks for no other
ARC_STEP_DEG = 3.0
RUNWAY_DRAWN_NM = 0.9  # the file gives a threshold and a course, not a length
STRAIGHT_IN_NM = 8.0  # how much of a final without a beginning is drawn
ON_COURSE_NM = 0.001
LINED_UP_NM = (
    0.2  # before the threshold at the least: where a visual segment joins the centre line in the picture
)
CLOSING_DEG = 20.0  # how a straight line closes on the course after a pattern that does not end on it
#: Off the outbound course, of the patterns of two turns.
FIRST_TURN_DEG = {Pattern.PROCEDURE_TURN_45_180: 45.0, Pattern.PROCEDURE_TURN_80_260: 80.0}
_SECONDS_PER_HOUR = 3600.0
_MINUTES_PER_HOUR = 60.0

LineName = Literal["outbound", "course_reversal", "intermediate", "final", "visual_segment", "runway"]
MarkName = Literal["station", "step_down", "missed_approach_point", "threshold"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Polyline:
    """A part of the procedure, in the direction of flight: points in the station plane. [NM]"""

    name: LineName
    east_nm: Floats
    north_nm: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A point of the procedure in the station plane, with the lowest altitude up to it where it has one."""

    name: MarkName
    east_nm: float
    north_nm: float
    altitude_ft: float | None = None
    dme_nm: float | None = None
    until: str = ""  # of a step-down: what ends it, in words


@dataclass(slots=True)
class _Pen:
    """Draws in a frame with y along a course and x to its right; headings clockwise from y."""

    x: float = 0.0
    y: float = 0.0
    heading_deg: float = 0.0
    points: list[tuple[float, float]] = field(default_factory=list)

    def down(self) -> _Pen:
        """Begin a new line here."""
        self.points = [(self.x, self.y)]
        return self

    def to(self, x: float, y: float) -> _Pen:
        self.x, self.y = x, y
        self.points.append((x, y))
        return self

    def ahead(self, length_nm: float) -> _Pen:
        heading = np.radians(self.heading_deg)
        return self.to(
            self.x + length_nm * float(np.sin(heading)), self.y + length_nm * float(np.cos(heading))
        )

    def turn(self, change_deg: float, radius_nm: float) -> _Pen:
        """An arc, clockwise where ``change_deg`` is positive."""
        side = np.sign(change_deg)
        start = np.radians(self.heading_deg)
        centre_x = self.x + side * radius_nm * np.cos(start)
        centre_y = self.y - side * radius_nm * np.sin(start)
        steps = max(int(np.ceil(abs(change_deg) / ARC_STEP_DEG)), 1)
        for heading in start + np.radians(np.linspace(0, change_deg, steps + 1)[1:]):
            self.to(
                float(centre_x - side * radius_nm * np.cos(heading)),
                float(centre_y + side * radius_nm * np.sin(heading)),
            )
        self.heading_deg += change_deg
        return self


def height_ft(procedure: Procedure, leg: Leg | None) -> float:
    """Height above the station at which a leg is flown as low as published; 0 where it has no lower limit. [ft]"""
    low_ft = leg.altitude.low_ft if leg is not None and leg.altitude is not None else None
    return 0.0 if low_ft is None else max(low_ft - procedure.station.elevation_ft, 0.0)


def extent_nm(extent: Extent, speed_kt: float, height_ft: float) -> float:
    """Ground distance from the station at which an extent ends. [NM]

    A time counts from the station at ``speed_kt``. Where a DME reads no less than the height, it is 0.
    """
    if extent.minutes is not None:
        return extent.minutes * speed_kt / _MINUTES_PER_HOUR
    return float(np.nan_to_num(ground_distance_nm(float(extent.dme_nm or 0.0), height_ft)))


def final_course_true_deg(procedure: Procedure) -> float:
    """The course of the final leg, which may differ a little from the one flown to the station. [deg]"""
    return procedure.final_course_true_deg


def missed_approach_distance_nm(procedure: Procedure, speed_kt: float = ORDINARY_SPEED_KT) -> float | None:
    """Ground distance of the missed approach point from the station. [NM]

    Where the file gives none it is the station (on the aerodrome) or abeam the threshold; ``None`` where there
    is no runway either.
    """
    final = procedure.final
    if final is not None and final.missed_approach_point is not None:
        return extent_nm(final.missed_approach_point, speed_kt, height_ft(procedure, final))
    if procedure.station_on_aerodrome:
        return 0.0
    threshold = threshold_nm(procedure)
    if threshold is None:
        return None
    course = np.radians(final_course_true_deg(procedure))
    return float(threshold[0] * np.sin(course) + threshold[1] * np.cos(course))


def visual_start_nm(procedure: Procedure, speed_kt: float = ORDINARY_SPEED_KT) -> float | None:
    """Where the visual segment begins along the final course, past the station positive. [NM]

    ``None`` where the procedure has none, or nothing tells where it begins.
    """
    segment = procedure.visual_segment
    if segment is None:
        return None
    if segment.begins is None:
        distance_nm = missed_approach_distance_nm(procedure, speed_kt)
    else:
        distance_nm = extent_nm(segment.begins, speed_kt, height_ft(procedure, procedure.final))
    if distance_nm is None:
        return None
    return -distance_nm if procedure.station_on_aerodrome else distance_nm


def visual_path(procedure: Procedure, speed_kt: float = ORDINARY_SPEED_KT) -> Polyline | None:
    """The visual segment as it is drawn: on along the final course to the centre line, then to the threshold.

    Where the course does not cross the centre line ahead and before the threshold, straight to halfway along it.
    """
    start_nm, threshold, runway = (
        visual_start_nm(procedure, speed_kt),
        threshold_nm(procedure),
        procedure.runway,
    )
    if start_nm is None or threshold is None or runway is None:
        return None
    course, centre = np.radians(final_course_true_deg(procedure)), np.radians(runway.course_true_deg)
    east, north = start_nm * float(np.sin(course)), start_nm * float(np.cos(course))
    crossing = centre_line_crossing_nm(procedure)
    to_go_nm = (threshold[0] - east) * np.sin(centre) + (threshold[1] - north) * np.cos(centre)
    before_nm = float(to_go_nm) / 2.0
    if crossing is not None and crossing[0] > start_nm and crossing[1] >= LINED_UP_NM:
        before_nm = crossing[1]
    joins = threshold[0] - before_nm * float(np.sin(centre)), threshold[1] - before_nm * float(np.cos(centre))
    return Polyline(
        name="visual_segment",
        east_nm=np.array([east, joins[0], threshold[0]]),
        north_nm=np.array([north, joins[1], threshold[1]]),
    )


def threshold_along_nm(procedure: Procedure, speed_kt: float = ORDINARY_SPEED_KT) -> float | None:
    """How far past the station the threshold lies, by the way flown to it; ``None`` without a runway. [NM]

    Along the final course; by a visual segment, where there is one.
    """
    threshold = threshold_nm(procedure)
    if threshold is None:
        return None
    start_nm, path = visual_start_nm(procedure, speed_kt), visual_path(procedure, speed_kt)
    if start_nm is None or path is None:
        return float(along_track_nm(*threshold, final_course_true_deg(procedure)))
    return start_nm + float(np.hypot(np.diff(path.east_nm), np.diff(path.north_nm)).sum())


def threshold_nm(procedure: Procedure) -> tuple[float, float] | None:
    """East and north of the landing threshold [NM]; ``None`` without a runway."""
    return None if procedure.runway is None else place_nm(procedure, procedure.runway)


def place_nm(procedure: Procedure, runway: Runway) -> tuple[float, float]:
    """East and north of the threshold of a runway, the final's or the one circled to. [NM]"""
    plane = StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)
    east_nm, north_nm = plane.to_plane(runway.latitude, runway.longitude)
    return float(east_nm), float(north_nm)


def outline(procedure: Procedure, speed_kt: float = ORDINARY_SPEED_KT) -> tuple[Polyline, ...]:
    """The lines of a procedure, in the order flown, then the runway.

    ``inbound`` is flown from anywhere and has no line. ``speed_kt`` is the true airspeed (still air): it sets the
    radius of the turns and the length of what is flown by the clock. A base turn is drawn as published: one arc
    that touches both tracks, whatever radius that takes. ``course_reversal`` ends on the inbound course.
    """
    lines = _out_and_back(procedure, speed_kt) if procedure.reversal is not None else []
    lines.append(_final(procedure, speed_kt, lines))
    if not procedure.has_intermediate:
        lines = [line for line in lines if line.name != "intermediate"]
    by_eye = visual_path(procedure, speed_kt)
    circling = procedure.circling
    runways = (procedure.runway, None if circling is None else circling.runway)
    return (
        *lines,
        *([] if by_eye is None else [by_eye]),
        *(_runway(procedure, runway) for runway in runways if runway is not None),
    )


def marks(procedure: Procedure, speed_kt: float = ORDINARY_SPEED_KT) -> tuple[Mark, ...]:
    """The points of a procedure: the station, then those of the final leg in the order flown."""
    found = [Mark(name="station", east_nm=0.0, north_nm=0.0)]
    final = procedure.final
    course = np.radians(final_course_true_deg(procedure))
    outward = -1.0 if procedure.station_on_aerodrome else 1.0
    east, north = outward * float(np.sin(course)), outward * float(np.cos(course))
    for step in final.step_down if final is not None else ():
        distance_nm = step_ground_nm(procedure, step)
        found.append(
            Mark(
                name="step_down",
                east_nm=distance_nm * east,
                north_nm=distance_nm * north,
                altitude_ft=step.at_or_above_ft,
                until=until_words(step),
            )
        )
    distance = missed_approach_distance_nm(procedure, speed_kt)
    if distance is not None and final is not None:
        found.append(
            Mark(
                name="missed_approach_point",
                east_nm=distance * east,
                north_nm=distance * north,
                altitude_ft=final.altitude.low_ft if final.altitude is not None else None,
                dme_nm=final.missed_approach_point.dme_nm
                if final.missed_approach_point is not None
                else None,
            )
        )
    threshold = threshold_nm(procedure)
    if threshold is not None:
        found.append(Mark(name="threshold", east_nm=threshold[0], north_nm=threshold[1]))
    return tuple(found)


def _placed(name: LineName, pen: _Pen, y_true_deg: float, *, mirrored: bool) -> Polyline:
    """The pen's line, turned from its frame into the station plane."""
    x, y = np.array(pen.points).T
    x = -x if mirrored else x
    angle = np.radians(y_true_deg)
    return Polyline(
        name=name,
        east_nm=x * np.cos(angle) + y * np.sin(angle),
        north_nm=y * np.cos(angle) - x * np.sin(angle),
    )


def _out_and_back(procedure: Procedure, speed_kt: float) -> list[Polyline]:
    """Outbound, reversal and the way back to the station, drawn as if to the right and mirrored if not.

    The frame's y points outbound along the inbound course (a base turn's outbound leg beside it).
    """
    reversal = procedure.reversal
    if reversal is None or reversal.pattern is None:
        return []
    draw = {
        Pattern.PROCEDURE_TURN_45_180: _procedure_turn_45_180,
        Pattern.PROCEDURE_TURN_80_260: _procedure_turn_80_260,
        Pattern.BASE_TURN: _base_turn,
        Pattern.RACETRACK: _racetrack,
    }[reversal.pattern]
    pen = _Pen().down()
    y_true_deg = procedure.true_deg(procedure.inbound_course_deg + 180.0)
    mirrored = reversal.side == "left"
    # a racetrack's side is that of its turns: seen along the outbound course it lies on the other side
    mirrored = mirrored != (reversal.pattern is Pattern.RACETRACK)
    lines: list[Polyline] = []
    for name, drawn in draw(pen, procedure, speed_kt):
        lines.append(_placed(name, drawn, y_true_deg, mirrored=mirrored))
        pen.down()
    pen.to(0.0, 0.0)
    lines.append(_placed("intermediate", pen, y_true_deg, mirrored=mirrored))
    return lines


def _outbound_nm(procedure: Procedure, speed_kt: float) -> float:
    outbound = procedure.outbound
    if outbound is None or outbound.length is None:
        return 0.0
    return extent_nm(outbound.length, speed_kt, height_ft(procedure, outbound))


def _offset_deg(procedure: Procedure) -> float:
    """The outbound course from the inbound one's reciprocal, positive away from the reversal's side. [deg]"""
    course_deg, reversal = procedure.outbound_course_deg, procedure.reversal
    if course_deg is None or reversal is None:
        return 0.0
    right_deg = float(difference_deg(course_deg, procedure.inbound_course_deg + 180.0))
    return -right_deg if reversal.side == "right" else right_deg


def _close(pen: _Pen) -> None:
    """Fly on until the course is met, at ``CLOSING_DEG``, where the pattern did not end on it."""
    if abs(pen.x) > ON_COURSE_NM:
        pen.to(0.0, pen.y - abs(pen.x) / float(np.tan(np.radians(CLOSING_DEG))))


def _procedure_turn_45_180(
    pen: _Pen, procedure: Procedure, speed_kt: float
) -> Iterator[tuple[LineName, _Pen]]:
    """45 degrees off, the timed leg from the start of the turn, 180 degrees back, and at 45 onto the course."""
    radius_nm = float(procedure_radius_nm(speed_kt))
    pen.heading_deg = -_offset_deg(procedure)
    yield "outbound", pen.ahead(_outbound_nm(procedure, speed_kt))
    reversal = procedure.reversal
    seconds = reversal.leg_seconds if reversal is not None and reversal.leg_seconds is not None else 60.0
    pen.turn(FIRST_TURN_DEG[Pattern.PROCEDURE_TURN_45_180] - pen.heading_deg, radius_nm)
    pen.ahead(max(seconds * speed_kt / _SECONDS_PER_HOUR - radius_nm * np.pi / 4.0, 0.0))
    pen.turn(-180.0, radius_nm)
    # the last turn begins r tan(22.5 deg) before the course
    pen.ahead(max(pen.x * np.sqrt(2.0) - radius_nm * np.tan(np.pi / 8.0), 0.0))
    pen.turn(-45.0, radius_nm)
    _close(pen)
    yield "course_reversal", pen


def _procedure_turn_80_260(
    pen: _Pen, procedure: Procedure, speed_kt: float
) -> Iterator[tuple[LineName, _Pen]]:
    """80 degrees off and 260 back at one radius, which ends a third of a radius past the course."""
    radius_nm = float(procedure_radius_nm(speed_kt))
    pen.heading_deg = -_offset_deg(procedure)
    yield "outbound", pen.ahead(_outbound_nm(procedure, speed_kt))
    pen.turn(FIRST_TURN_DEG[Pattern.PROCEDURE_TURN_80_260] - pen.heading_deg, radius_nm)
    pen.turn(-260.0, radius_nm)
    _close(pen)
    yield "course_reversal", pen


def _base_turn(pen: _Pen, procedure: Procedure, speed_kt: float) -> Iterator[tuple[LineName, _Pen]]:
    """Out on the radial, then the arc that touches both tracks."""
    offset_deg = _offset_deg(procedure)
    length_nm = _outbound_nm(procedure, speed_kt)
    pen.heading_deg = -offset_deg
    yield "outbound", pen.ahead(length_nm)
    pen.turn(180.0 + offset_deg, length_nm * float(np.tan(np.radians(offset_deg / 2.0))))
    yield "course_reversal", pen


def _racetrack(pen: _Pen, procedure: Procedure, speed_kt: float) -> Iterator[tuple[LineName, _Pen]]:
    """From the inbound course through 180 degrees, out beside it, and 180 degrees back onto it."""
    radius_nm = float(procedure_radius_nm(speed_kt))
    pen.heading_deg = 180.0
    pen.turn(-180.0, radius_nm)
    pen.ahead(_racetrack_straight_nm(procedure, speed_kt, radius_nm))
    yield "outbound", pen
    pen.turn(-180.0, radius_nm)
    yield "course_reversal", pen


def _racetrack_straight_nm(procedure: Procedure, speed_kt: float, radius_nm: float) -> float:
    """How far the outbound leg goes past abeam the station, by its DME, its seconds or its minutes. [NM]"""
    outbound, reversal = procedure.outbound, procedure.reversal
    length = outbound.length if outbound is not None else None
    if length is not None and length.dme_nm is not None:
        distance_nm = extent_nm(length, speed_kt, height_ft(procedure, outbound))
        return float(np.sqrt(max(distance_nm**2 - (2.0 * radius_nm) ** 2, 0.0)))
    if reversal is not None and reversal.leg_seconds:
        return reversal.leg_seconds * speed_kt / _SECONDS_PER_HOUR
    if length is None or length.minutes is None:
        return 0.0
    return max(length.minutes * speed_kt / _MINUTES_PER_HOUR - np.pi * radius_nm, 0.0)


def _final(procedure: Procedure, speed_kt: float, before: list[Polyline]) -> Polyline:
    """From the station, or from where the reversal ends, to the missed approach point or the visual segment."""
    course = np.radians(final_course_true_deg(procedure))
    distance_nm = missed_approach_distance_nm(procedure, speed_kt)
    start_nm, end_nm = 0.0, distance_nm if distance_nm is not None else STRAIGHT_IN_NM
    by_eye_nm = visual_start_nm(procedure, speed_kt)
    if procedure.station_on_aerodrome:
        end_nm = -end_nm
        start_nm = -STRAIGHT_IN_NM
        for line in before:
            if line.name == "course_reversal":
                start_nm = -float(np.hypot(line.east_nm[-1], line.north_nm[-1]))
    along_nm = np.array([start_nm, end_nm if by_eye_nm is None else by_eye_nm])
    return Polyline(name="final", east_nm=along_nm * np.sin(course), north_nm=along_nm * np.cos(course))


def _runway(procedure: Procedure, runway: Runway) -> Polyline:
    east_nm, north_nm = place_nm(procedure, runway)
    course = np.radians(runway.course_true_deg)
    along_nm = np.array([0.0, RUNWAY_DRAWN_NM])
    return Polyline(
        name="runway",
        east_nm=east_nm + along_nm * np.sin(course),
        north_nm=north_nm + along_nm * np.cos(course),
    )
