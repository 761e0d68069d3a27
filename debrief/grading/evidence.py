"""What in the flight bears out that one finding led to another.

Owns      one function for each kind of evidence: from two findings and the measures to the facts of a sentence.
Not here  which rule leads to which, and the sentences (``links``), the chains (``causes``), measuring (measures).
Source    How much of an effect a cause must account for is common practice; the radii are those of ``navigation``.

Each gives ``None`` where the flight does not bear the link out: then the two findings stand side by side.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from debrief.grading.altitude_breaks import left_before_joined, left_for_next
from debrief.grading.way_back import came_back
from debrief.grading.words import degrees, feet_a_minute, knots, nautical_miles, seconds
from debrief.language import tr
from debrief.measures.scene import Scene
from debrief.measures.station import beside_station_nm
from debrief.navigation.turns import lateral_lead_nm, procedure_radius_nm
from debrief.navigation.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE
from debrief.procedures.model import Pattern, Phase
from debrief.result import Finding, Measures, OutboundMeasures

Facts = dict[str, str]

#: How much of an effect its cause must account for.
_ENOUGH = 0.5
#: The effect goes on where the cause ended, if it begins within so long of that. [s]
_GOES_ON_S = 30.0
#: So much of the limit, and the descent that had passed it is still the same one.
_STILL_STEEP = 0.75
_NEXT_LEG_S = 90.0  # from one leg to the next, the passage of the station between them
_THROUGH_THE_STEP_S = 90.0  # from a step to the minimum below it
_SINKING_S = 60.0  # from the greatest rate of descent to the altitude it broke
_JOINING_S = 60.0  # of the final, where an error of joining the course still shows
_SAME_DESCENT_S = 10.0
_LATE_DESCENT_S = 20.0
_LEG_WITHIN_FT = 150.0  # flown at the altitude of a leg, but for so much
_USUAL_INTERCEPT_DEG = 45.0
#: Patterns of which a published side is that of their turns; the others lie to that side of the course.
_TURNS_TO_THE_SIDE = (Pattern.RACETRACK, Pattern.BASE_TURN)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Situation:
    """What the evidence is taken from."""

    scene: Scene
    measures: Measures

    def t_s(self, moment: datetime) -> float:
        """Seconds since the track's epoch of a date. [s]"""
        return (moment - self.scene.flight.log.track.epoch).total_seconds()


Evidence = Callable[[Situation, Finding, Finding], Facts | None]


def seconds_between(earlier: datetime | None, later: datetime | None) -> float:
    """From one moment to another [s]; ``nan`` where either is not known."""
    return float("nan") if earlier is None or later is None else (later - earlier).total_seconds()


def is_low(finding: Finding) -> bool:
    """Whether its value lies under its limit; not where either is not known."""
    return finding.value is not None and finding.limit is not None and finding.value < finding.limit


# The station


def _aside_nm(at: Situation, turn: Finding) -> float:
    """How far beside the station the track led as the turn began. [NM] ``nan`` where that was not observed."""
    return float("nan") if turn.start is None else beside_station_nm(at.scene, at.t_s(turn.start))


def beside_before_the_turn(at: Situation, missed: Finding, turn: Finding) -> Facts | None:
    """The aircraft was on its way past the station before the turn began."""
    aside_nm = _aside_nm(at, turn)
    if missed.value is None or not aside_nm >= _ENOUGH * missed.value:
        return None
    return {"aside": nautical_miles(aside_nm)}


def turned_away_before(at: Situation, turn: Finding, missed: Finding) -> Facts | None:
    """The aircraft was on its way to the station until the turn began."""
    measured, aside_nm = at.measures.turn, _aside_nm(at, turn)
    if measured is None or measured.lead_nm <= 0 or missed.value is None:
        return None
    return {"lead": nautical_miles(measured.lead_nm)} if aside_nm < _ENOUGH * missed.value else None


def _begins_the_leg(at: Situation, effect: Finding) -> bool:
    """Whether it begins in the first half of the first outbound leg."""
    first = next(iter(at.scene.attempt.spans_of(Phase.OUTBOUND)), None)
    if first is None or effect.start is None:
        return False
    return effect.start <= at.scene.time((first.start_s + first.end_s) / 2.0)


