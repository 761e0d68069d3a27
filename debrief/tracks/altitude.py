"""Altitude: which entries can be used, what kind it is, how far off it may be, and the corrections asked for.

Owns      zero, missing and wild altitudes; pressure altitude; the stated uncertainty; corrections.
Not here  finding the landing (``landing``), feet for metres (``mixed_units``), smoothing (``smoothing``), heights above a station (phases).
Source    GPS: 13 m vertical at 95 %, GPS SPS Performance Standard, 5th edition, April 2020, Table 3.8-3.
          Mark: seen (2nd hand). Altimeter: 60 ft at a known elevation, ICAO Doc 8168 Vol I, III-1-3, 3.2.
          Mark: seen (2nd hand). Steps of 100 and 25 ft of reported pressure altitude: Annex 10 Vol IV. Mark: memory.

Nothing is corrected unless asked: the offset measured at a landing is reported, and taken into the uncertainty.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from debrief.language import tr
from debrief.navigation.atmosphere import indicated_altitude_ft
from debrief.tracks.jumps import SHORTEST_LOG, SHORTEST_PIECE, misfits, reached, without_excursions
from debrief.tracks.landing import OnRunway, RunwayPlace, on_runway
from debrief.tracks.middles import spread
from debrief.tracks.mixed_units import mixed_up, slope_words
from debrief.tracks.model import AltitudeErrors, AltitudeSource, Floats
from debrief.tracks.points import FEET_PER_METRE, Bools, Index, Ints, Points, runs_of
from debrief.tracks.words import amount, clock, moment

#: Half-width at 95 % of what may be wrong with every altitude alike. [ft]
BIAS_FT: dict[AltitudeSource, float] = {
    "gps": 13.0 * FEET_PER_METRE,
    "ellipsoid": 106.0
    * FEET_PER_METRE,  # the geoid's greatest distance from it, off southern India. Mark: memory
    "unknown": 13.0 * FEET_PER_METRE,  # most logs without a word about it come from a GPS receiver
    "indicated": 10.0,  # a simulator's altimeter has no error but its rounding (common practice)
    "pressure": 600.0,  # QNH from 991 to 1035 hPa, 27.3 ft for each
}
#: Sources whose altitude comes from satellites; half the variance of such an altitude is taken to be the same all
#: along a flight (orbits, the upper air), half to change over a minute (reflections). Mark: common practice.
SATELLITE: tuple[AltitudeSource, ...] = ("gps", "ellipsoid", "unknown")
SATELLITE_WANDER_FT = float(BIAS_FT["gps"] / 2.0 / np.sqrt(2.0))  # standard deviation
ALTIMETER_CHECK_FT = 60.0
LANDED_FT = 20.0  # the runway's own slope, the wheels below the receiver (common practice)

_LOWEST_FT, _HIGHEST_FT = -1500.0, 60000.0
_ZERO_FT, _ZERO_FT_S = 150.0, 10.0
_NEXT_FT_S = 60.0
_DRAWN_OFF_FT = 3.0  # altitudes on a line, in whole feet or tenths of metres
_DRAWN_FEWEST, _DRAWN_MOST = 4, 120
_DRAWN_FT_S = 0.5
_DRAWN_SURE, _DRAWN_SURE_S = 4, 15.0  # a flare is no such line
_ABOVE_SEA_FT = 30.0
_BELOW_LED_FT = 50.0  # twice a step of 25 ft
_CLIMB_FT_S = 120.0
_BACK_FT_S = 40.0  # coming back from a wild altitude must look like ordinary flight
_STEP_FT = 300.0
_ACCELERATION_FT_S2 = 10.0
_NOISES = 8.0
_FIT_FLOOR_FT = 100.0
_RESET_FT = 15_000.0  # more than any setting, and than feet and metres mixed up below 20,000 ft

_STEPS_FT = (100.0, 50.0, 10.0 * FEET_PER_METRE, 25.0, 10.0, FEET_PER_METRE, 1.0)
_PRESSURE_STEPS_FT = (100.0, 25.0)
_STEP_SHARE, _STEP_SHARE_DRAWN = 0.97, 0.8
_DRAWN_BETWEEN = 4
_COARSE_FT = 11.0
_FEWEST_STEPS = 5
_UNEVEN_SHARE = 0.2
_STEP_NEAR_FT = 1.7  # steps of 25 ft written in whole metres
_SAME_FT = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Altitude:
    """What was found about the altitudes of some points; arrays have one entry a point."""

    used: Bools
    altitude_ft: Floats  # as logged, with the corrections that were asked for
    source: AltitudeSource
    errors: AltitudeErrors
    offset_ft: float | None  # measured on the runway: log less elevation, before any offset asked for
    # the same after it; ``None`` also where the log mixes units, so that no offset mends it
    left_ft: float | None
    warnings: tuple[str, ...]
    unit_warnings: tuple[str, ...] = ()  # those among them about feet and metres that seem to be mixed up


def judge_altitude(
    points: Points,
    segment: Ints,
    *,
    qnh_hpa: float | None,
    offset_ft: float,
    runway: RunwayPlace | None,
) -> Altitude:
    """Find out what the altitudes are good for; the arguments are those of ``conditioning.condition``."""
    logged, source, warnings = _as_asked(points, qnh_hpa)
    used, words = _usable(points, segment, logged, runway)
    warnings += words
    step_ft = altitude_step_ft(logged[used])
    if qnh_hpa is None:
        source, words = _kind(points, logged, used, source, step_ft)
        warnings += words
    if not used.any():
        return Altitude(
            used=used,
            altitude_ft=logged + offset_ft,
            source=source,
            errors=_errors(source, step_ft=0.0),
            offset_ft=None,
            left_ft=None,
            warnings=tuple(warnings),
        )
    landed = on_runway(points, logged, used, runway) if runway else None
    mixed = mixed_up(points, logged, used, landed, runway)
    measured_ft = landed.altitude_ft - runway.elevation_ft if landed and runway else None
    unit_warnings: tuple[str, ...] = ()
    if mixed:
        unit_warnings = (mixed.words,)
    elif landed and runway and measured_ft is not None:
        warnings += _offset_words(points, landed, runway, measured_ft, offset_ft, source)
    else:
        unit_warnings = slope_words(points, logged, used)
    warnings += unit_warnings
    if offset_ft:
        warnings.append(
            tr("{offset_ft:+.0f} ft were added to every altitude, as asked.", offset_ft=offset_ft)
        )
    errors = _errors(source, step_ft)
    if mixed:
        wrong_ft = abs(1.0 - mixed.factor) * float(np.abs(logged[used]).max())
        errors = AltitudeErrors(constant_ft=wrong_ft / 2.0, step_ft=step_ft)
    elif measured_ft is not None:
        errors = _after_landing(errors, measured_ft + offset_ft, landed.noise_ft if landed else 0.0)
    elif offset_ft and source in ("pressure", "ellipsoid"):
        errors = AltitudeErrors(constant_ft=ALTIMETER_CHECK_FT / 2.0, step_ft=step_ft)
    return Altitude(
        used=used,
        altitude_ft=logged + offset_ft,
        source=source,
        errors=errors,
        offset_ft=measured_ft,
        left_ft=None if measured_ft is None or mixed else measured_ft + offset_ft,
        warnings=tuple(warnings),
        unit_warnings=unit_warnings,
    )


def _errors(source: AltitudeSource, step_ft: float) -> AltitudeErrors:
    """What the source alone tells."""
    wander_ft = SATELLITE_WANDER_FT if source in SATELLITE else 0.0
    constant_ft = float(np.sqrt((BIAS_FT[source] / 2.0) ** 2 - wander_ft**2))
    return AltitudeErrors(constant_ft=constant_ft, wander_ft=wander_ft, step_ft=step_ft)


def _after_landing(before: AltitudeErrors, shown_ft: float, noise_ft: float) -> AltitudeErrors:
    """What is left to doubt once the log was read on a runway of known elevation: ``shown_ft`` too high there.

    That reading is the constant error, the wander of those seconds, its noise, and how well the runway is known; the best
    guess of the constant error is that share of it which the constant error has in the variance of the four. An error
    larger than the source's own is believed: the source was named wrongly.
    """
    constant_ft2 = max(before.constant_ft**2, shown_ft**2)
    share = constant_ft2 / (constant_ft2 + before.wander_ft**2 + noise_ft**2 + (LANDED_FT / 2.0) ** 2)
    return AltitudeErrors(
        constant_ft=float(np.sqrt((1.0 - share) * constant_ft2)),
        wander_ft=before.wander_ft,
        bias_ft=share * shown_ft,
        step_ft=before.step_ft,
    )


def _as_asked(points: Points, qnh_hpa: float | None) -> tuple[Floats, AltitudeSource, list[str]]:
    track, warnings = points.track, list[str]()
    logged, source = track.altitude_ft[points.index], track.altitude_source
    if qnh_hpa is None:
        return logged, source, warnings
    column = track.columns.get("pressure_altitude_ft")
    if column is not None and np.isfinite(column[points.index]).any():
        logged, what = column[points.index], tr("the log's pressure altitude")
    elif source in ("pressure", "unknown"):
        what = tr("the log's altitude, taken as pressure altitude,")
    else:
        what = tr(
            "the log's altitude, taken as pressure altitude although the log calls it {source},",
            source=source,
        )
    warnings.append(tr("QNH {qnh_hpa:g} hPa was applied to {what} as asked.", qnh_hpa=qnh_hpa, what=what))
    return indicated_altitude_ft(logged, qnh_hpa), "indicated", warnings


def _usable(
    points: Points, segment: Ints, altitude_ft: Floats, runway: RunwayPlace | None
) -> tuple[Bools, list[str]]:
    track, warnings = points.track, list[str]()
    raw_ft = track.altitude_ft[points.index]
    missing = ~np.isfinite(altitude_ft)
    if (missing | (raw_ft == 0.0)).all():
        said = (
            tr("The log has no altitude: heights, descent and minimum cannot be judged.")
            if missing.all()
            else tr("The log gives altitude 0 throughout: heights, descent and minimum cannot be judged.")
        )
        return np.zeros_like(missing), [said]
    if missing.any():
        warnings.append(
            tr(
                "{samples} ({share:.0f} %) without an altitude, the first at {when}.",
                samples=amount(missing.sum(), "sample"),
                share=100 * missing.mean(),
                when=moment(track, int(points.index[np.argmax(missing)])),
            )
        )
    zero = ~missing & (raw_ft == 0.0) & _false_zero(points, segment, altitude_ft, raw_ft, runway)
    if zero.any():
        warnings.append(
            tr(
                "Altitude is 0 in {samples}, the first at {when}, where the aircraft cannot have been at "
                "sea level: those altitudes are left out.",
                samples=amount(zero.sum(), "sample"),
                when=moment(track, int(points.index[np.argmax(zero)])),
            )
        )
        drawn = _drawn_to_zero(points, segment, altitude_ft, raw_ft, zero)
        if drawn.any():
            warnings.append(
                tr(
                    "{altitudes} beside them, the first at {when}, where the log was drawn straight down to that 0: left out "
                    "too.",
                    altitudes=amount(drawn.sum(), "altitude"),
                    when=moment(track, int(points.index[np.argmax(drawn)])),
                )
            )
            zero |= drawn
    with np.errstate(invalid="ignore"):
        absurd = ~missing & ~zero & ((altitude_ft < _LOWEST_FT) | (altitude_ft > _HIGHEST_FT))
    used = ~(missing | zero | absurd)
    wild, jumps = _wild(points, segment, altitude_ft, used)
    wild |= absurd
    if wild.any():
        where = np.nonzero(wild)[0]
        good = np.nonzero(used & ~wild)[0]
        around = np.interp(points.t_s[where], points.t_s[good], altitude_ft[good]) if len(good) else 0 * where
        worst = int(np.argmax(np.abs(altitude_ft[where] - around)))
        warnings.append(
            tr(
                "{altitudes} far off the flight, the worst at {when}: {altitude_ft:,.0f} ft where about "
                "{around:,.0f} ft were flown; left out.",
                altitudes=amount(len(where), "altitude"),
                when=moment(track, int(points.index[where[worst]])),
                altitude_ft=altitude_ft[where[worst]],
                around=around[worst],
            )
        )
    for before, behind in jumps[:3]:
        warnings.append(
            tr(
                "The altitude jumps by {jump:+,.0f} ft at {when} and stays there, as when an "
                "altimeter is set anew, another source takes over or a hole is filled.",
                jump=altitude_ft[behind] - altitude_ft[before],
                when=moment(track, int(points.index[behind])),
            )
        )
    return used & ~wild, warnings


def _false_zero(
    points: Points, segment: Ints, altitude_ft: Floats, raw_ft: Floats, runway: RunwayPlace | None
) -> Bools:
    """Whether an altitude of exactly 0 has nothing near it to have come from."""
    zero: Bools = np.asarray(raw_ft == 0.0)
    if not zero.any():
        return zero
    others = np.isfinite(altitude_ft) & ~zero
    if not others.any():
        return zero
    near_ft = _ZERO_FT + _ZERO_FT_S * points.interval_s
    if runway and runway.elevation_ft > _ZERO_FT:
        return zero
    if not (np.abs(altitude_ft[others]) < near_ft).any():
        return zero
    false = np.zeros(len(points), dtype=bool)
    if runway and runway.elevation_ft > _ABOVE_SEA_FT:
        false |= _at_the_end_of_a_line(points, segment, altitude_ft, raw_ft, zero)
    known = np.nonzero(np.isfinite(altitude_ft))[0]
    for first, last in zip(*runs_of(zero[known]), strict=True):
        inside = known[first : last + 1]
        for here, beside in ((inside[0], first - 1), (inside[-1], last + 1)):
            if 0 <= beside < len(known) and segment[known[beside]] == segment[here]:
                seconds = abs(points.t_s[known[beside]] - points.t_s[here])
                if abs(altitude_ft[known[beside]]) > _ZERO_FT + _NEXT_FT_S * seconds:
                    false[inside] = True
    return false


def _drawn_to_zero(points: Points, segment: Ints, altitude_ft: Floats, raw_ft: Floats, zero: Bools) -> Bools:
    """The samples beside a false 0 that lie between it and the last altitude received, on a grid drawn between the two.

    The line that the nearest two make reaches 0 before the log does, and so does every sample on that line; where the
    grid has only one sample on it, that one is far below where those before it lead. On the ground it would be a dive.
    """
    drawn = np.zeros(len(points), dtype=bool)
    for _, beside, count in _lines_to_zero(points, segment, altitude_ft, raw_ft, zero):
        drawn[beside[:count]] = True
    return drawn


def _at_the_end_of_a_line(
    points: Points, segment: Ints, altitude_ft: Floats, raw_ft: Floats, zero: Bools
) -> Bools:
    """The zeros to which the log leads straight, without a flare, at a runway that is not at the sea."""
    false = np.zeros(len(points), dtype=bool)
    for run, beside, count in _lines_to_zero(points, segment, altitude_ft, raw_ft, zero):
        if (
            count >= _DRAWN_SURE
            and abs(points.t_s[beside[count - 1]] - points.t_s[beside[0]]) >= _DRAWN_SURE_S
        ):
            false[run] = True
    return false


def _lines_to_zero(
    points: Points, segment: Ints, altitude_ft: Floats, raw_ft: Floats, zero: Bools
) -> Iterator[tuple[slice, Ints, int]]:
    """Each run of zeros, the samples on either side of it, the nearest first, and how many of them lead to it."""
    real = np.nonzero(np.isfinite(altitude_ft) & ~zero)[0]
    for first, last in zip(*runs_of(zero), strict=True):
        before, after = np.searchsorted(real, [first, last])
        sides = (real[max(0, before - _DRAWN_MOST) : before][::-1], real[after : after + _DRAWN_MOST])
        for at, side in zip((first, last), sides, strict=True):
            beside = side[segment[side] == segment[at]]
            seconds = np.abs(points.t_s[beside] - points.t_s[at])
            yield slice(first, last + 1), beside, _on_line_to_zero(seconds, raw_ft[beside])


def _on_line_to_zero(seconds: Floats, altitude_ft: Floats) -> int:
    """How many of the altitudes beside a 0, the nearest first, are drawn towards it; ``seconds`` from it, increasing."""
    if len(seconds) < _DRAWN_FEWEST:
        return 0
    rate_ft_s = np.diff(altitude_ft) / np.diff(seconds)
    if rate_ft_s[0] > _DRAWN_FT_S and altitude_ft[0] <= rate_ft_s[0] * seconds[0] + _DRAWN_OFF_FT:
        off_ft = np.abs(altitude_ft - altitude_ft[0] - rate_ft_s[0] * (seconds - seconds[0]))
        return int(np.argmax(np.append(off_ft, np.inf) > _DRAWN_OFF_FT))
    led_ft = altitude_ft[1] - rate_ft_s[1] * (seconds[1] - seconds[0])
    return int(altitude_ft[0] < led_ft - _BELOW_LED_FT)


def _wild(
    points: Points, segment: Ints, altitude_ft: Floats, used: Bools
) -> tuple[Bools, list[tuple[int, int]]]:
    """Altitudes out of reach or off the line, and the two points of every jump that stays."""
    wild = np.zeros(len(points), dtype=bool)
    good = np.nonzero(used)[0]
    if len(good) < 3:
        return wild, []
    rest = points.without(~used)
    value, t_s, part = altitude_ft[good], rest.t_s, segment[good]
    floor_ft = _FIT_FLOOR_FT + 2 * altitude_step_ft(value)

    def within(start: Index, end: Index, step_ft: float, climb_ft_s: float) -> Bools:
        allowed = step_ft + floor_ft + climb_ft_s * (t_s[end] - t_s[start])
        return np.asarray((np.abs(value[end] - value[start]) <= allowed) | (part[end] != part[start]))

    def back(start: Index, end: Index) -> Bools:
        return within(start, end, 0.0, _BACK_FT_S)

    walk = reached(len(good), lambda i, j: within(i, j, _STEP_FT, _CLIMB_FT_S), back)
    walk = without_excursions(walk, t_s, back)
    sizes = np.bincount(walk.piece[~walk.wild], minlength=int(walk.piece.max()) + 1)
    apart = walk.wild | ((sizes < SHORTEST_PIECE)[walk.piece] & (len(good) >= SHORTEST_LOG))
    wild[good[apart]] = True
    kept = np.nonzero(~apart)[0]
    rest, value, t_s = points.without(~used | wild), value[kept], t_s[kept]

    def off(before: Index, at: Index, after: Index) -> Floats:
        share = (t_s[at] - t_s[before]) / (t_s[after] - t_s[before])
        return np.asarray(value[at] - value[before] - share * (value[after] - value[before]))

    noise_ft = spread(off(*(slice(k, len(kept) - 2 + k) for k in range(3))))

    def excess(before: Index, at: Index, after: Index) -> Floats:
        room_s2 = 0.5 * (t_s[at] - t_s[before]) * (t_s[after] - t_s[at])
        allowed = floor_ft + _NOISES * noise_ft + _ACCELERATION_FT_S2 * room_s2
        return np.asarray(np.abs(off(before, at, after)) / allowed)

    piece = walk.piece[kept] + part[kept]
    wild[good[kept[misfits(rest, piece, excess, longest_s=4.0 * points.interval_s + 2.0)]]] = True
    behind = np.flatnonzero(np.diff(walk.piece[kept]) > 0) + 1
    elsewhere = _elsewhere(value, behind)
    wild[good[kept[elsewhere]]] = True
    behind = kept[behind[~elsewhere[behind - 1] & ~elsewhere[behind]]]
    return wild, [(int(good[i - 1]), int(good[i])) for i in behind]


def _elsewhere(value: Floats, behind: Ints) -> Bools:
    """The pieces between jumps that no altimeter's setting explains, seen from the longest piece: a broken source."""
    starts, ends = [0, *behind.tolist()], [*behind.tolist(), len(value)]
    longest = int(np.argmax(np.subtract(ends, starts)))
    elsewhere = np.zeros(len(value), dtype=bool)
    for pieces, near, far in (
        (range(longest + 1, len(starts)), 0, -1),
        (range(longest - 1, -1, -1), -1, 0),
    ):
        last_ft = value[starts[longest] : ends[longest]][far]
        for k in pieces:
            piece = value[starts[k] : ends[k]]
            if abs(piece[near] - last_ft) > _RESET_FT:
                elsewhere[starts[k] : ends[k]] = True
            else:
                last_ft = piece[far]
    return elsewhere


