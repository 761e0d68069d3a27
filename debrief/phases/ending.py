"""How an approach ends: the climb away, touchdown, broken off, or the end of the log.

Owns      ``find_ending``.
Not here  whether it should have ended there (grading).
Source    DEVELOPERS.md, "Definitions": missed approach and landing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.angles import difference_deg
from debrief.navigation.units import SECONDS_PER_MINUTE
from debrief.phases.events import At, Mask, first_moment, runs
from debrief.phases.model import Floats, StationView

CLIMB_FT = 300.0  # a climb of this much is a climb away
LOWEST_WITHIN_FT = 50.0  # it begins when this much above the lowest altitude is left
MISSED_ENDS_FT = 1000.0
CLIMBING_FT_MIN = 300.0
LEVEL_FT = 30.0  # on the ground the altitude stays within this over LEVEL_S
LEVEL_S = 8
SLOW_KT = 35.0  # slower than this and than that share of the speed on final, and level: a landing run
SLOW_SHARE = 0.5
HIGH_FT = 300.0  # above the runway, the error of the altitude allowed for ...
LASTING_S = 60  # ... an aircraft that slow for so long is on another runway, or its altitude is wrong
SURE_WITHIN_FT = 150.0  # a bias beyond this says nothing about being on the runway
NEAR_ELEVATION_FT = 60.0
STEADY_FT_MIN = 150.0
ON_RUNWAY_NM = 0.15  # beside its centreline
FLOAT_S = 90.0
LONGEST_RUNWAY_NM = 3.0
AWAY_DEG = 90.0  # flying this far off the final course for AWAY_S is no final any more
AWAY_S = 20.0
TURNED_OFF_DEG = 45.0  # off the runway's course, too fast to taxi: no landing run
CIRCLING_NM = 5.0  # farther from the runway circled to, or this much above its minimum, is no circling
CIRCLING_ABOVE_FT = 500.0
FLAG = 0.5
GROUND_S = 10
AVERAGE_S = 3
FINE_S = 0.1
ROLL_S = 25
LONG_ROLL_S = 75  # where no altitude tells of the ground: a long runway is not braked on at once
FIRM_PERCENT = 20
TOUCH_FT = 6.0
BRAKING_KT_S = 1.0
BRAKING_SHARE = 0.75
BRAKING_PAUSE_SHARE = 0.5  # noise makes braking seem to ease, but hardly to less than this
BRAKING_BELOW_FT = 40.0
BRAKING_LATE_S = 15.0
#: On its wheels an aircraft loses a knot a second and more: one that kept its speed still flies, in a long flare or low
#: over the runway, or its altitude is known to the next hundred feet.
FLYING_SHARE, FLYING_LATE_S = 0.92, 30.0
#: Of the speed of the final, in a touch and go; over the runway nobody flies so much slower, and climbs away.
BRAKED_SHARE = 0.75
UNHEARD_BELOW_FT, UNHEARD_LED_S = 300.0, 30.0
SLOWEST_SINK_FT_S = 5.0  # 300 ft/min
#: Below so much a flare is already flown; it takes so much longer than the descent on to the runway. Mark: common practice
FLARE_FT, FLARE_S = 20.0, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """Where final ends and what follows, in seconds since the epoch."""

    how: Literal["landing", "missed approach", "end of log", "broken off"]
    final_end_s: float
    end_s: float
    lowest_ft: float  # nan where no altitude is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """Where an aircraft may circle and still be on this approach: about another runway, not far above its minimum."""

    ground: Ground
    minimum_ft: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What is known about the landing runway, in the station's plane."""

    east_nm: float
    north_nm: float
    course_true_deg: float
    elevation_ft: float
    within_ft: float  # how far off the logged altitude may be
    # of samples with an altitude of 0, as at sea
    zeros_s: Floats = field(default_factory=lambda: np.empty(0))