def _first_outbound(at: Situation) -> OutboundMeasures | None:
    circuits = at.measures.earlier_circuits
    return circuits[0].outbound if circuits else at.measures.outbound


def off_to_the_turns_outside(at: Situation, turn: Finding, tracking: Finding) -> Facts | None:
    """A turn begun late ends beyond the radial, one begun early short of it."""
    measured, outbound = at.measures.turn, _first_outbound(at)
    if measured is None or turn.value is None or outbound is None or outbound.deviation_deg is None:
        return None
    early = turn.value > 0
    expected = np.sign(measured.change_deg) * (1.0 if early else -1.0)
    if not _begins_the_leg(at, tracking) or np.sign(outbound.deviation_deg.mean) != expected:
        return None
    return {"off": nautical_miles(abs(turn.value)), "when": tr("early") if early else tr("late")}


def descended_with_the_turn(at: Situation, turn: Finding, low: Finding) -> Facts | None:
    """Turned where it was due, and descended as long after that, the aircraft would have been over the station."""
    if turn.value is None or turn.value <= 0 or turn.start is None:
        return None
    speed_kt = float(at.scene.at(at.t_s(turn.start)).groundspeed_kt[0])
    early_s = turn.value / speed_kt * SECONDS_PER_HOUR if speed_kt > 0 else np.nan
    after_the_turn = seconds_between(turn.start, low.start) >= -_SAME_DESCENT_S
    if not after_the_turn or not seconds_between(low.start, low.end) <= early_s + _SAME_DESCENT_S:
        return None
    return {"off": nautical_miles(turn.value)}


def passed_aside(_: Situation, __: Finding, missed: Finding) -> Facts | None:
    """How far beside the station; that the way there lay beside the course is what the cause says."""
    return None if missed.value is None else {"aside": nautical_miles(missed.value)}


def beside_the_radial_from_the_start(at: Situation, missed: Finding, tracking: Finding) -> Facts | None:
    """The station passed aside, and the leg begun aside of its radial."""
    if missed.value is None or not _begins_the_leg(at, tracking):
        return None
    return {"aside": nautical_miles(missed.value)}


# The reversal


def _narrowed_by_nm(at: Situation) -> float:
    """What the offset outbound took from the reversal's width, where that began; negative where it gave some. [NM]"""
    outbound, leg = at.measures.outbound, at.scene.procedure.reversal
    if outbound is None or outbound.turn_off_cross_track_nm is None or leg is None:
        return 0.0
    pattern_side = 1.0 if leg.side == "right" else -1.0
    narrow_side = pattern_side if leg.pattern in _TURNS_TO_THE_SIDE else -pattern_side
    return narrow_side * outbound.turn_off_cross_track_nm


def narrow(at: Situation, _: Finding, overshoot: Finding) -> Facts | None:
    """The width that was missing accounts for going through the course."""
    narrowed_nm = _narrowed_by_nm(at)
    if overshoot.value is None or narrowed_nm < _ENOUGH * overshoot.value:
        return None
    return {"narrowed": nautical_miles(narrowed_nm)}


def narrow_enough_to_steepen(at: Situation, _: Finding, __: Finding) -> Facts | None:
    """The width that was missing is as much as the turn from 45 degrees takes."""
    outbound = at.measures.outbound
    speeds = outbound.groundspeed_kt if outbound is not None else None
    narrowed_nm, speed_kt = _narrowed_by_nm(at), speeds.mean if speeds is not None else np.nan
    if not narrowed_nm >= float(lateral_lead_nm(speed_kt, _USUAL_INTERCEPT_DEG)):
        return None
    return {"narrowed": nautical_miles(narrowed_nm)}


def _published_kias(at: Situation) -> float | None:
    leg = at.scene.procedure.reversal
    return leg.max_speed_kias if leg is not None else None


def wider_by_speed(at: Situation, fast: Finding, far: Finding) -> Facts | None:
    """The reach beyond the turn off, shortened as turns shrink with the square of the speed, would have fitted."""
    reversal, published_kias = at.measures.course_reversal, _published_kias(at)
    if reversal is None or published_kias is None or fast.value is None or far.value is None:
        return None
    if reversal.max_distance_nm is None or reversal.turn_start_distance_nm is None:
        return None
    reach_nm = reversal.max_distance_nm - reversal.turn_start_distance_nm
    saved_nm = reach_nm * (1.0 - (published_kias / fast.value) ** 2)
    over_nm = far.value - (far.limit or 0.0)
    if not saved_nm >= _ENOUGH * over_nm:
        return None
    return {"speed": knots(fast.value), "published": knots(published_kias), "saved": nautical_miles(saved_nm)}