def altitude_step_ft(altitude_ft: Floats) -> float:
    """Step in which the altitudes come, 0 where none is seen. [ft]

    >>> altitude_step_ft(np.round(np.arange(40) * 0.7) * 25.0 + 1000.0)
    25.0
    """
    for step_ft in _STEPS_FT:
        steps = altitude_ft / step_ft
        whole = np.round(steps)
        near = np.abs(steps - whole) < min(_STEP_NEAR_FT, step_ft / 12) / step_ft
        if not len(near) or near.mean() < _STEP_SHARE_DRAWN or len(np.unique(whole[near])) < _FEWEST_STEPS:
            continue
        if near.mean() < _STEP_SHARE and (near | _drawn_between(steps, near)).mean() < _STEP_SHARE:
            continue
        # an even climb may take just one step a sample; rounding makes uneven steps of it
        moves = np.diff(whole[near])
        if (np.diff(moves) != 0).sum() >= _UNEVEN_SHARE * (moves != 0).sum():
            return step_ft
    return 0.0


def _drawn_between(steps: Floats, near: Bools) -> Bools:
    """A few samples on the way from one step to another: a recorder's own times lie between those of the steps."""
    there = np.flatnonzero(near)
    behind = np.searchsorted(there, np.arange(len(steps)))
    inside = (behind > 0) & (behind < len(there)) & ~near
    before, after = there[np.maximum(behind - 1, 0)], there[np.minimum(behind, len(there) - 1)]
    low, high = np.minimum(steps[before], steps[after]), np.maximum(steps[before], steps[after])
    few = after - before <= _DRAWN_BETWEEN + 1
    between: Bools = inside & few & (steps > low) & (steps < high)
    return between


