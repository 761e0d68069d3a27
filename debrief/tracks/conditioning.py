"""From a raw track to samples that can be measured: what is odd is found, said and set aside; nothing is mended.

Owns      the order of the steps, and ``condition``, which joins what they found; ``sift`` is its greater part.
Not here  each step (``order``, ``drawn_between``, ``repeats``, ``jumps``, ``bridges``, ``gaps``, ``altitude``, ...), smoothing.

The order matters: samples put on lines between others would hide whatever is odd about those, a receiver's repeats its
speed from the test for jumps, and a wild sample a straight line from the test for bridges.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from debrief.errors import Place, TrackError
from debrief.navigation.units import METRES_PER_NM
from debrief.tracks.altitude import judge_altitude
from debrief.tracks.bridges import find_bridges
from debrief.tracks.clock import look_at_clock
from debrief.tracks.drawn_between import find_drawn_between
from debrief.tracks.drawn_out import drawn_out_s, drawn_out_warnings, on_lines
from debrief.tracks.gaps import find_gaps
from debrief.tracks.headings import look_at_headings
from debrief.tracks.jitter import jitter_warnings, rounding_warnings
from debrief.tracks.jumps import find_jumps
from debrief.tracks.landing import RunwayPlace
from debrief.tracks.model import Conditioned, Gap, PositionErrors, Track
from debrief.tracks.order import put_in_order
from debrief.tracks.points import Bools, Found, Ints, Points, Reasons
from debrief.tracks.repeats import find_repeats
from debrief.tracks.words import counted, lasting

FEWEST_SAMPLES = 10
LONGEST_INTERVAL_S = 60.0  # half a standard-rate circle: which way it turned can no longer be told
MOST_ASTRAY = 0.4  # of all samples; a real log has a few in a thousand

#: Half-width at 95 % across one axis: 8 m radial at 95 % is 3.3 m on each axis, twice that 6.5 m. Source: GPS SPS
#: Performance Standard, 5th edition, April 2020, Table 3.8-3. Mark: seen (2nd hand).
POSITION_BIAS_M = 6.5
#: Half the variance of a satellite position is taken to be the same all along a flight (orbits, the upper air), half to
#: change over a minute (reflections), as of an altitude (``altitude``). Mark: common practice.
WANDER_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sifted:
    """A track whose positions and times were looked at: all of ``condition`` that no procedure bears on."""

    points: Points  # those that can be used
    reasons: Reasons
    segment: Ints
    gaps: tuple[Gap, ...]
    warnings: tuple[str, ...]
    doubtful_columns: frozenset[str]
    other_pace: tuple[tuple[float, float, float], ...]
    drawn_out_s: float | None
    on_lines: Bools


def condition(
    track: Track | Sifted,
    *,
    qnh_hpa: float | None = None,
    altitude_offset_ft: float = 0.0,
    runway: RunwayPlace | None = None,
) -> Conditioned:
    """Find out which samples of a track can be used, and say everything odd about it.

    Parameters
    ----------
    track : as it was read, it is not changed; or sifted already, where it is held against several runways.
    qnh_hpa : where given, altitudes become what an altimeter set to it shows: from the column of pressure
        altitude, else from the altitude itself. [hPa]
    altitude_offset_ft : added to every altitude. [ft]
    runway : where the log's altitude can be held against a known elevation.

    Raises
    ------
    TrackError
        Where fewer than ten samples are left, the median step is longer than a minute, or the positions are no
        flight at all.
    """
    sifted = track if isinstance(track, Sifted) else sift(track)
    points, segment = sifted.points, sifted.segment
    altitude = judge_altitude(points, segment, qnh_hpa=qnh_hpa, offset_ft=altitude_offset_ft, runway=runway)
    return Conditioned(
        track=points.track,
        order=points.index,
        segment=segment,
        altitude_used=altitude.used,
        altitude_ft=altitude.altitude_ft,
        altitude_source=altitude.source,
        altitude_errors=altitude.errors,
        position_errors=_position_errors(points),
        set_aside=tuple(sifted.reasons.tolist()),
        gaps=sifted.gaps,
        median_interval_s=points.interval_s,
        warnings=sifted.warnings + altitude.warnings,
        altitude_offset_ft=altitude.offset_ft,
        altitude_left_ft=altitude.left_ft,
        doubtful_columns=sifted.doubtful_columns,
        other_pace=sifted.other_pace,
        altitude_unit_warnings=altitude.unit_warnings,
        drawn_out_s=sifted.drawn_out_s,
        on_lines=sifted.on_lines,
    )


def _position_errors(points: Points) -> PositionErrors:
    """A receiver's, and the rounding, which stays the same where a coordinate hardly changes."""
    wander_m2 = WANDER_SHARE * (POSITION_BIAS_M / 2.0) ** 2
    constant_m2 = (1.0 - WANDER_SHARE) * (POSITION_BIAS_M / 2.0) ** 2 + (points.rounding_m / 4.0) ** 2
    return PositionErrors(
        constant_nm=float(np.sqrt(constant_m2)) / METRES_PER_NM,
        wander_nm=float(np.sqrt(wander_m2)) / METRES_PER_NM,
    )