def larger_turn_by_speed(at: Situation, fast: Finding, overshoot: Finding) -> Facts | None:
    """The radius at that speed, against that at the published one, accounts for going through the course."""
    published_kias = _published_kias(at)
    if published_kias is None or fast.value is None or overshoot.value is None:
        return None
    radius_nm, published_nm = procedure_radius_nm(fast.value), procedure_radius_nm(published_kias)
    over_nm = overshoot.value - (overshoot.limit or 0.0)
    if not radius_nm - published_nm >= _ENOUGH * over_nm:
        return None
    return {
        "speed": knots(fast.value),
        "published": knots(published_kias),
        "radius": nautical_miles(float(radius_nm)),
        "smaller": nautical_miles(float(published_nm)),
    }


def published_length(at: Situation, length: Finding) -> float:
    """What the outbound leg is published as, in the finding's unit; ``nan`` where nothing is. [NM or s]

    A racetrack may give two times: the one that the finding's limit was counted from.
    """
    leg, reversal = at.scene.procedure.outbound, at.scene.procedure.reversal
    extent = leg.length if leg is not None else None
    if length.unit == "NM":
        return extent.dme_nm if extent is not None and extent.dme_nm is not None else float("nan")
    times_s = (
        [SECONDS_PER_MINUTE * extent.minutes] if extent is not None and extent.minutes is not None else []
    )
    if (
        reversal is not None
        and reversal.leg_seconds
        and (reversal.pattern is Pattern.RACETRACK or not times_s)
    ):
        times_s.append(reversal.leg_seconds)
    limit_s = length.limit
    return min(times_s, key=lambda s: abs(s - limit_s) if limit_s is not None else 0.0, default=float("nan"))


def _longer_nm(at: Situation, length: Finding) -> float:
    """Outbound longer (positive) or shorter than published, as a distance. [NM] ``nan`` where not known."""
    if length.value is None:
        return float("nan")
    longer = length.value - published_length(at, length)
    if length.unit == "NM":
        return longer
    speeds = at.measures.outbound.groundspeed_kt if at.measures.outbound is not None else None
    return longer * (speeds.mean if speeds is not None else float("nan")) / SECONDS_PER_HOUR


def begun_farther_out(at: Situation, length: Finding, far: Finding) -> Facts | None:
    """The leg's excess accounts for that of the pattern."""
    longer_nm = _longer_nm(at, length)
    if far.value is None or not longer_nm >= _ENOUGH * (far.value - (far.limit or 0.0)):
        return None
    return {"longer": nautical_miles(longer_nm)}


def shorter_back(at: Situation, length: Finding, _: Finding) -> Facts | None:
    """An outbound leg cut short leaves a short way back."""
    shorter_nm = -_longer_nm(at, length)
    return {"shorter": nautical_miles(shorter_nm)} if shorter_nm > 0 else None


def shorter_to_descend(at: Situation, length: Finding, steep: Finding) -> Facts | None:
    """The same, where the final begins at the end of the reversal: else it begins at the station in any case."""
    return None if at.scene.procedure.has_intermediate else shorter_back(at, length, steep)


def no_room(at: Situation, _: Finding, effect: Finding) -> Facts | None:
    """All of the way in without a reversal; too high for want of room, but not too low."""
    if effect.rule == "descent_rate" and not _final_begins_high(at):
        return None
    return None if effect.unit == "ft" and is_low(effect) else {}


def _final_begins_high(at: Situation) -> bool:
    """Whether the final began above what is published for the legs before it: that height a reversal takes off."""
    lowest_ft, final = _lowest_before_final_ft(at), at.scene.span(Phase.FINAL)
    if lowest_ft is None or final is None:
        return False
    return bool(at.scene.at(final.start_s).altitude_ft[0] > lowest_ft + _LEG_WITHIN_FT)