def _kind(
    points: Points, altitude_ft: Floats, used: Bools, source: AltitudeSource, step_ft: float
) -> tuple[AltitudeSource, list[str]]:
    """Refine what kind of altitude it is."""
    differs = tr("It differs from altitude above the sea by the day's pressure; give the QNH to correct it.")
    column = points.track.columns.get("pressure_altitude_ft")
    if source == "pressure":
        return source, [tr("The log's altitude is pressure altitude. {differs}", differs=differs)]
    if source == "indicated" or not used.any():
        return source, []
    if column is not None and np.ptp(altitude_ft[used]) > ALTIMETER_CHECK_FT:
        apart = np.abs(column[points.index][used] - altitude_ft[used])
        if np.isfinite(apart).any() and np.nanpercentile(apart, 90) < _SAME_FT:
            return "pressure", [
                tr("The log's altitude is the same as its pressure altitude. {differs}", differs=differs)
            ]
    if step_ft in _PRESSURE_STEPS_FT:
        words = tr(
            "Altitude comes in steps of {step_ft:.0f} ft, as a transponder reports pressure "
            "altitude, and is taken as that.",
            step_ft=step_ft,
        )
        return "pressure", [f"{words} {differs}"]
    if step_ft > _COARSE_FT:
        return source, [
            tr(
                "Altitude comes in steps of {step_ft:.0f} ft: limits are judged no finer than that.",
                step_ft=step_ft,
            )
        ]
    return source, []


