"""The end of an approach: down to the minimum, then a landing, a climb away, or the end of the log.

Owns      the final descent with its steps, the visual path to the runway, the roll-out, the missed approach.
Not here  the legs before the final fix (``pilot``), a final flown down its published path (``path``).
"""

from __future__ import annotations

import math

from debrief.navigation.descent import THRESHOLD_CROSSING_FT
from debrief.procedures.model import Extent, Phase, Runway, StepDown
from debrief.procedures.steps import crossing_along_nm
from debrief.simulation import holding
from debrief.simulation.circling import circle, leaves_the_course
from debrief.simulation.guidance import Banks, Line, within_180_deg
from debrief.simulation.path import Path, path_down, rate_down
from debrief.simulation.pilot import FT_PER_NM, Pilot
from debrief.simulation.plan import Attempt, Faults

PATH_FT_PER_NM = FT_PER_NM * math.tan(math.radians(3.0))
FLARE_FT = 25.0
WIDEST_TO_THE_RUNWAY_DEG = 30.0
LINING_UP_DEG = 25.0  # flown at the centre line with, at the least
LEVEL_BEFORE_POINT_NM = 0.6  # how far before the missed approach point the minimum should be reached
TAXI_KT = 12.0
LEVEL_WITHIN_FT = 30.0
LEVEL_FLOWN_S = 60.0  # flown level on the course where no turn is published
STEP_S = 0.1  # of the flight
# A needle read the wrong way round: from so small a deviation, beyond the station's own swings, to one so large.
SEEN_DEG = 3.0
REVERSED_FROM_NM = 1.3
NOTICED_DEG = 9.0


def runway_line(pilot: Pilot, runway: Runway) -> Line:
    """The extended centre line, through the threshold, in the plane."""
    from debrief.navigation.geodesy import StationPlane

    station = pilot.procedure.station
    plane = StationPlane(latitude_deg=station.latitude, longitude_deg=station.longitude)
    east_nm, north_nm = plane.to_plane(runway.latitude, runway.longitude)
    return Line(runway.course_true_deg, float(east_nm), float(north_nm))