def down_to_a_later_leg(at: Situation, _: Finding, low: Finding) -> Facts | None:
    """Low on the inbound leg, but not below what is published from the reversal to the final."""
    lowest_ft = _lowest_before_final_ft(at)
    if lowest_ft is None or low.value is None or not is_low(low):
        return None
    return {} if low.value >= lowest_ft - _LEG_WITHIN_FT else None


def _lowest_before_final_ft(at: Situation) -> float | None:
    """The lowest altitude that is published from the reversal to the final."""
    legs = [at.scene.procedure.leg_of(phase) for phase in (Phase.COURSE_REVERSAL, Phase.INTERMEDIATE)]
    published_ft = [leg.altitude.low_ft for leg in legs if leg is not None and leg.altitude is not None]
    return min((low_ft for low_ft in published_ft if low_ft is not None), default=None)


# Back to the course


def begun_on_the_way_in(at: Situation, low: Finding) -> bool:
    """Whether an altitude of the reversal was left for that of the next leg before the course was joined."""
    if low.start is None or low.end is None or not is_low(low):
        return False
    return left_before_joined(at.scene, at.t_s(low.start), at.t_s(low.end))


def left_too_early(at: Situation, low: Finding) -> bool:
    """Whether a leg's altitude was kept at first, and left for that of the next leg before its end."""
    if low.start is None or low.end is None or low.phase is None or not is_low(low):
        return False
    return left_for_next(at.scene, Phase(low.phase), at.t_s(low.start), at.t_s(low.end))


def let_down_beyond(at: Situation, overshoot: Finding, low: Finding) -> Facts | None:
    """The descent that should have waited for the course, begun when the course had been flown through."""
    begun_beyond = seconds_between(overshoot.start, low.start) >= 0.0
    return {} if begun_beyond and begun_on_the_way_in(at, low) else None


def steeper_takes_more(at: Situation, steep: Finding, overshoot: Finding) -> Facts | None:
    """The turn from that angle takes so much more room than from 45 degrees that it accounts for going through."""
    if steep.value is None or overshoot.value is None or overshoot.start is None:
        return None
    speed_kt = float(at.scene.at(at.t_s(overshoot.start)).groundspeed_kt[0])
    more_nm = float(
        lateral_lead_nm(speed_kt, min(steep.value, 90.0)) - lateral_lead_nm(speed_kt, _USUAL_INTERCEPT_DEG)
    )
    if not more_nm >= _ENOUGH * (overshoot.value - (overshoot.limit or 0.0)):
        return None
    return {"angle": degrees(steep.value), "more": nautical_miles(more_nm)}


def _came_back(at: Situation, never: Finding) -> bool:
    """Whether an aircraft that never was established flew back at the course after it had crossed it last."""
    if never.start is None or never.end is None:
        return False
    return came_back(at.scene, at.t_s(never.start), at.t_s(never.end))


def through_and_back_late(at: Situation, overshoot: Finding, never: Finding) -> Facts | None:
    """Through the course and on the way back to it."""
    if overshoot.value is None or not _came_back(at, never):
        return None
    return {"over": nautical_miles(overshoot.value)}


def never_back(at: Situation, never: Finding, overshoot: Finding) -> Facts | None:
    """Beside the course all the way: the overshoot is the same thing seen once more."""
    if overshoot.value is None or _came_back(at, never):
        return None
    return {"over": nautical_miles(overshoot.value)}


def steep_and_never_on_it(_: Situation, steep: Finding, __: Finding) -> Facts | None:
    """Met steeply, and not joined."""
    return {"angle": degrees(steep.value)} if steep.value is not None else None


def just_after(_: Situation, cause: Finding, effect: Finding) -> Facts | None:
    """The effect begins where the cause ends, or while it lasts."""
    return {} if seconds_between(cause.end, effect.start) <= _GOES_ON_S else None


def from_the_beginning_of_final(at: Situation, cause: Finding, effect: Finding) -> Facts | None:
    """Beside the course as the final begins, or before it, and soon after the cause."""
    final = at.scene.span(Phase.FINAL)
    if final is None or effect.start is None or not seconds_between(cause.end, effect.start) <= _JOINING_S:
        return None
    return {} if seconds_between(at.scene.time(final.start_s), effect.start) <= _JOINING_S else None