def sift(track: Track) -> Sifted:
    """Find out which positions and times of a track can be used; raises as ``condition``."""
    points, found = put_in_order(track)
    reasons = found.reasons.copy()
    warnings, breaks = list(found.warnings), dict[int, str]()

    def take(found: Found, points: Points) -> Points:
        reasons[points.index] = found.reasons
        warnings.extend(found.warnings)
        breaks.update(found.breaks)
        return points.without(found.reasons != "")

    logged = points
    points = take(find_drawn_between(points), points)
    filled_in = len(points) < len(logged)
    points = take(find_repeats(points), points)
    points = take(find_jumps(points), points)
    astray = int(np.isin(reasons, ["spike", "jump"]).sum())
    if astray > MOST_ASTRAY * len(track):
        raise TrackError(
            f"the positions are no flight: {astray:,} of {len(track):,} are out of reach of the others",
            where=Place(path=track.file),
            remedy="Check which columns were taken for latitude, longitude and time.",
        )
    points = take(find_bridges(points, breaks), points)
    if len(points) < FEWEST_SAMPLES:
        of_all = f" of {len(track):,}" if len(points) < len(track) else ""
        raise TrackError(
            f"only {counted(len(points), 'sample')}{of_all} can be used{_why(reasons)}",
            where=Place(path=track.file),
            remedy="A debrief needs a track: export the whole flight.",
        )
    if points.interval_s > LONGEST_INTERVAL_S:
        raise TrackError(
            f"its samples are {lasting(points.interval_s)} apart, too far to see a turn",
            where=Place(path=track.file),
            remedy=f"Record at least every 15 s, or check the times: {LONGEST_INTERVAL_S:.0f} s is the limit.",
        )
    segment, gaps, gap_words = find_gaps(points, breaks, reasons)
    clock, headings = look_at_clock(points), look_at_headings(points)
    drawn = logged if filled_in else points
    every_s = drawn_out_s(drawn)
    if headings.magnetic:
        points = replace(points, track=_with_magnetic_heading(points.track))
    warnings += [
        *gap_words,
        *jitter_warnings(points),
        *rounding_warnings(points),
        *drawn_out_warnings(every_s, drawn.interval_s),
        *clock.words,
        *headings.warnings.values(),
        *([headings.magnetic] if headings.magnetic else []),
    ]
    return Sifted(
        points=points,
        reasons=reasons,
        segment=segment,
        gaps=gaps,
        warnings=tuple(warnings),
        doubtful_columns=frozenset([*(["groundspeed_kt"] if clock.words else []), *headings.warnings]),
        other_pace=clock.other_pace,
        drawn_out_s=every_s,
        on_lines=on_lines(points),
    )


def _with_magnetic_heading(track: Track) -> Track:
    """The same with the heading under the name of the north it counts from; no number changes."""
    names = {"heading_true_deg": "heading_mag_deg"}
    return replace(track, columns={names.get(name, name): values for name, values in track.columns.items()})


def _why(reasons: Reasons) -> str:
    names, numbers = np.unique(reasons[reasons != ""], return_counts=True)
    if not len(names):
        return ""
    return " (" + ", ".join(f"{number:,} {name}" for name, number in zip(names, numbers, strict=True)) + ")"
