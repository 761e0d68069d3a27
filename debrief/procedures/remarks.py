"""What is unusual about a procedure that is valid: worth a second look, not wrong.

Owns      the remarks of ``debrief procedures check``.
Not here  what is wrong (``checks``), the briefing (``words``).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime

import numpy as np

from debrief.navigation.angles import difference_deg
from debrief.navigation.descent import THRESHOLD_CROSSING_FT, angle_deg
from debrief.navigation.magnetism import variation_deg
from debrief.navigation.turns import STANDARD_RATE_DEG_S
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.procedures.checks import station_to_threshold
from debrief.procedures.geometry import (
    ORDINARY_SPEED_KT,
    final_course_true_deg,
    missed_approach_distance_nm,
    outline,
    threshold_nm,
)
from debrief.procedures.model import Pattern, Procedure

RUNWAY_OFFSET_DEG = 30.0  # beyond it a procedure has circling minima only. Mark: memory
ALIGNMENT_OFF_DEG = 5.0  # a station's alignment is often 1 to 3 degrees from today's variation. Mark: memory
DESCENT_DEG = (
    2.5,
    3.8,
)  # 3.77 is the most in FAA Order 8260.3. Mark: seen (2nd hand); the least: common practice
LEAST_TO_RUNWAY_NM = 0.1
LEAST_RACETRACK_LEG_S = 30.0  # shorter is no leg. Mark: common practice


def remarks(procedure: Procedure, today: date) -> tuple[str, ...]:
    """Sentences about what is unusual, in the order of the file; none where nothing is."""
    return (
        *_alignment(procedure, today),
        *_runway(procedure),
        *_reversal(procedure),
        *_descent(procedure),
        *_missed_approach(procedure),
    )


def _alignment(procedure: Procedure, today: date) -> Iterator[str]:
    station = procedure.station
    variation = float(
        variation_deg(
            station.latitude,
            station.longitude,
            station.elevation_ft,
            datetime(today.year, today.month, today.day, tzinfo=UTC),
        )
    )
    off_deg = abs(float(difference_deg(station.declination_deg, variation)))
    if off_deg > ALIGNMENT_OFF_DEG:
        yield (
            f"station.declination_deg is {station.declination_deg:g}, but the magnetic variation there is "
            f"{variation:.1f}: {off_deg:.0f} degrees apart. East is positive, west negative."
        )


def _runway(procedure: Procedure) -> Iterator[str]:
    if procedure.runway is None:
        yield "There is no [runway]: nothing is measured past the missed approach point."
        return
    course_deg = final_course_true_deg(procedure)
    off_deg = abs(float(difference_deg(procedure.runway.course_true_deg, course_deg)))
    if off_deg > RUNWAY_OFFSET_DEG:
        yield (
            f"The runway points {procedure.runway.course_true_deg:g} degrees true, {off_deg:.0f} degrees from the "
            f"final course ({course_deg:g} true)."
        )


def _reversal(procedure: Procedure) -> Iterator[str]:
    reversal = procedure.reversal
    if reversal is None:
        return
    if reversal.pattern is Pattern.PROCEDURE_TURN_45_180 and reversal.leg_seconds is None:
        yield "The 45/180 gives no leg_seconds: 60 are taken."
    if reversal.leg_seconds and reversal.pattern in (Pattern.PROCEDURE_TURN_80_260, Pattern.BASE_TURN):
        yield f"leg_seconds means nothing in a {reversal.pattern}; it is ignored."
    outbound = procedure.outbound
    minutes = outbound.length.minutes if outbound is not None and outbound.length is not None else None
    if reversal.pattern is Pattern.RACETRACK and reversal.leg_seconds is None and minutes is not None:
        straight_s = minutes * SECONDS_PER_MINUTE - 180.0 / STANDARD_RATE_DEG_S
        if straight_s < LEAST_RACETRACK_LEG_S:
            yield (
                f"The racetrack's outbound leg ends {minutes:g} minutes after the station, the turn onto it included, "
                "which takes one. For a time that begins abeam the station give leg_seconds in the course_reversal leg."
            )
    yield from _base_turn_side(procedure)
    if reversal.within_nm is None:
        return
    speed_kt = reversal.max_speed_kias or 120.0
    line = next(line for line in outline(procedure, speed_kt) if line.name == "course_reversal")
    farthest_nm = float(np.hypot(line.east_nm, line.north_nm).max())
    if farthest_nm > reversal.within_nm:
        yield (
            f"At {speed_kt:g} kt, without wind, the reversal reaches {farthest_nm:.1f} NM from the station; within_nm "
            f"is {reversal.within_nm:g}."
        )


def _base_turn_side(procedure: Procedure) -> Iterator[str]:
    """A base turn is flown towards its inbound course."""
    reversal, course_deg = procedure.reversal, procedure.outbound_course_deg
    if reversal is None or reversal.pattern is not Pattern.BASE_TURN or course_deg is None:
        return
    off_deg = difference_deg(course_deg, procedure.inbound_course_deg + 180.0)
    turn = "left" if off_deg > 0 else "right"
    if reversal.side != turn:
        yield (
            f"side is {reversal.side!r}, which leads away from the inbound course: it lies to the {turn} of radial "
            f"{course_deg:g}."
        )


def _descent(procedure: Procedure) -> Iterator[str]:
    """From the final fix, where the station is one, to 50 ft above the threshold."""
    threshold, runway = station_to_threshold(procedure), procedure.runway
    if threshold is None or runway is None or procedure.station_on_aerodrome:
        return
    before = [
        leg.altitude.low_ft for leg in procedure.leg if leg.phase != "final" and leg.altitude is not None
    ]
    if not before or before[-1] is None or threshold[0] < LEAST_TO_RUNWAY_NM:
        return
    descent_deg = float(angle_deg(before[-1] - runway.elevation_ft - THRESHOLD_CROSSING_FT, threshold[0]))
    least_deg, most_deg = DESCENT_DEG
    if not least_deg <= round(descent_deg, 1) <= most_deg:  # as it is told
        yield (
            f"From {before[-1]:,.0f} ft at the station to {THRESHOLD_CROSSING_FT:.0f} ft over the threshold is a "
            f"descent of {descent_deg:.1f} degrees; {least_deg:g} to {most_deg:g} are usual."
        )


def _missed_approach(procedure: Procedure) -> Iterator[str]:
    final, threshold = procedure.final, threshold_nm(procedure)
    if final is None or final.missed_approach_point is None or threshold is None:
        return
    point_nm = missed_approach_distance_nm(procedure)
    course = np.radians(final_course_true_deg(procedure))
    along_nm = float(threshold[0] * np.sin(course) + threshold[1] * np.cos(course))
    past_nm = (point_nm or 0.0) - along_nm
    if procedure.station_on_aerodrome:
        past_nm = -(point_nm or 0.0) - along_nm
    if past_nm > LEAST_TO_RUNWAY_NM:
        timed = final.missed_approach_point.minutes is not None
        speed = f", at {ORDINARY_SPEED_KT:g} kt over the ground," if timed else ""
        yield f"The missed approach point{speed} lies {past_nm:.1f} NM past the threshold."
