"""The pilot: a procedure flown leg by leg, with the errors the plan asks for.

Owns      what is flown next, when each leg ends, altitudes and speeds along it.
Not here  steering (``guidance``), the turns of a reversal (``reversal``), final descent, landing and climb away
          (``ending``), flights without an approach (``elsewhere``).

Each leg is a generator that gives a bank a step; between two steps the aircraft has moved on. Altitude, rate
and speed wanted are set on the pilot and flown by ``rate_wanted``. ``note`` names what the pilot begins, with
the time: the truth about a flight uses it to know which turn was meant as which.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from debrief.procedures.guidance import guidance_of
from debrief.procedures.model import Pattern, Phase, Procedure
from debrief.simulation.aircraft import VERTICAL_ACCELERATION_FT_MIN_S, Aircraft
from debrief.simulation.guidance import Banks, Helm, Line, within_180_deg
from debrief.simulation.plan import Attempt, FlightPlan

FT_PER_NM = 1852.0 / 0.3048
#: Change of course above which the turn begins overhead: a fly-by would pass the station too far away.
STEEPEST_FLY_BY_DEG = 110.0
WIND_IN_LEAD_NM = 0.4
FARTHEST_LEAD_NM = 4.0  # beyond any lead
ON_AERODROME_NM = 2.0
CHASED_FROM_NM = 0.05  # beside the course: enough for the needle to swing out over the station


class Pilot:
    """Flies one aircraft by one plan."""

    def __init__(
        self, aircraft: Aircraft, procedure: Procedure, plan: FlightPlan, note: Callable[[str], None]
    ) -> None:
        self.aircraft, self.procedure, self.plan, self.note = aircraft, procedure, plan, note
        self.helm = Helm(aircraft, plan.bank_limit_deg)
        self.altitude_ft = aircraft.altitude_ft
        self.rate_ft_min = plan.descent_ft_min  # greatest
        self.path_rate_ft_min: float | None = None  # on a path, instead of an altitude
        self.airspeed_kias = plan.cruise_kias
        self.unsteady_ft = 0.0
        self.closest_nm, self.closest_s = math.inf, 0.0  # since ``watch_station``

    # What the pilot reads and wants

    def distance_nm(self) -> float:
        """Horizontal distance from the station."""
        return math.hypot(self.aircraft.east_nm, self.aircraft.north_nm)

    def dme_nm(self) -> float:
        """Slant range from the station."""
        height_nm = (self.aircraft.altitude_ft - self.procedure.station.elevation_ft) / FT_PER_NM
        return math.hypot(self.distance_nm(), height_nm)

    def final_from_station(self) -> bool:
        """Whether the station is the final fix, and not on the aerodrome."""
        procedure = self.procedure
        if procedure.has_intermediate or procedure.reversal is not None or procedure.runway is None:
            return procedure.has_intermediate
        from debrief.navigation.geodesy import inverse

        station, runway = procedure.station, procedure.runway
        distance_nm, _ = inverse(station.latitude, station.longitude, runway.latitude, runway.longitude)
        return distance_nm > ON_AERODROME_NM

    def along_inbound(self) -> float:
        """How far past the station on the inbound course; negative before it. [NM]"""
        return self.line_inbound().along_nm(self.aircraft)

    def in_cone(self) -> bool:
        """Whether the aircraft is where the station cannot be used."""
        height_nm = (self.aircraft.altitude_ft - self.procedure.station.elevation_ft) / FT_PER_NM
        half_angle = math.radians(self.procedure.station.cone_half_angle_deg)
        return self.distance_nm() < height_nm * math.tan(half_angle)

    def watch_station(self) -> None:
        """Start to look for the next closest point."""
        self.closest_nm, self.closest_s = math.inf, self.aircraft.t_s

    def passing_station(self) -> bool:
        """Keep the closest point up to date; True once it is behind."""
        distance_nm = self.distance_nm()
        if distance_nm < self.closest_nm:
            self.closest_nm, self.closest_s = distance_nm, self.aircraft.t_s
        return distance_nm > self.closest_nm + 0.02

    def past_station(self) -> bool:
        """Behind the closest point, and out of the cone."""
        return self.passing_station() and not self.in_cone()

    def altitude_for(self, phase: str, attempt: Attempt) -> float:
        """What the pilot flies on that leg: just above its (first) minimum, below its maximum, or as before."""
        leg = self.procedure.leg_of(phase)
        limit = leg.altitude if leg is not None else None
        if limit is None:
            return self.altitude_ft
        low_ft, high_ft = limit.low_ft, limit.high_ft
        lower_ft = attempt.faults.lower_ft.get(phase, 0.0)
        if low_ft is None:
            return min(self.altitude_ft, high_ft if high_ft is not None else math.inf)
        if leg is not None and leg.step_down:
            low_ft = max(low_ft, *(step.at_or_above_ft for step in leg.step_down))
        wanted_ft = low_ft + self.plan.altitude_margin_ft
        return min(wanted_ft, high_ft if high_ft is not None else math.inf) - lower_ft

    def rate_wanted(self) -> float:
        """Rate of climb towards the altitude (or along the path), eased in. [ft/min, up positive]"""
        if self.path_rate_ft_min is not None:
            return self.path_rate_ft_min
        off_ft = self.altitude_ft + self.unsteady_ft - self.aircraft.altitude_ft
        most = self.rate_ft_min if off_ft < 0 else self.plan.climb_ft_min
        easing = math.sqrt(2 * 0.6 * VERTICAL_ACCELERATION_FT_MIN_S * 60.0 * abs(off_ft))
        return math.copysign(min(most, easing, abs(off_ft) * 12.0), off_ft)

    # The legs

    def true_deg(self, magnetic_deg: float) -> float:
        """A published direction in the plane."""
        return self.procedure.true_deg(magnetic_deg)

    def line_inbound(self) -> Line:
        """The course back in, through the station; the final's own line, where the final begins on it."""
        if not self.procedure.has_intermediate and self.procedure.final_guidance is not None:
            return self.line_final()
        return Line(self.true_deg(self.procedure.inbound_course_deg))

    def line_final(self) -> Line:
        """The final course; counted from abeam the station, where it does not lead through it."""
        guidance = guidance_of(self.procedure)
        if guidance is None:
            return Line(self.true_deg(self.procedure.inbound_course_deg))
        line = Line(guidance.course_true_deg, guidance.east_nm, guidance.north_nm)
        aside_nm = line.side_of(-line.east_nm, -line.north_nm)  # of the station
        return Line(line.course_deg).beside(-aside_nm)

    def line_outbound(self, attempt: Attempt) -> Line:
        """The radial as this pilot tracks it; a racetrack's is the parallel course, kept elsewhere."""
        course_deg = self.procedure.outbound_course_deg
        if course_deg is None:
            raise ValueError(f"{self.procedure.name} has no outbound leg to fly")
        # Right of a course away from the station is the next larger radial.
        return Line(self.true_deg(course_deg) + attempt.faults.outbound_offset_deg)

    def inbound(self, attempt: Attempt, arrival_course_deg: float | None, *, direct: bool) -> Banks:
        """To the station: until the turn there begins, or until past it where none is needed."""
        self.note("inbound")
        faults = attempt.faults
        if direct and (arrival_course_deg is None or not self.final_from_station()):
            line = self.line_inbound()
        elif arrival_course_deg is not None:
            line = Line(arrival_course_deg)
        else:
            line = Line(math.degrees(math.atan2(-self.aircraft.east_nm, -self.aircraft.north_nm)))
        self.watch_station()
        top_ft = self.altitude_for(Phase.INBOUND, attempt)
        next_phase = Phase.FINAL if direct else Phase.OUTBOUND
        straight_on_aerodrome = direct and not self.final_from_station()
        descending = False
        aside_nm = 0.0
        if faults.station_missed_nm:
            change_deg = 0.0 if direct else within_180_deg(self.outbound_course(attempt) - line.course_deg)
            aside_nm = math.copysign(faults.station_missed_nm, change_deg)
        for bank_deg in self.helm.following(line.beside(aside_nm)):
            to_go_nm = -line.along_nm(self.aircraft)
            needed_nm = (self.aircraft.altitude_ft - top_ft) / self.rate_ft_min / 60.0
            needed_nm = needed_nm * self.aircraft.groundspeed_kt + 3.0
            descending = descending or to_go_nm < needed_nm or self.aircraft.altitude_ft < top_ft
            if descending:
                self.altitude_ft = top_ft
            if faults.down_before_station_nm and to_go_nm < faults.down_before_station_nm:
                self.altitude_ft = self.altitude_for(next_phase, attempt)
            if to_go_nm < self.plan.slow_down_nm:
                self.airspeed_kias = self.plan.approach_kias
            passed = self.passing_station()
            if straight_on_aerodrome:
                if self.established(line):
                    return
            elif direct and passed:
                return
            elif (
                not direct
                and to_go_nm < FARTHEST_LEAD_NM - faults.turn_late_nm
                and to_go_nm < self.lead_nm(self.outbound_course(attempt)) - faults.turn_late_nm
            ):
                self.note("turn at the station")
                return
            yield bank_deg

    def outbound_course(self, attempt: Attempt) -> float:
        """First course after the station, a racetrack's entry included."""
        course_deg = self.line_outbound(attempt).course_deg
        if self.procedure.reversal is not None and self.procedure.reversal.pattern is Pattern.RACETRACK:
            return self.racetrack_course(attempt, course_deg)
        return course_deg

    def lead_nm(self, next_course_deg: float) -> float:
        """How far before the station to turn so as to roll out on the next course, in this wind.

        Within ``WIND_IN_LEAD_NM`` of the still-air lead r tan(change / 2), r by ground speed; overhead where
        that would pass the station too far away. The plan's own lead goes before.
        """
        if self.plan.lead_nm is not None:
            return self.plan.lead_nm
        aircraft, helm = self.aircraft, self.helm
        speed_kt, track_deg = aircraft.groundspeed_kt, aircraft.ground_track_deg
        change_deg = within_180_deg(next_course_deg - track_deg)
        if not 5.0 < abs(change_deg) < STEEPEST_FLY_BY_DEG:
            return 0.0
        speed_m_s = speed_kt * 1852.0 / 3600.0
        radius_m = max(speed_m_s / math.radians(3.0), speed_m_s**2 / (9.80665 * math.tan(math.radians(25.0))))
        still_nm = radius_m / 1852.0 * math.tan(math.radians(abs(change_deg) / 2))
        # Where the turn leads to: an arc through the air, carried by the wind.
        way = math.copysign(1.0, change_deg)
        out_deg = helm.heading_for(next_course_deg)
        turn_deg = way * (out_deg - aircraft.heading_deg) % 360.0
        turn_s = turn_deg / helm.turn_rate_deg_s() + 2.5  # rolling in and out
        before, after = math.radians(aircraft.heading_deg), math.radians(out_deg)
        air_nm = way * helm.radius_nm()
        wind_east_kt, wind_north_kt = aircraft.air.steady(aircraft.altitude_ft)
        east_nm = air_nm * (math.cos(before) - math.cos(after)) + wind_east_kt * turn_s / 3600.0
        north_nm = air_nm * (math.sin(after) - math.sin(before)) + wind_north_kt * turn_s / 3600.0
        beside_nm = Line(next_course_deg).side_of(east_nm, north_nm)
        per_lead = math.sin(math.radians(-change_deg))  # how far left of the line a lead of 1 NM starts
        lead_nm = beside_nm / per_lead if abs(per_lead) > 0.1 else still_nm
        rolling_nm = speed_kt / 3600.0 * 1.5
        return rolling_nm + max(still_nm - WIND_IN_LEAD_NM, min(still_nm + WIND_IN_LEAD_NM, lead_nm))

    def shorter_way(self, course_deg: float) -> int:
        """+1 where a right turn is the shorter one to that course, else -1."""
        return 1 if within_180_deg(course_deg - self.aircraft.ground_track_deg) >= 0 else -1

    def outbound(self, attempt: Attempt) -> Banks:
        """On the radial, until the published length (and any error in it) is reached."""
        leg = self.procedure.outbound
        line = self.line_outbound(attempt)
        way = self.shorter_way(line.course_deg)
        early = attempt.faults.turn_late_nm < 0.0  # the whole turn early, not a cut across to the radial
        turning = (
            self.helm.turning(way, line.course_deg) if early else self.helm.turning_onto(way, line, 45.0)
        )
        for banks in (turning, self.helm.following(line, 40.0)):
            for bank_deg in banks:
                # A turn begun too early has a closest point of its own, before the station's.
                if self.past_station() and line.along_nm(self.aircraft) > 0.0:
                    self.altitude_ft = self.altitude_for(Phase.OUTBOUND, attempt)
                    self.airspeed_kias = self.reversal_speed(attempt)
                    if leg is not None and self.outbound_done(attempt):
                        return
                yield bank_deg

    def outbound_done(self, attempt: Attempt) -> bool:
        """Whether the outbound leg is long enough for this pilot."""
        leg, faults = self.procedure.outbound, attempt.faults
        length = leg.length if leg is not None else None
        if faults.reversal_beyond_nm:
            within_nm = self.procedure.reversal.within_nm if self.procedure.reversal else None
            # The pattern itself goes on for about two minutes' worth of a third of the speed.
            ahead_nm = self.aircraft.groundspeed_kt / 60.0
            return self.distance_nm() > (within_nm or 10.0) + faults.reversal_beyond_nm - ahead_nm
        if length is None:
            return True
        if length.dme_nm is not None:
            return self.dme_nm() >= length.dme_nm + faults.outbound_longer_nm
        minutes = length.minutes if length.minutes is not None else 1.0
        return self.aircraft.t_s - self.closest_s >= minutes * 60.0 + faults.outbound_longer_s

    def reversal_speed(self, attempt: Attempt) -> float:
        """Indicated airspeed for the reversal."""
        leg, faster_kt = self.procedure.reversal, attempt.faults.reversal_faster_kt
        if faster_kt and leg is not None and leg.max_speed_kias is not None:
            return leg.max_speed_kias + faster_kt
        return self.plan.approach_kias

    def side(self, attempt: Attempt) -> int:
        """Side of the reversal as this pilot flies it, +1 right."""
        leg = self.procedure.reversal
        published = 1 if leg is not None and leg.side == "right" else -1
        return -published if attempt.faults.wrong_side else published

    def racetrack_course(self, attempt: Attempt, course_deg: float) -> float:
        """First course outbound: 30 degrees into the holding side for an offset entry."""
        return course_deg - 30.0 * self.side(attempt) if attempt.entry == "offset" else course_deg

    def leave_station(self, attempt: Attempt) -> None:
        """Outbound altitude and speed, once past the station."""
        if self.past_station():
            self.altitude_ft = self.altitude_for(Phase.OUTBOUND, attempt)
            self.airspeed_kias = self.reversal_speed(attempt)

    # Back in

    def established(self, line: Line) -> bool:
        """On the course, well enough to descend."""
        distance_nm = max(self.distance_nm(), 0.1)
        off_deg = math.degrees(math.asin(max(-1.0, min(1.0, line.across_nm(self.aircraft) / distance_nm))))
        track_off_deg = within_180_deg(self.aircraft.ground_track_deg - line.course_deg)
        return abs(off_deg) < 3.0 and abs(track_off_deg) < 12.0

    def turn_direction(self, attempt: Attempt, *, parallel: bool = False) -> int:
        """Which way the turn onto the inbound course goes; in a ``parallel`` entry against the pattern's turns."""
        leg = self.procedure.reversal
        side = self.side(attempt)
        if parallel:
            return -side
        if leg is not None and leg.pattern in (Pattern.PROCEDURE_TURN_45_180, Pattern.PROCEDURE_TURN_80_260):
            return side if attempt.faults.no_reversal else -side
        if leg is not None and leg.pattern is Pattern.BASE_TURN:
            # The side is that of the outbound course on which the turn is flown.
            return side
        return side

    def join_inbound(self, attempt: Attempt, *, last: bool, parallel: bool = False) -> Banks:
        """Turn onto the inbound course and fly it: to the station, or until established where final begins."""
        faults = attempt.faults
        published = self.line_inbound()
        far = -math.copysign(1.0, published.across_nm(self.aircraft))
        turned_deg = far * faults.inbound_offset_deg
        line = Line(published.course_deg - turned_deg, published.east_nm, published.north_nm)
        angle_deg = faults.intercept_angle_deg or self.plan.intercept_angle_deg
        came_from = 0.0
        self.note("inbound turn")
        yield from self.helm.turning_onto(self.turn_direction(attempt, parallel=parallel), line, angle_deg)
        if faults.overshoot_nm:
            came_from = math.copysign(1.0, line.across_nm(self.aircraft))
            track_deg = self.helm.track_to_join(line.beside(-came_from * 3.0), angle_deg)
            for bank_deg in self.helm.holding(track_deg):
                turn_nm = self.helm.radius_nm() * (1 - math.cos(math.radians(angle_deg)))
                if -came_from * line.across_nm(self.aircraft) > faults.overshoot_nm - turn_nm:
                    break
                yield bank_deg
        self.watch_station()
        on_course = False
        chased = self.helm.chasing(line, faults.chase_in_cone_deg)
        flown = line.beside(CHASED_FROM_NM) if faults.chase_in_cone_deg else line
        for well_deg in self.helm.following(flown, angle_deg):
            over_station = last and self.procedure.has_intermediate and self.in_cone()
            bank_deg = next(chased) if faults.chase_in_cone_deg and over_station else well_deg
            to_go_nm = -line.along_nm(self.aircraft)
            on_course = on_course or self.established(self.line_inbound())
            if on_course and last and self.procedure.has_intermediate:
                self.altitude_ft = self.altitude_for(Phase.INTERMEDIATE, attempt)
            early_nm = faults.down_before_station_nm
            if early_nm and to_go_nm < early_nm and self.procedure.has_intermediate:
                self.altitude_ft = self.altitude_for(Phase.FINAL, attempt)
            if to_go_nm < 2.0 and last:
                self.airspeed_kias = self.plan.final_kias
            if last and not self.procedure.has_intermediate:
                if on_course or to_go_nm < 2.0:
                    return
            elif self.passing_station() and to_go_nm < 0.0:
                return
            yield bank_deg