def final(pilot: Pilot, attempt: Attempt) -> Banks:
    """From the final fix (or established) down to the minimum, and whatever the plan ends it with."""
    aircraft, faults, leg = pilot.aircraft, attempt.faults, pilot.procedure.final
    if leg is None:
        return
    pilot.note("final")
    pilot.airspeed_kias = pilot.plan.final_kias
    from_station = pilot.along_inbound() > 0.0
    published = pilot.line_final()
    turned_deg = (1 if from_station else -1) * faults.final_offset_deg
    line = Line(published.course_deg + turned_deg, published.east_nm, published.north_nm)
    line = line.beside(faults.final_aside_nm)
    if not from_station:
        pilot.watch_station()
    low_ft = leg.altitude.low_ft if leg.altitude is not None else None
    minimum_ft = (low_ft or 0.0) + pilot.plan.altitude_margin_ft - faults.below_minimum_ft
    crossings_nm = {
        step: crossing_along_nm(pilot.procedure, step.until_radial)
        for step in leg.step_down
        if step.until_radial is not None
    }
    runway = pilot.procedure.runway
    centre = runway_line(pilot, runway) if runway is not None else None
    began_s = pilot.closest_s if from_station else aircraft.t_s
    descending = not from_station
    past_point_nm = 0.0
    last_s = aircraft.t_s
    rate_ft_min: float | None = faults.final_rate_ft_min
    path: Path | None = None
    circling = pilot.procedure.circling if attempt.circle is not None else None
    if circling is not None:
        minimum_ft = (
            (circling.altitude.low_ft or 0.0) + pilot.plan.altitude_margin_ft - faults.circling_low_ft
        )
        runway, centre = circling.runway, runway_line(pilot, circling.runway)
    by_eye: Banks | None = None
    for needle_deg in _along(pilot, line, faults):
        if (
            by_eye is None
            and centre is not None
            and attempt.ending == "landing"
            and circling is None
            and visual_segment_reached(pilot, began_s, from_station=from_station)
        ):
            pilot.note("by eye")
            off_deg = abs(within_180_deg(centre.course_deg - line.course_deg))
            by_eye = pilot.helm.following(centre, max(LINING_UP_DEG, off_deg))
        bank_deg = needle_deg if by_eye is None else next(by_eye)
        if from_station and not descending:
            descending = pilot.passing_station() if pilot.plan.down_the_path else pilot.past_station()
        elif not from_station:
            pilot.passing_station()
        if descending:
            floor_ft = minimum_ft
            for step in leg.step_down:
                if step_holds(pilot, step, crossings_nm.get(step), from_station=from_station):
                    step_ft = step.at_or_above_ft + pilot.plan.altitude_margin_ft - faults.below_step_ft
                    floor_ft = max(floor_ft, step_ft)
            pilot.altitude_ft = floor_ft
            if pilot.plan.down_the_path:
                path = path or path_down(pilot, minimum_ft)
                rate_ft_min = rate_down(pilot, path)
            elif rate_ft_min is None:
                rate_ft_min = suitable_rate(pilot, minimum_ft, from_station=from_station)
            pilot.rate_ft_min = rate_ft_min
        if circling is not None and centre is not None and leaves_the_course(pilot, centre, minimum_ft):
            yield from circle(pilot, circling, centre, attempt)
            pilot.rate_ft_min = pilot.plan.descent_ft_min
            if attempt.ending == "landing":
                yield from landing(pilot, circling.runway, centre, faults.landing_long_nm)
                return
            break
        if (
            runway is not None
            and centre is not None
            and circling is None
            and attempt.ending == "landing"
            and can_land(pilot, runway, centre, minimum_ft, faults.landing_long_nm, slope_ft_nm(path))
        ):
            pilot.rate_ft_min = pilot.plan.descent_ft_min
            yield from landing(pilot, runway, centre, faults.landing_long_nm, slope_ft_nm(path))
            return
        missing = past_the_point(pilot, began_s, from_station=from_station)
        if by_eye is not None and centre is not None:  # the runway is in sight: too late only over it
            missing = centre.along_nm(aircraft) > 0.0
        if missing:
            past_point_nm += aircraft.groundspeed_kt * (aircraft.t_s - last_s) / 3600.0
            if past_point_nm >= faults.missed_approach_late_nm:
                break
        last_s = aircraft.t_s
        yield bank_deg
    pilot.rate_ft_min = pilot.plan.descent_ft_min
    if attempt.ending == "log ends":
        pilot.note("log ends")
        return
    if attempt.published_missed:
        yield from published_missed_approach(pilot, attempt)
    else:
        yield from missed_approach(pilot, line)


def step_holds(pilot: Pilot, step: StepDown, crossing_nm: float | None, *, from_station: bool) -> bool:
    """Whether the end of a step-down is still ahead; ``crossing_nm`` is where a radial that ends it crosses."""
    if crossing_nm is not None:
        return pilot.along_inbound() < crossing_nm
    until_nm = step.until_dme_nm or 0.0
    return pilot.dme_nm() < until_nm if from_station else pilot.dme_nm() > until_nm


def _along(pilot: Pilot, line: Line, faults: Faults) -> Banks:
    """Down the final course, by a needle that is read well, chased, or read the wrong way round."""
    if faults.needle_reversed_deg:
        yield from _read_reversed(pilot, line, faults.needle_reversed_deg)
    over_station = pilot.helm.chasing(line, faults.chase_in_cone_deg)
    well = pilot.helm.following(line, 30.0)
    chase_deg = faults.chase_needle_deg or faults.weave_deg
    chased = pilot.helm.chasing(line, chase_deg)
    while True:
        if faults.chase_in_cone_deg and pilot.in_cone():
            yield next(over_station)
        elif chase_deg and not pilot.in_cone():
            yield next(chased)
        else:
            yield next(well)


def _read_reversed(pilot: Pilot, line: Line, away_deg: float) -> Banks:
    """Off to the right by a little, turned farther right, until the needle is nearly at its stop."""

    def right_deg() -> float:
        across_nm, along_nm = line.across_nm(pilot.aircraft), line.along_nm(pilot.aircraft)
        return math.degrees(math.atan2(across_nm, abs(along_nm)))

    # right of a course to the station lies a smaller radial
    out = 1.0 if line.along_nm(pilot.aircraft) > 0.0 else -1.0
    beside = Line(line.course_deg + out * SEEN_DEG, line.east_nm, line.north_nm)
    for bank_deg in pilot.helm.following(beside, 8.0):
        if pilot.distance_nm() > REVERSED_FROM_NM and right_deg() > SEEN_DEG - 0.5:
            break
        yield bank_deg
    for bank_deg in pilot.helm.holding(line.course_deg + away_deg):
        if right_deg() > NOTICED_DEG:
            return
        yield bank_deg