def find_ending(
    view: StationView,
    at: At,
    start_s: float,
    final_course_deg: float,
    ground: Ground | None,
    on_ground: Floats | None,
    circle: Circle | None = None,
) -> Ending:
    """Follow the flight from the start of its final to where that ends.

    Parameters
    ----------
    on_ground : array like ``view.t_s``, 1 where the log says "on the ground"; ``None`` where it says nothing.
    circle : where the procedure has circling; there, flying off the final course does not end the approach.
    """
    first = int(np.searchsorted(view.t_s, start_s))
    rest = view.where(slice(first, None))
    if not len(rest):
        return Ending(how="end of log", final_end_s=start_s, end_s=start_s, lowest_ft=float("nan"))
    altitude = rest.altitude_ft
    lowest = np.fmin.accumulate(altitude)
    with np.errstate(invalid="ignore"):
        climbing = np.flatnonzero(altitude > lowest + CLIMB_FT)
    climb = int(climbing[0]) if len(climbing) else len(rest)
    away = np.abs(difference_deg(rest.ground_track_deg, final_course_deg)) > AWAY_DEG
    away &= rest.groundspeed_kt > SLOW_KT  # and does not taxi
    if circle is not None:
        away &= ~_circling(rest, circle)
    off = _first_long(away, rest, AWAY_S)
    flags = None if on_ground is None else on_ground[first:]
    grounds = [place for place in (ground, None if circle is None else circle.ground) if place is not None]
    landed = _landed(
        rest.where(slice(0, min(climb + 1, len(rest)))), grounds, flags, climbs=climb < len(rest)
    )
    if landed is not None and landed <= off:
        return _landing(rest, at, landed, flags, grounds)
    over = None if ground is None or np.isfinite(altitude).any() else _flown_over(rest, ground)
    if over is not None and over < off:
        return Ending(
            how="broken off",
            final_end_s=float(rest.t_s[over]),
            end_s=float(rest.t_s[over]),
            lowest_ft=float("nan"),
        )
    if off < climb and not _low(altitude, off, climb):
        return Ending(
            how="broken off",
            final_end_s=float(rest.t_s[off]),
            end_s=float(rest.t_s[off]),
            lowest_ft=float(lowest[off]),
        )
    if climb < len(rest):
        return _missed(rest, at, climb, float(lowest[climb]))
    last = float(rest.t_s[-1])
    return Ending(how="end of log", final_end_s=last, end_s=last, lowest_ft=float(lowest[-1]))


def _flown_over(rest: StationView, ground: Ground) -> int | None:
    """Index of the moment over the threshold, where the aircraft flies on beyond the runway or turns off past it.

    ``None`` where it does neither.

    Without altitudes nothing else tells that it went around.
    """
    along_nm = _from_threshold_nm(rest, ground)[0]
    beside_deg = np.abs(difference_deg(rest.ground_track_true_deg, ground.course_true_deg))
    turned = (along_nm > 0.0) & (beside_deg > TURNED_OFF_DEG)
    past = np.flatnonzero(((along_nm > LONGEST_RUNWAY_NM) | turned) & (rest.groundspeed_kt > SLOW_KT))
    before = np.flatnonzero(along_nm[: past[0]] < 0.0) if len(past) else past
    # across the runway's course, as in circling to it, nobody comes over its threshold
    over = int(before[-1]) + 1 if len(before) else None
    return over if over is not None and beside_deg[over] <= TURNED_OFF_DEG else None


def _from_threshold_nm(view: StationView, ground: Ground) -> tuple[Floats, Floats]:
    """Along the runway from its threshold, and beside its centreline, right positive. [NM]"""
    course = np.radians(ground.course_true_deg)
    east, north = view.east_nm - ground.east_nm, view.north_nm - ground.north_nm
    return east * np.sin(course) + north * np.cos(course), east * np.cos(course) - north * np.sin(course)


def _circling(view: StationView, circle: Circle) -> Mask:
    """Moments near the runway circled to, and low enough to be circling; an unknown altitude is no high one."""
    away_nm = np.hypot(view.east_nm - circle.ground.east_nm, view.north_nm - circle.ground.north_nm)
    with np.errstate(invalid="ignore"):
        high = view.altitude_ft > circle.minimum_ft + CIRCLING_ABOVE_FT
    mask: Mask = (away_nm <= CIRCLING_NM) & ~high
    return mask