def _offset_words(
    points: Points,
    landed: OnRunway,
    runway: RunwayPlace,
    measured_ft: float,
    asked_ft: float,
    source: AltitudeSource,
) -> list[str]:
    if abs(measured_ft + asked_ft) <= ALTIMETER_CHECK_FT:
        return []
    why = {
        "pressure": tr(", as pressure altitude does"),
        "ellipsoid": tr(", as heights above the ellipsoid do"),
        "gps": tr(", as heights above the ellipsoid or another altimeter setting do"),
    }.get(source, "")
    return [
        (
            tr(
                "On the runway at {when} the log shows {logged:.0f} ft, where the runway is at {runway:.0f} ft: it reads "
                "{off:.0f} ft too high{why}. It is not taken out; to do so run again with "
                "--altitude-offset-ft {offset:.0f}."
                if measured_ft + asked_ft > 0
                else "On the runway at {when} the log shows {logged:.0f} ft, where the runway is at {runway:.0f} ft: it "
                "reads {off:.0f} ft too low{why}. It is not taken out; to do so run again with "
                "--altitude-offset-ft {offset:.0f}.",
                when=clock(points.track, landed.t_s),
                logged=landed.altitude_ft + asked_ft,
                runway=runway.elevation_ft,
                off=abs(measured_ft + asked_ft),
                why=why,
                offset=-measured_ft,
            )
        )
    ]