def visual_segment_reached(pilot: Pilot, began_s: float, *, from_station: bool) -> bool:
    """Whether the procedure has a visual segment, and the aircraft is in it."""
    segment = pilot.procedure.visual_segment
    if segment is None:
        return False
    begins = segment.begins
    if begins is None:
        return past_the_point(pilot, began_s, from_station=from_station)
    return reached(pilot, begins, began_s, from_station=from_station)


def reached(pilot: Pilot, extent: Extent, began_s: float, *, from_station: bool) -> bool:
    """Whether a DME distance, or a time from the final fix, is behind."""
    if extent.minutes is not None:
        return pilot.aircraft.t_s - began_s >= extent.minutes * 60.0
    dme_nm, end_nm = pilot.dme_nm(), extent.dme_nm or 0.0
    if from_station:
        return dme_nm >= end_nm
    return dme_nm <= end_nm or pilot.along_inbound() > 0.0


def past_the_point(pilot: Pilot, began_s: float, *, from_station: bool) -> bool:
    """Whether the missed approach point is behind; without a published one, the station or its passage."""
    leg = pilot.procedure.final
    point = leg.missed_approach_point if leg is not None else None
    if point is not None:
        return reached(pilot, point, began_s, from_station=from_station)
    if not from_station:
        return pilot.along_inbound() >= 0.0
    return pilot.along_inbound() >= 5.0


def suitable_rate(pilot: Pilot, minimum_ft: float, *, from_station: bool) -> float:
    """A rate of descent that reaches the minimum a little before the missed approach point. [ft/min]"""
    leg = pilot.procedure.final
    point = leg.missed_approach_point if leg is not None else None
    speed_kt = max(40.0, pilot.helm.groundspeed_on(pilot.line_inbound().course_deg))
    along_nm = pilot.along_inbound()
    if point is not None and point.dme_nm is not None:
        end_nm = point.dme_nm if from_station else -point.dme_nm
    elif point is not None and point.minutes is not None and from_station:
        end_nm = point.minutes / 60.0 * speed_kt
    else:
        end_nm = 5.0 if from_station else 0.0
    distance_nm = max(0.5, end_nm - LEVEL_BEFORE_POINT_NM - along_nm)
    needed = (pilot.aircraft.altitude_ft - minimum_ft) / (distance_nm / speed_kt * 60.0)
    return max(450.0, min(880.0, needed * 1.08))


def slope_ft_nm(path: Path | None) -> float:
    """How steep the way down to the runway is: as the final, where that is flown down a path to it. [ft/NM]"""
    return path.ft_per_nm if path is not None and path.to_runway else PATH_FT_PER_NM


def can_land(
    pilot: Pilot, runway: Runway, centre: Line, minimum_ft: float, long_nm: float, path_ft_nm: float
) -> bool:
    """Whether the runway's path meets the aircraft here, near the minimum and not far to the side."""
    to_go_nm = long_nm - centre.along_nm(pilot.aircraft)
    path_ft = runway.elevation_ft + THRESHOLD_CROSSING_FT + to_go_nm * path_ft_nm
    off_deg = within_180_deg(centre.course_deg - pilot.aircraft.ground_track_deg)
    return (
        0.4 < to_go_nm < 6.0
        and pilot.aircraft.altitude_ft < minimum_ft + 150.0
        and pilot.aircraft.altitude_ft >= path_ft - 15.0
        and abs(centre.across_nm(pilot.aircraft)) < 0.35 * to_go_nm
        and abs(off_deg) < WIDEST_TO_THE_RUNWAY_DEG
    )