def _low(altitude: Floats, off: int, climb: int) -> bool:
    """Whether the turn away belongs to the climb: it follows within the climb's first 300 ft.

    Where the aircraft comes down by more than that after the turn, it was no final that it left.
    """
    if climb >= len(altitude):
        return False
    later_ft = float(np.fmin.reduce(altitude[off : climb + 1]) - np.fmin.reduce(altitude[: off + 1]))
    return abs(later_ft) <= CLIMB_FT


def _missed(rest: StationView, at: At, climb: int, lowest_ft: float) -> Ending:
    low = np.flatnonzero(rest.altitude_ft[: climb + 1] <= lowest_ft + LOWEST_WITHIN_FT)
    last = int(low[-1])
    after = min(last + 1, len(rest) - 1)
    start_s = float(rest.t_s[last])
    if rest.segment[after] == rest.segment[last]:
        start_s = first_moment(
            at, rest.t_s[last], rest.t_s[after], lambda v: v.altitude_ft > lowest_ft + LOWEST_WITHIN_FT
        )
    height_ft = rest.altitude_ft[climb:]
    top_ft = np.fmax.accumulate(height_ft)
    with np.errstate(invalid="ignore"):
        over = np.flatnonzero((height_ft >= lowest_ft + MISSED_ENDS_FT) | (height_ft < top_ft - CLIMB_FT))
    end_s = float(rest.t_s[-1])
    # the lowest altitude may lie in the gap, and be less than any that was seen
    hides_the_lowest = bool(rest.segment[climb] != rest.segment[last])
    if len(over) or hides_the_lowest:
        ends_ft = lowest_ft + MISSED_ENDS_FT
        highest_ft = float(top_ft[over[0]] if len(over) else top_ft[-1])
        if highest_ft < ends_ft:  # it levelled off lower, and came down again
            ends_ft = highest_ft - LOWEST_WITHIN_FT
        high = climb + int(np.argmax(top_ft >= ends_ft))
        end_s = float(rest.t_s[high])
        if rest.segment[high - 1] == rest.segment[high]:
            end_s = first_moment(at, rest.t_s[high - 1], rest.t_s[high], lambda v: v.altitude_ft >= ends_ft)
        else:
            end_s = _climbed_in_the_gap(rest, high, ends_ft)
    return Ending(how="missed approach", final_end_s=start_s, end_s=end_s, lowest_ft=lowest_ft)


def _climbed_in_the_gap(rest: StationView, seen: int, ends_ft: float) -> float:
    """When the aircraft came through an altitude in the gap before it is seen above it.

    It went on climbing as it did before the gap; where it did not climb yet, evenly from one edge to the other.
    """
    before_s, after_s = float(rest.t_s[seen - 1]), float(rest.t_s[seen])
    to_climb_ft = ends_ft - float(rest.altitude_ft[seen - 1])
    ft_s = float(rest.vertical_speed_ft_min[seen - 1]) / SECONDS_PER_MINUTE
    if not ft_s > CLIMBING_FT_MIN / SECONDS_PER_MINUTE:
        ft_s = float(rest.altitude_ft[seen] - rest.altitude_ft[seen - 1]) / (after_s - before_s)
    return min(before_s + to_climb_ft / ft_s, after_s) if to_climb_ft > 0.0 and ft_s > 0.0 else after_s


def _first_long(mask: Mask, view: StationView, seconds: float) -> int:
    """Index at which ``mask`` begins to hold for at least ``seconds``; the length where it never does."""
    for a, b in runs(mask, view.segment):
        if view.t_s[b - 1] - view.t_s[a] >= seconds:
            return a
    return len(view)