def went_out_with_it(_: Situation, away: Finding, tracking: Finding) -> Facts | None:
    """The needle went beyond the tolerance on the same leg, during the cause or just after it."""
    late_s = seconds_between(away.end, tracking.start)
    return {} if away.phase == tracking.phase and late_s <= _GOES_ON_S else None


# Heights


def same_descent(_: Situation, cause: Finding, effect: Finding) -> Facts | None:
    """Two limits broken at one moment."""
    return {} if abs(seconds_between(cause.start, effect.start)) <= _SAME_DESCENT_S else None


def already_low(at: Situation, cause: Finding, effect: Finding) -> Facts | None:
    """Low some time before, and still low there."""
    earlier = seconds_between(cause.start, effect.start) > _SAME_DESCENT_S
    return just_after(at, cause, effect) if earlier and is_low(cause) else None


def still_low(_: Situation, cause: Finding, effect: Finding) -> Facts | None:
    """Low, and low again as the next limit came to hold."""
    if not (is_low(cause) and is_low(effect)):
        return None
    return {} if seconds_between(cause.end, effect.start) <= _NEXT_LEG_S else None


def still_low_there(at: Situation, cause: Finding, effect: Finding) -> Facts | None:
    """The same, on another leg, after the descent that began too early."""
    return still_low(at, cause, effect) if cause.phase != effect.phase else None


def through_the_step(_: Situation, step: Finding, minimum: Finding) -> Facts | None:
    """The minimum broken soon after the step."""
    soon = seconds_between(step.end, minimum.start) <= _THROUGH_THE_STEP_S
    return {} if soon and is_low(minimum) else None


def through_both_steps(_: Situation, step: Finding, later: Finding) -> Facts | None:
    """A later step broken soon after an earlier one."""
    if step.start is None or later.start is None or not step.start < later.start:
        return None
    return {} if seconds_between(step.end, later.start) <= _THROUGH_THE_STEP_S else None


def sank_through(_: Situation, rate: Finding, broken: Finding) -> Facts | None:
    """A limit broken soon after the greatest rate of descent."""
    until_s = seconds_between(rate.start, broken.start)
    if rate.value is None or not (is_low(broken) and 1.0 <= until_s <= _SINKING_S):
        return None
    return {"rate": feet_a_minute(rate.value), "later": seconds(until_s)}


def sank_through_at_once(_: Situation, rate: Finding, broken: Finding) -> Facts | None:
    """A limit broken as the greatest rate of descent was reached."""
    if rate.value is None or not (is_low(broken) and seconds_between(rate.start, broken.start) < 1.0):
        return None
    return {"rate": feet_a_minute(rate.value)}


def late_to_descend(at: Situation, _: Finding, __: Finding) -> Facts | None:
    """The descent begins some time after the final does."""
    final, span = at.measures.final, at.scene.span(Phase.FINAL)
    if final is None or span is None:
        return None
    late_s = seconds_between(at.scene.time(span.start_s), final.descent_start)
    return {"late": seconds(late_s)} if late_s >= _LATE_DESCENT_S else None


def still_sinking(at: Situation, steep: Finding, unstable: Finding) -> Facts | None:
    """A gate failed because of the rate, in the descent that was at its steepest before it or is after it."""
    said = gate_says("rate")
    if said(at, steep, unstable) is not None or said(at, unstable, unstable) is None:
        return said(at, steep, unstable)
    if steep.end is None or unstable.start is None:
        return None
    between = at.scene.over(at.t_s(steep.end), at.t_s(unstable.start))
    slowest_ft_min = -float(np.nanmax(between.vertical_speed_ft_min)) if len(between) else float("nan")
    return {} if slowest_ft_min >= _STILL_STEEP * (steep.limit or np.inf) else None


def gate_says(*limits: str) -> Evidence:
    """A gate failed because one of these was outside its limit, the cause lying below it."""

    def evidence(at: Situation, cause: Finding, unstable: Finding) -> Facts | None:
        final = at.measures.final
        failed = [gate for gate in final.gates if gate.stable is False] if final is not None else []
        said = any(limit in gate.outside for gate in failed for limit in limits)
        return {} if said and seconds_between(unstable.start, cause.end) >= 0.0 else None

    return evidence
