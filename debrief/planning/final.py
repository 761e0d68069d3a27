"""The final: how steep, how fast down, which altitude at which distance, and when the approach is missed.

Owns      ``plan_final``: the planned path, its table, the time to the missed approach point.
Not here  the formulas (``navigation.descent``), what was flown (measures.descent).
Source    The path ends 50 ft over the threshold: ICAO Doc 8168 Vol II, I-4-5, 5.5.1. Mark: seen. Five times the
          ground speed as a rate for 3 degrees: common practice.

Distances along the final course count from the station in the direction of flight: negative before it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from debrief.navigation.descent import THRESHOLD_CROSSING_FT, angle_deg, descent_rate_ft_min, gradient_ft_nm
from debrief.navigation.radials import dme_nm, ground_distance_nm
from debrief.navigation.timing import leg_seconds
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.planning.air import Air
from debrief.procedures.geometry import (
    final_course_true_deg,
    missed_approach_distance_nm,
    threshold_along_nm,
)
from debrief.procedures.model import Procedure, StepDown
from debrief.procedures.steps import step_dme_nm, step_ground_nm
from debrief.procedures.words import until_words

RULE_RATE_PER_KT = 5.0  # ft/min for each knot, for 3 degrees. Mark: common practice
MOST_ROWS = 8
_STEPS_NM = (0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
_ENOUGH_ITERATIONS = 6
_NOT_YET_DOWN_FT = 1.0
_REACHED_NM = 0.005  # a row at a step's very DME has reached it


@dataclass(frozen=True, slots=True, kw_only=True)
class PathRow:
    """One line of the distance and altitude table."""

    dme_nm: float | None  # None where the station has no DME
    distance_nm: float  # over the ground, from the station
    seconds: float | None  # from the start of the final; None where its start is not known
    altitude_ft: float
    minimum_ft: float | None  # the lowest allowed there


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCheck:
    """Where the planned path passes the end of a step-down, and the lowest allowed up to it."""

    until: str  # in words
    minimum_ft: float
    path_ft: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalPlan:
    """The final as planned. Whatever the file does not settle is ``None``."""

    course_true_deg: float
    groundspeed_kt: float
    start_nm: float | None  # along the course, from the station
    start_ft: float | None  # the lowest altitude there
    minimum_ft: float | None
    end_nm: float | None  # the missed approach point
    to_end_s: float | None
    to_threshold_s: float | None
    published_s: float | None  # where the file gives the missed approach point as a time
    angle_deg: float | None
    angle_published: bool  # False: what it takes from the start to the threshold, or to the minimum
    too_low_published: bool  # the published angle would begin below the lowest altitude at the start
    rate_ft_min: float | None  # down
    rule_rate_ft_min: float
    descent_nm: float | None  # where it begins, along the course
    descent_dme_nm: float | None
    minimum_at_nm: float | None  # where the path reaches the minimum
    minimum_at_dme_nm: float | None
    rows: tuple[PathRow, ...]
    steps: tuple[StepCheck, ...]


@dataclass(frozen=True, slots=True)
class _Path:
    """A straight path down to a foot."""

    foot_nm: float
    foot_ft: float
    gradient_ft_nm: float

    def altitude_ft(self, along_nm: float) -> float:
        return self.foot_ft + self.gradient_ft_nm * (self.foot_nm - along_nm)

    def along_nm(self, altitude_ft: float) -> float:
        return self.foot_nm - (altitude_ft - self.foot_ft) / self.gradient_ft_nm


def plan_final(
    procedure: Procedure, air: Air, *, start_nm: float | None, start_ft: float | None
) -> FinalPlan | None:
    """Plan the final from where it starts; ``None`` where the procedure has none.

    Parameters
    ----------
    air : the wind, and the final's true airspeed.
    start_nm : along the final course from the station: 0 at a final fix, negative where it starts before a station
        on the aerodrome; ``None`` where that is not known.
    start_ft : the lowest altitude there, ``None`` where none is published.
    """
    final = procedure.final
    if final is None:
        return None
    course = final_course_true_deg(procedure)
    groundspeed_kt = air.groundspeed_kt(course)
    minimum_ft = final.altitude.low_ft if final.altitude is not None else None
    end_nm, published_s = _end(procedure, groundspeed_kt)
    foot_nm = threshold_along_nm(procedure, groundspeed_kt)
    path, published, too_low = _path(procedure, foot_nm, start_nm, start_ft, minimum_ft, end_nm)
    descent_nm = minimum_at_nm = None
    if path is not None:
        if start_ft is not None:
            descent_nm = path.along_nm(start_ft)
            descent_nm = descent_nm if start_nm is None else max(descent_nm, start_nm)
        if minimum_ft is not None:
            minimum_at_nm = path.along_nm(minimum_ft)
    angle = (
        None if path is None else math.degrees(math.atan(path.gradient_ft_nm / float(gradient_ft_nm(45.0))))
    )
    return FinalPlan(
        course_true_deg=course,
        groundspeed_kt=groundspeed_kt,
        start_nm=start_nm,
        start_ft=start_ft,
        minimum_ft=minimum_ft,
        end_nm=end_nm,
        to_end_s=_seconds(start_nm, end_nm, groundspeed_kt),
        to_threshold_s=_seconds(start_nm, foot_nm, groundspeed_kt),
        published_s=published_s,
        angle_deg=angle,
        angle_published=published,
        too_low_published=too_low,
        rate_ft_min=None if angle is None else float(descent_rate_ft_min(groundspeed_kt, angle)),
        rule_rate_ft_min=RULE_RATE_PER_KT * round(groundspeed_kt),  # as both are printed
        descent_nm=descent_nm,
        descent_dme_nm=_dme(procedure, descent_nm, start_ft),
        minimum_at_nm=minimum_at_nm,
        minimum_at_dme_nm=_dme(procedure, minimum_at_nm, minimum_ft),
        rows=()
        if path is None
        else _rows(procedure, path, descent_nm, start_nm, minimum_at_nm, groundspeed_kt),
        steps=() if path is None else tuple(_steps(procedure, path)),
    )


def _end(procedure: Procedure, groundspeed_kt: float) -> tuple[float | None, float | None]:
    """The missed approach point along the course, and its published time. [NM, s]

    A published time is kept as it is: at another ground speed it ends at another place.
    """
    final = procedure.final
    distance_nm = missed_approach_distance_nm(procedure, groundspeed_kt)
    point = final.missed_approach_point if final is not None else None
    timed = point is not None and point.minutes is not None
    published_s = (
        point.minutes * SECONDS_PER_MINUTE if point is not None and point.minutes is not None else None
    )
    if distance_nm is None or (timed and procedure.station_on_aerodrome):
        return None, published_s  # a time that counts from no station is no place
    return (-distance_nm if procedure.station_on_aerodrome else distance_nm), published_s


def _path(
    procedure: Procedure,
    threshold_nm: float | None,
    start_nm: float | None,
    start_ft: float | None,
    minimum_ft: float | None,
    end_nm: float | None,
) -> tuple[_Path | None, bool, bool]:
    """The path, whether its angle is the published one, and whether that one had to be given up.

    Its foot is 50 ft over the threshold, or the minimum at the missed approach point where there is no runway. A
    published path that begins below the lowest altitude at the start is not flown: a steeper one is.
    """
    final = procedure.final
    if threshold_nm is not None and procedure.runway is not None:
        foot_nm = threshold_nm
        foot_ft = procedure.runway.elevation_ft + THRESHOLD_CROSSING_FT
    elif end_nm is not None and minimum_ft is not None:
        foot_nm, foot_ft = end_nm, minimum_ft
    else:
        return None, False, False
    too_low = False
    published_deg = final.descent_angle_deg if final is not None else None
    if published_deg is not None:
        path = _Path(foot_nm, foot_ft, float(gradient_ft_nm(published_deg)))
        too_low = (
            start_nm is not None
            and start_ft is not None
            and path.altitude_ft(start_nm) < start_ft - _NOT_YET_DOWN_FT
        )
        if not too_low:
            return path, True, False
    if start_nm is None or start_ft is None or start_ft <= foot_ft or foot_nm <= start_nm:
        return None, False, too_low
    steep_deg = float(angle_deg(start_ft - foot_ft, foot_nm - start_nm))
    return _Path(foot_nm, foot_ft, float(gradient_ft_nm(steep_deg))), False, too_low


def _rows(
    procedure: Procedure,
    path: _Path,
    descent_nm: float | None,
    start_nm: float | None,
    minimum_at_nm: float | None,
    groundspeed_kt: float,
) -> tuple[PathRow, ...]:
    """A row at each whole or half mile on the path, between the start of the descent and the minimum."""
    last_nm = minimum_at_nm if minimum_at_nm is not None else path.foot_nm
    first_nm = descent_nm if descent_nm is not None else start_nm
    if first_nm is None:
        return ()
    way = -1.0 if procedure.station_on_aerodrome else 1.0
    far_nm = math.ceil(max(abs(first_nm), abs(last_nm))) + 1.0
    for step_nm in _STEPS_NM:
        rows = []
        for mile in np.arange(step_nm, far_nm + step_nm, step_nm):
            along_nm = way * _ground_at(procedure, path, float(mile), way)
            if first_nm <= along_nm <= last_nm:
                altitude_ft = path.altitude_ft(along_nm)
                rows.append(
                    PathRow(
                        dme_nm=float(mile) if procedure.station.has_dme else None,
                        distance_nm=abs(along_nm),
                        seconds=_seconds(start_nm, along_nm, groundspeed_kt),
                        altitude_ft=altitude_ft,
                        minimum_ft=lowest_ft(procedure, along_nm, altitude_ft),
                    )
                )
        if len(rows) <= MOST_ROWS:
            break
    return tuple(rows if way > 0.0 else reversed(rows))


def _ground_at(procedure: Procedure, path: _Path, mile_nm: float, way: float) -> float:
    """Ground distance of a whole mile: as the DME reads it on the path, or as it is without a DME; ``nan`` where none."""
    ground_nm = mile_nm
    if not procedure.station.has_dme:
        return ground_nm
    for _ in range(_ENOUGH_ITERATIONS):  # the altitude hardly changes with the slant: it settles at once
        above_ft = max(path.altitude_ft(way * ground_nm) - procedure.station.elevation_ft, 0.0)
        ground_nm = float(ground_distance_nm(mile_nm, above_ft))
    return ground_nm


def lowest_ft(procedure: Procedure, along_nm: float, altitude_ft: float) -> float | None:
    """The lowest altitude allowed at a place on final: that of the first step not yet passed, else the minimum."""
    final = procedure.final
    if final is None:
        return None
    reading_nm = float(dme_nm(abs(along_nm), altitude_ft - procedure.station.elevation_ft))
    way = -1.0 if procedure.station_on_aerodrome else 1.0
    for step in final.step_down:
        if way * (step_dme_nm(procedure, step) - reading_nm) > _REACHED_NM:
            return step.at_or_above_ft
    return procedure.low_ft("final")


def _steps(procedure: Procedure, path: _Path) -> Iterator[StepCheck]:
    way = -1.0 if procedure.station_on_aerodrome else 1.0
    for step in procedure.final.step_down if procedure.final is not None else ():
        along_nm = way * _step_ground_at(procedure, path, step, way)
        if math.isfinite(along_nm):
            yield StepCheck(
                until=until_words(step),
                minimum_ft=step.at_or_above_ft,
                path_ft=path.altitude_ft(along_nm),
            )


def _step_ground_at(procedure: Procedure, path: _Path, step: StepDown, way: float) -> float:
    if step.until_dme_nm is None:
        return step_ground_nm(procedure, step)
    return _ground_at(procedure, path, step.until_dme_nm, way)


def _seconds(from_nm: float | None, to_nm: float | None, groundspeed_kt: float) -> float | None:
    if from_nm is None or to_nm is None or to_nm < from_nm:
        return None
    return float(leg_seconds(to_nm - from_nm, groundspeed_kt))


def _dme(procedure: Procedure, along_nm: float | None, altitude_ft: float | None) -> float | None:
    if along_nm is None or altitude_ft is None or not procedure.station.has_dme:
        return None
    return float(dme_nm(abs(along_nm), altitude_ft - procedure.station.elevation_ft))