def _landed(
    view: StationView, grounds: Sequence[Ground], on_ground: Floats | None, *, climbs: bool
) -> int | None:
    """Index of a moment surely on the ground, the earliest found; ``None`` where there is none.

    ``climbs``: the aircraft climbs where the view ends. If it never slowed before, it only came low over the runway.
    """
    candidates = []
    if on_ground is not None:
        flagged = np.flatnonzero(on_ground[: len(view)] > FLAG)
        if len(flagged):
            candidates.append(int(flagged[0]))
    if len(view) > LEVEL_S:
        height = np.lib.stride_tricks.sliding_window_view(view.altitude_ft, LEVEL_S)
        with np.errstate(invalid="ignore"):
            level = (np.max(height, axis=1) - np.min(height, axis=1)) < LEVEL_FT
        slow = _slowly(view, grounds)[: len(level)]
        unknown = np.isnan(view.altitude_ft[: len(level)])
        rolling = [int(i) for i in np.flatnonzero(slow & (level | unknown))[:1]]
        candidates += rolling
        for ground in grounds:
            # level just over the runway may still be a float: nothing lower comes after the wheels touch
            lowest_ft = np.min(view.altitude_ft, initial=np.inf, where=np.isfinite(view.altitude_ft))
            down = np.max(height, axis=1) - lowest_ft < LEVEL_FT
            low = np.flatnonzero(level & down & _on_runway(view, ground)[: len(level)])
            over = [] if climbs and _keeps_its_speed(view, low) else [int(i) for i in low[:1]]
            floating = bool(over and rolling) and 0 < view.t_s[rolling[0]] - view.t_s[over[0]] < FLOAT_S
            candidates += [] if floating else over
            if climbs and not over:
                candidates += _brakes_on(view, ground)
    return min(candidates, default=None)


def _brakes_on(view: StationView, ground: Ground) -> list[int]:
    """The first moment at which the aircraft, no higher over the runway than an altitude errs, has braked; none where it never has.

    A touch and go may be over before the altitude has levelled, or be logged too high for ``_on_runway`` throughout.
    """
    along, across = _from_threshold_nm(view, ground)
    lowest_ft = float(np.fmin.reduce(view.altitude_ft, initial=np.inf))
    over = (np.abs(across) <= ON_RUNWAY_NM) & (along > -0.1) & (along < LONGEST_RUNWAY_NM)
    if not over.any() or not abs(lowest_ft - ground.elevation_ft) <= SURE_WITHIN_FT:
        return []
    first = int(np.argmax(over))
    before_kt = view.groundspeed_kt[max(first - int(FLYING_LATE_S), 0) : first]
    if not len(before_kt):
        return []
    with np.errstate(invalid="ignore"):
        low = over & (view.altitude_ft < lowest_ft + LEVEL_FT)
    braked = low & (view.groundspeed_kt < BRAKED_SHARE * float(np.median(before_kt)))
    return [int(i) for i in np.flatnonzero(braked)[:1]]


def _keeps_its_speed(view: StationView, low: NDArray[np.int64]) -> bool:
    """Whether the aircraft is as fast at all these moments, and some seconds on, as it was before the first of them."""
    before_kt = (
        view.groundspeed_kt[max(int(low[0]) - int(FLYING_LATE_S), 0) : int(low[0])] if len(low) else low
    )
    if not len(before_kt):
        return False
    slowest_kt = float(np.min(_mean_ahead(view.groundspeed_kt, LEVEL_S)[low]))
    return slowest_kt >= FLYING_SHARE * float(np.median(before_kt))