def landing(
    pilot: Pilot, runway: Runway, centre: Line, long_nm: float, path_ft_nm: float = PATH_FT_PER_NM
) -> Banks:
    """Down the path to the runway, touch down, brake, roll on and stop."""
    aircraft = pilot.aircraft
    pilot.note("runway in sight")
    for bank_deg in pilot.helm.following(centre, 25.0):
        height_ft = aircraft.altitude_ft - runway.elevation_ft
        to_go_nm = long_nm - centre.along_nm(aircraft)
        above_ft = height_ft - (THRESHOLD_CROSSING_FT + to_go_nm * path_ft_nm)
        on_path = aircraft.groundspeed_kt / 60.0 * path_ft_nm
        if height_ft < FLARE_FT + 10.0:
            pilot.path_rate_ft_min = -max(180.0, min(on_path, 14.0 * height_ft))
            pilot.airspeed_kias = 0.8 * pilot.plan.final_kias
        else:
            pilot.path_rate_ft_min = -max(0.0, min(950.0, on_path + 6.0 * above_ft))
        if height_ft <= 0.0:
            break
        yield bank_deg
    pilot.path_rate_ft_min = None
    aircraft.touch_down(runway.elevation_ft)
    pilot.note("touchdown")
    yield from roll_out(pilot, 25.0)


def roll_out(pilot: Pilot, taxi_s: float) -> Banks:
    """Brake to taxi speed, taxi a little, stop."""
    aircraft = pilot.aircraft
    pilot.altitude_ft, pilot.airspeed_kias = aircraft.altitude_ft, TAXI_KT
    while aircraft.airspeed_kias > TAXI_KT + 0.5:
        yield 0.0
    until_s = aircraft.t_s + taxi_s
    while aircraft.t_s < until_s:
        yield 0.0
    pilot.airspeed_kias = 0.0
    while aircraft.airspeed_kias > 0.05:
        yield 0.0


def missed_approach(pilot: Pilot, line: Line) -> Banks:
    """Climb straight ahead until well above the approach."""
    pilot.note("climb away")
    from_ft = pilot.aircraft.altitude_ft
    pilot.airspeed_kias = max(pilot.plan.final_kias, 0.95 * pilot.plan.approach_kias)
    inbound_ft = pilot.altitude_for(Phase.INBOUND, Attempt())
    pilot.altitude_ft = max(from_ft + 1600.0, inbound_ft)
    for bank_deg in pilot.helm.following(line, 30.0):
        if pilot.aircraft.altitude_ft > from_ft + 1350.0:
            return
        yield bank_deg


def published_missed_approach(pilot: Pilot, attempt: Attempt) -> Banks:
    """Climb on the published course, turn back to the station where that is published, level off, hold."""
    procedure = pilot.procedure
    missed, course_deg = procedure.missed_approach, procedure.missed_approach_course_deg
    if missed is None or course_deg is None:
        raise ValueError(f"{procedure.name} has no missed approach to fly")
    pilot.note("climb away")
    aircraft, faults = pilot.aircraft, attempt.faults
    pilot.airspeed_kias = max(pilot.plan.final_kias, 0.95 * pilot.plan.approach_kias)
    limit_ft = missed.altitude.low_ft if missed.altitude.low_ft is not None else missed.altitude.high_ft
    pilot.altitude_ft = (limit_ft or 0.0) + pilot.plan.altitude_margin_ft + faults.missed_altitude_ft
    turn_ft = missed.turn_at_ft if missed.turn_at_ft is not None else aircraft.altitude_ft + 500.0
    if missed.turn is None:
        turn_ft = math.inf
    level_s = 0.0
    for bank_deg in pilot.helm.holding(pilot.true_deg(course_deg) + faults.missed_course_off_deg):
        level_s = level_s + STEP_S if abs(aircraft.altitude_ft - pilot.altitude_ft) < LEVEL_WITHIN_FT else 0.0
        if aircraft.altitude_ft >= turn_ft or level_s > LEVEL_FLOWN_S:
            break
        yield bank_deg
    if missed.turn is None:
        return
    pilot.note("missed approach turn")
    to_station = Line(math.degrees(math.atan2(-aircraft.east_nm, -aircraft.north_nm)))
    yield from pilot.helm.turning_onto(1 if missed.turn == "right" else -1, to_station, 60.0)
    back = None
    if attempt.hold_after and procedure.hold is not None:
        yield from holding.hold(pilot, procedure.hold, attempt.hold_after)
        back = Line(pilot.true_deg(procedure.hold.course_deg))
    yield from holding.to_station(pilot, back)