def _slowly(view: StationView, grounds: Sequence[Ground]) -> Mask:
    """Moments from which the aircraft moves, for some seconds, too slowly to fly at the speed of its final.

    High above the runway only what lasts is slow: noise makes a steady flight against the wind seem to stop for a while.
    A gap may leave nothing of the final's speed: who moves slowly near the ground has landed.
    """
    speed_kt = view.groundspeed_kt
    early_kt = speed_kt[: max(LEVEL_S, len(view) // 3)]
    flying_kt = early_kt[early_kt > SLOW_SHARE * np.max(early_kt)]
    most_kt = min(SLOW_KT, SLOW_SHARE * float(np.median(flying_kt)))
    with np.errstate(invalid="ignore"):
        lowest_ft = np.fmin.reduce(
            [view.altitude_ft - ground.elevation_ft - ground.within_ft for ground in grounds]
            or [np.full(len(view), -np.inf)]
        )
        high, known = lowest_ft > HIGH_FT, np.isfinite(view.altitude_ft)
    if np.max(speed_kt) < SLOW_KT and known.any() and grounds and not high[known].any():
        most_kt = SLOW_KT
    slow: Mask = _mean_ahead(speed_kt, LEVEL_S) < most_kt
    slow &= ~high | (_mean_ahead(speed_kt, LASTING_S) < most_kt)
    return slow


def _mean_ahead(values: Floats, entries: int) -> Floats:
    """The mean from each entry on, over so many or to the end."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    first = np.arange(len(values))
    last = np.minimum(first + entries, len(values))
    return np.asarray((total[last] - total[first]) / (last - first), dtype=np.float64)


def _on_runway(view: StationView, ground: Ground) -> Mask:
    along, across = _from_threshold_nm(view, ground)
    with np.errstate(invalid="ignore"):
        low = np.abs(view.altitude_ft - ground.elevation_ft) <= np.clip(
            ground.within_ft, NEAR_ELEVATION_FT, SURE_WITHIN_FT
        )
        steady = np.abs(view.vertical_speed_ft_min) < STEADY_FT_MIN
    mask: Mask = (
        (np.abs(across) <= ON_RUNWAY_NM) & (along > -0.1) & (along < LONGEST_RUNWAY_NM) & low & steady
    )
    return mask


def _landing(
    rest: StationView, at: At, sure: int, on_ground: Floats | None, grounds: Sequence[Ground]
) -> Ending:
    """Touchdown and the landing run that follows, to the end of the log or to the next take-off."""
    run = rest.altitude_ft[sure : sure + LEVEL_S]
    level_ft = float(np.nanmedian(run)) if np.isfinite(run).any() else float("nan")
    touchdown_s = float(rest.t_s[sure])
    if on_ground is None or not on_ground[sure] > FLAG:
        touchdown_s = _braking(rest, at, sure, level_ft, _level_reached(rest, at, sure, level_ft))
        unheard_s = _unheard(rest, sure, grounds[0]) if grounds else None
        touchdown_s = touchdown_s if unheard_s is None else unheard_s
    end_s = float(rest.t_s[-1])
    with np.errstate(invalid="ignore"):
        airborne = np.flatnonzero(rest.altitude_ft[sure:] > level_ft + CLIMB_FT)
    if len(airborne):
        on_it = np.flatnonzero(rest.altitude_ft[sure : sure + int(airborne[0])] <= level_ft + TOUCH_FT)
        end_s = float(rest.t_s[sure + int(on_it[-1])]) if len(on_it) else touchdown_s
    heard_ft = rest.altitude_ft[: sure + 1][np.isfinite(rest.altitude_ft[: sure + 1])]
    lowest_ft = float(np.min(heard_ft)) if np.isnan(level_ft) and len(heard_ft) else level_ft
    return Ending(how="landing", final_end_s=touchdown_s, end_s=max(end_s, touchdown_s), lowest_ft=lowest_ft)


def _unheard(rest: StationView, sure: int, ground: Ground) -> float | None:
    """Touchdown in a log that has 0 for the altitude of an aircraft on the ground; ``None`` where it has not.

    The last altitude heard, and how fast it came down, lead to the runway, at the latest where the zeros begin: at once
    where every sample is as it was received, some time later where the way to them was drawn.
    """
    known = np.flatnonzero(np.isfinite(rest.altitude_ft[: sure + 1]))
    if not len(known):
        return None
    last = int(known[-1])
    last_s, height_ft = float(rest.t_s[last]), float(rest.altitude_ft[last]) - ground.elevation_ft
    zero = ground.zeros_s[(ground.zeros_s >= last_s) & (ground.zeros_s <= rest.t_s[sure] + LEVEL_S)]
    if not len(zero) or height_ft > UNHEARD_BELOW_FT:
        return None
    earlier = known[rest.t_s[known] >= last_s - UNHEARD_LED_S][0]
    led_s = max(last_s - float(rest.t_s[earlier]), 1.0)
    sink_ft_s = float(rest.altitude_ft[earlier] - rest.altitude_ft[last]) / led_s
    flare_s = FLARE_S if height_ft > FLARE_FT else 0.0
    lands_s = last_s + max(height_ft, 0.0) / max(sink_ft_s, SLOWEST_SINK_FT_S) + flare_s
    return min(lands_s, float(zero[0]))


def _level_reached(rest: StationView, at: At, sure: int, level_ft: float) -> float | None:
    """The last moment clearly above the level of the landing run; ``None`` where the altitude does not tell."""
    run = rest.altitude_ft[sure : sure + GROUND_S]
    if np.isnan(level_ft) or np.isnan(rest.altitude_ft[max(sure - GROUND_S, 0) : sure + 1]).any():
        return None
    if np.ptp(run[:LEVEL_S]) > LEVEL_FT:  # a touch and go that was over before it levelled
        return None
    touch_ft = max(TOUCH_FT, float(np.nanmax(run) - np.nanmin(run)))
    above = np.flatnonzero(rest.altitude_ft[: sure + 1] > level_ft + touch_ft)
    if not len(above):
        return None
    i = int(above[-1])
    after = min(i + 1, len(rest) - 1)
    return first_moment(at, rest.t_s[i], rest.t_s[after], lambda v: v.altitude_ft <= level_ft + touch_ft)


def _latest_s(at: At, level_s: float, begin_s: float) -> float:
    """How long after the altitude has levelled the braking may set in and still begin with touchdown."""
    level_kt, begin_kt = at(np.array([level_s, max(begin_s, level_s)])).groundspeed_kt
    return FLYING_LATE_S if begin_kt >= FLYING_SHARE * level_kt else BRAKING_LATE_S


def _braking(rest: StationView, at: At, sure: int, level_ft: float, level_s: float | None) -> float:
    """Where the wheels take up the load: the deceleration of the landing run sets in.

    A flare ends so gently that the altitude alone is some seconds early, and on the ground many logs have none.
    Without a clear run, or far from where the altitude levels, the altitude decides.
    """
    slowing = np.convolve(rest.acceleration_kt_s[: sure + GROUND_S], np.ones(AVERAGE_S) / AVERAGE_S, "same")
    run = max(sure - (ROLL_S if level_s is not None else LONG_ROLL_S), 0)
    roll = float(np.percentile(slowing[run:], FIRM_PERCENT))
    unknown_s = float(rest.t_s[sure]) if level_s is None else level_s
    if not roll < -BRAKING_KT_S:
        return unknown_s
    hardest = run + int(np.argmin(slowing[run : sure + 1]))
    eased = np.flatnonzero(slowing[:hardest] > BRAKING_PAUSE_SHARE * roll)
    begin_s = unknown_s
    if len(eased):
        firm = int(eased[-1]) + 1
        begin_s = float(rest.t_s[firm + int(np.argmax(slowing[firm : hardest + 1] <= BRAKING_SHARE * roll))])
    above_ft = rest.altitude_ft[np.searchsorted(rest.t_s, begin_s)] - level_ft
    if level_s is not None and (
        above_ft > BRAKING_BELOW_FT or begin_s > level_s + _latest_s(at, level_s, begin_s)
    ):
        return level_s
    before = rest.between(begin_s - 2 * AVERAGE_S, begin_s - AVERAGE_S / 2).acceleration_kt_s
    if not len(before):
        return begin_s
    halfway = (float(np.median(before)) + roll) / 2
    moments = np.arange(begin_s - AVERAGE_S, begin_s + 3 * AVERAGE_S, FINE_S)
    slowing = at(moments).acceleration_kt_s
    ahead = np.lib.stride_tricks.sliding_window_view(slowing, round(AVERAGE_S / FINE_S)).mean(axis=1)
    firm_at = np.flatnonzero((slowing[: len(ahead)] <= halfway) & (ahead <= halfway))
    return float(moments[max(int(firm_at[0]) - 1, 0)]) if len(firm_at) else begin_s
