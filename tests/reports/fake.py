"""Results with the flight behind them, made by hand: a 45/180 drawn with arcs and straights.

Nothing here is measured. The numbers are plausible, and wherever a report would have to be wide, long or
empty there is a switch for it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from debrief.navigation.geodesy import StationPlane
from debrief.phases.model import Flight, FoundAttempt, Noise, NotSeen, Passage, Span, StationView, Turn
from debrief.procedures.model import Phase, Procedure
from debrief.result import (
    Attempt,
    Candidate,
    FinalMeasures,
    Finding,
    GapInfo,
    Gate,
    Grade,
    GradeItem,
    Intercept,
    LegMeasures,
    LimitBreak,
    Measures,
    MissedMeasures,
    MomentName,
    NotSeenInfo,
    OutboundMeasures,
    PhaseSpan,
    ProcedureInfo,
    Range,
    Result,
    ReversalMeasures,
    Shown,
    Spread,
    StandardInfo,
    StationPassage,
    StationTurn,
    TrackInfo,
    TurnInfo,
    Wind,
)
from debrief.tracks.model import AltitudeErrors, Conditioned, Gap, PositionErrors, Track

Floats = NDArray[np.float64]

EPOCH = datetime(2026, 5, 4, 18, 40, 0, 250_000, tzinfo=UTC)
OUTBOUND_TRUE_DEG = 33.0
STEP_NM = 0.01
TURN_NM = 0.62

PROCEDURE = Procedure.model_validate(
    {
        "format": 1,
        "name": "Lantern VOR/DME runway 22",
        "note": "Invented for practice. Not for navigation.",
        "station": {
            "ident": "LQN",
            "kind": "VOR/DME",
            "latitude": 47.1842,
            "longitude": -31.1766,
            "elevation_ft": 310,
            "declination_deg": -11.0,
        },
        "runway": {
            "ident": "22",
            "latitude": 47.11433,
            "longitude": -31.24305,
            "elevation_ft": 182,
            "course_true_deg": 213.0,
        },
        "leg": [
            {"phase": "inbound", "altitude": {"at_or_above_ft": 3500}},
            {
                "phase": "outbound",
                "radial_deg": 44,
                "length": {"dme_nm": 5.0},
                "altitude": {"at_or_above_ft": 2800},
            },
            {
                "phase": "course_reversal",
                "pattern": "45/180",
                "side": "left",
                "within_nm": 10,
                "leg_seconds": 60,
                "max_speed_kias": 200,
                "altitude": {"at_or_above_ft": 2300},
            },
            {"phase": "intermediate", "course_deg": 224, "altitude": {"at_or_above_ft": 1800}},
            {
                "phase": "final",
                "course_deg": 224,
                "altitude": {"at_or_above_ft": 620},
                "step_down": [{"until_dme_nm": 2.0, "at_or_above_ft": 1100}],
                "missed_approach_point": {"dme_nm": 4.6},
                "descent_angle_deg": 3.0,
            },
        ],
    }
)


@dataclass(frozen=True)
class _Leg:
    phase: Phase
    turn_deg: float  # right positive; 0 flies straight
    length_nm: float  # of the straight
    groundspeed_kt: float
    altitude_ft: float  # at its end


LEGS = (
    _Leg(Phase.INBOUND, 0.0, 13.0, 128.0, 3600.0),
    _Leg(Phase.STATION_PASSAGE, 0.0, 1.1, 126.0, 3560.0),
    _Leg(Phase.OUTBOUND, 0.0, 4.9, 112.0, 2900.0),
    _Leg(Phase.COURSE_REVERSAL, -45.0, 0.0, 112.0, 2860.0),
    _Leg(Phase.COURSE_REVERSAL, 0.0, 1.8, 110.0, 2500.0),
    _Leg(Phase.COURSE_REVERSAL, 180.0, 0.0, 118.0, 2320.0),
    _Leg(Phase.COURSE_REVERSAL, 0.0, 0.6, 128.0, 2310.0),  # two radii less than the leg out
    _Leg(Phase.COURSE_REVERSAL, 45.0, 0.0, 126.0, 2190.0),
    _Leg(Phase.INTERMEDIATE, 0.0, 6.9, 124.0, 1840.0),
    _Leg(Phase.STATION_PASSAGE, 0.0, 0.5, 122.0, 1800.0),
    _Leg(Phase.FINAL, 0.0, 2.6, 118.0, 600.0),
    _Leg(Phase.FINAL, 0.0, 1.7, 112.0, 590.0),
    _Leg(Phase.MISSED_APPROACH, 0.0, 3.0, 100.0, 1700.0),
)


@dataclass(frozen=True)
class _Path:
    t_s: Floats
    east_nm: Floats
    north_nm: Floats
    altitude_ft: Floats
    spans: tuple[Span, ...]
    turns: tuple[Turn, ...]


def _attempt_path(start_s: float, aside_nm: float) -> _Path:
    """Arcs and straights one after the other, along the outbound radial, resampled once a second."""
    heading_deg, x_nm, y_nm, t_s, altitude_ft = OUTBOUND_TRUE_DEG, 0.0, 0.0, start_s, 4200.0
    times, xs, ys, heights = [t_s], [x_nm], [y_nm], [altitude_ft]
    spans: list[Span] = []
    turns: list[Turn] = []
    for leg in LEGS:
        began_s, from_ft = t_s, altitude_ft
        long_nm = abs(np.radians(leg.turn_deg)) * TURN_NM if leg.turn_deg else leg.length_nm
        steps = max(round(long_nm / STEP_NM), 1)
        for step in range(steps):
            heading_deg += leg.turn_deg / steps
            x_nm += long_nm / steps * np.sin(np.radians(heading_deg))
            y_nm += long_nm / steps * np.cos(np.radians(heading_deg))
            t_s += long_nm / steps / leg.groundspeed_kt * 3600.0
            altitude_ft = from_ft + (leg.altitude_ft - from_ft) * (step + 1) / steps
            times.append(t_s)
            xs.append(x_nm)
            ys.append(y_nm)
            heights.append(altitude_ft)
        if spans and spans[-1].phase == leg.phase:
            spans[-1] = replace(spans[-1], end_s=t_s)
        else:
            spans.append(Span(phase=leg.phase, start_s=began_s, end_s=t_s))
        if leg.turn_deg:
            turns.append(Turn(start_s=began_s, end_s=t_s, change_deg=leg.turn_deg))
    grid = np.arange(start_s, t_s, 1.0)
    first = spans[1]
    middle_s = (first.start_s + first.end_s) / 2
    right = np.radians(OUTBOUND_TRUE_DEG + 90.0)
    wander = 0.03 * np.sin(grid / 41.0) + aside_nm
    east = np.interp(grid, times, xs) - np.interp(middle_s, times, xs) + wander * np.sin(right)
    north = np.interp(grid, times, ys) - np.interp(middle_s, times, ys) + wander * np.cos(right)
    high = np.interp(grid, times, heights) + 12.0 * np.sin(grid / 17.0)
    return _Path(grid, east, north, high, tuple(spans), tuple(turns))


def _view(
    t_s: Floats, east: Floats, north: Floats, altitude_ft: Floats, segment: NDArray[np.int64]
) -> StationView:
    metres = np.array([east, north]) * 1852.0
    velocity = np.gradient(metres, t_s, axis=1)
    height_m = altitude_ft * 0.3048
    return StationView(
        t_s=t_s,
        segment=segment,
        motion_m=np.concatenate([metres, velocity, np.gradient(velocity, t_s, axis=1)]),
        height_m=np.array([height_m, np.gradient(height_m, t_s)]),
        station=PROCEDURE.station,
    )


@dataclass(frozen=True)
class _At:
    whole: StationView
    gaps: tuple[tuple[float, float], ...]

    def __call__(self, t_s: Floats) -> StationView:
        t_s = np.atleast_1d(np.asarray(t_s, dtype=np.float64))
        known = self.whole.t_s
        out = (t_s < known[0]) | (t_s > known[-1])
        segment = np.zeros(len(t_s), dtype=np.int64)
        for number, (start_s, end_s) in enumerate(self.gaps, start=1):
            segment[t_s >= end_s] = number
            out |= (t_s > start_s) & (t_s < end_s)
        segment[out] = -1

        def between(row: Floats) -> Floats:
            return np.where(out, np.nan, np.interp(t_s, known, row))

        return StationView(
            t_s=t_s,
            segment=segment,
            motion_m=np.array([between(row) for row in self.whole.motion_m]),
            height_m=np.array([between(row) for row in self.whole.height_m]),
            station=self.whole.station,
        )


def flight(
    *,
    attempts: int = 1,
    gap: bool = False,
    altitude: bool = True,
    approach: bool = True,
    before_s: float = 600.0,
    procedure: Procedure = PROCEDURE,
) -> Flight:
    """A flight of some attempts, with an arrival before them and the way back round between them."""
    start_s = before_s
    paths = []
    for number in range(attempts):
        paths.append(_attempt_path(start_s, 0.05 * (number - 1)))
        start_s = float(paths[-1].t_s[-1]) + 420.0
    t_s = np.arange(0.0, float(paths[-1].t_s[-1]) + 120.0, 1.0)
    known = np.concatenate([path.t_s for path in paths])
    lead_in = [-before_s * 110.0 / 3600.0, *np.concatenate([path.east_nm for path in paths]), 3.0]
    north_in = [-25.0, *np.concatenate([path.north_nm for path in paths]), -6.0]
    heights = [5200.0, *np.concatenate([path.altitude_ft for path in paths]), 2000.0]
    stations = [0.0, *known, float(t_s[-1])]
    east, north = np.interp(t_s, stations, lead_in), np.interp(t_s, stations, north_in)
    altitude_ft = np.interp(t_s, stations, heights)
    if not altitude:
        altitude_ft = np.full(len(t_s), np.nan)
    if not approach:
        east, north = east * 0.6 + 11.0, north * 0.8 - 14.0
    whole = _view(t_s, east, north, altitude_ft, np.zeros(len(t_s), dtype=np.int64))
    gaps: tuple[tuple[float, float], ...] = ()
    if gap:
        turn_s = paths[0].turns[1].start_s
        gaps = (
            (turn_s + 10.0, turn_s + 45.0),
            (paths[0].spans[-2].start_s + 20, paths[0].spans[-2].start_s + 40),
        )
    at = _At(whole, gaps)
    grid = at(t_s)
    plane = StationPlane(latitude_deg=procedure.station.latitude, longitude_deg=procedure.station.longitude)
    latitude, longitude = plane.to_geographic(east, north)
    track = Track(
        file="flight.gpx",
        sha256="0" * 64,
        format="gpx",
        epoch=EPOCH,
        t_s=t_s,
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_ft=altitude_ft,
        part=np.zeros(len(t_s)),
        line=np.arange(len(t_s), dtype=np.float64) + 5,
    )
    used = np.flatnonzero(grid.segment >= 0)
    log = Conditioned(
        track=track,
        order=used,
        segment=grid.segment[used],
        altitude_used=np.isfinite(altitude_ft[used]),
        altitude_ft=altitude_ft[used],
        altitude_source="gps" if altitude else "unknown",
        altitude_errors=AltitudeErrors(constant_ft=20.0),
        position_errors=PositionErrors(constant_nm=0.002),
        set_aside=("",) * len(t_s),
        gaps=tuple(Gap(start_s=a, end_s=b, reason="no samples") for a, b in gaps),
        median_interval_s=1.0,
        warnings=(),
    )
    return Flight(
        log=log,
        procedure=procedure,
        view=grid.where(grid.segment >= 0),
        at=at,
        noise=Noise(
            position_nm=0.002,
            worse_in_turns=1.0,
            altitude_ft=8.0,
            smoothed_position_nm=0.001,
            smoothed_altitude_ft=3.0,
            smoothed_groundspeed_kt=0.8,
            smoothed_vertical_speed_ft_min=40.0,
        ),
        attempts=tuple(_found(path, gaps if number == 0 else ()) for number, path in enumerate(paths))
        if approach
        else (),
        no_attempt_reason="" if approach else "the log never comes nearer than 11.2 NM to LQN",
    )


def _found(path: _Path, gaps: tuple[tuple[float, float], ...]) -> FoundAttempt:
    first, second = (span for span in path.spans if span.phase == Phase.STATION_PASSAGE)
    reversal = next(span for span in path.spans if span.phase == Phase.COURSE_REVERSAL)
    return FoundAttempt(
        spans=path.spans,
        passages=tuple(
            Passage(
                t_s=(span.start_s + span.end_s) / 2,
                distance_nm=0.05,
                entry_s=span.start_s,
                exit_s=span.end_s,
                missed=False,
            )
            for span in (first, second)
        ),
        turns=path.turns,
        not_seen=tuple(
            NotSeen(phase=Phase.COURSE_REVERSAL, why="not observed", start_s=a, end_s=b) for a, b in gaps[:1]
        ),
        turn_off_s=reversal.start_s,
        established_s=reversal.end_s,
        ending="missed approach",
    )


MESSAGES = (
    (
        "minimum_descent_altitude",
        "final",
        -72.0,
        0.0,
        "ft",
        "exceeded",
        "You went 72 ft below the minimum descent altitude of 620 ft and stayed below it for 31 s.",
        "Level off 50 ft above the minimum and hold it with power until the missed approach point.",
    ),
    (
        "tracking",
        "outbound",
        8.1,
        7.5,
        "deg",
        "marginal",
        "The needle stood at 81 % of full scale to the left for 12 s on the outbound radial.",
        "Turn further into the wind as soon as the needle moves, and hold that heading before you correct it.",
    ),
    (
        "intercept_overshoot",
        "course_reversal",
        0.52,
        0.4,
        "NM",
        "exceeded",
        "You flew 0.52 NM through the inbound course before the needle came back.",
        "With 20 kt of wind from behind in the turn, start it when the needle comes alive and not a moment later.",
    ),
    (
        "reversal_speed",
        "course_reversal",
        209.0,
        200.0,
        "kt",
        "marginal",
        "The fastest indicated airspeed in the reversal was about 209 kt, and 200 kt is the published limit.",
        "Reduce to the reversal's speed before passing the station, not in the first turn.",
    ),
    (
        "log_quality",
        None,
        None,
        None,
        None,
        "not flown",
        "The altitude of this log is 40 ft uncertain, so a bust of less than that is not held against you.",
        "Log the indicated altitude, or give the QNH of the day with --qnh.",
    ),
)


def result(
    *,
    attempts: int = 1,
    findings: int = 5,
    gap: bool = False,
    altitude: bool = True,
    wind: bool = True,
    approach: bool = True,
    file: str = "evening-at-lantern.gpx",
    name: str = PROCEDURE.name,
    best_fit: bool = False,
    before_s: float = 600.0,
    kind: str = "VOR/DME",
) -> Result:
    """A whole result over ``flight``."""
    station = PROCEDURE.station.model_copy(update={"kind": kind})
    procedure = PROCEDURE.model_copy(update={"name": name, "station": station})
    behind = flight(
        attempts=attempts,
        gap=gap,
        altitude=altitude,
        approach=approach,
        before_s=before_s,
        procedure=procedure,
    )
    track = behind.log.track
    return Result(
        program="debrief 0.1",
        track=TrackInfo(
            file=file,
            sha256="5f" * 32,
            samples=len(track),
            samples_used=len(behind.log.order),
            start=track.time_at(0.0),
            end=track.time_at(float(track.t_s[-1])),
            median_interval_s=1.0,
            gaps=tuple(
                GapInfo(
                    start=track.time_at(entry.start_s),
                    end=track.time_at(entry.end_s),
                    seconds=entry.seconds,
                    reason=entry.reason,
                )
                for entry in behind.log.gaps
            ),
            altitude_source="gps" if altitude else "unknown",
            altitude_uncertainty_ft=40.0,
            altitude_correction=None,
            altitude_offset_ft=-35.0,
            position_noise_nm=0.004,
            altitude_noise_ft=16.0,
            warnings=("Time stamps are whole seconds.",) if altitude else ("The log has no altitude.",),
        ),
        procedure=ProcedureInfo(
            name=name,
            file="lantern-vor-22.toml",
            sha256="ab" * 32,
            chosen="best fit" if best_fit else "given",
            fit=0.93 if best_fit else None,
            candidates=(
                Candidate(name="Sallow VOR runway 13", file="sallow-vor-13.toml", fit=0.31, attempts=1),
                Candidate(name="Quillow NDB runway 18", file="quillow-ndb-18.toml", fit=0.0, attempts=0),
            )
            if best_fit
            else (),
        ),
        standard=StandardInfo(
            name="Instrument rating",
            source="FAA-S-ACS-8C, Instrument Rating - Airplane",
            file="instrument_rating.toml",
            sha256="cd" * 32,
        ),
        attempts=tuple(
            _attempt(number, behind, findings=findings, wind=wind, altitude=altitude)
            for number in range(len(behind.attempts))
        ),
        warnings=()
        if approach
        else ("No approach was found: the log never comes nearer than 11.2 NM to LQN.",),
        flight=behind,
    )


def _attempt(number: int, behind: Flight, *, findings: int, wind: bool, altitude: bool) -> Attempt:
    found, time_at = behind.attempts[number], behind.log.track.time_at
    made = tuple(_finding(index, found, time_at, behind) for index in range(findings))
    bad = any(entry.verdict == "exceeded" for entry in made)
    return Attempt(
        number=number + 1,
        phases=tuple(
            PhaseSpan(phase=str(span.phase), start=time_at(span.start_s), end=time_at(span.end_s))
            for span in found.spans
        ),
        not_seen=tuple(
            NotSeenInfo(
                phase=str(entry.phase),
                why=entry.why,
                start=None if entry.start_s is None else time_at(entry.start_s),
                end=None if entry.end_s is None else time_at(entry.end_s),
            )
            for entry in found.not_seen
        ),
        ending=found.ending,
        station_passages=tuple(
            StationPassage(
                time=time_at(entry.t_s),
                distance_nm=0.05,
                altitude_ft=3580.0 if altitude else None,
                groundspeed_kt=126.0,
                ground_track_true_deg=33.0,
                time_uncertainty_s=0.2,
            )
            for entry in found.passages
        ),
        turns=tuple(
            TurnInfo(
                start=time_at(turn.start_s),
                end=time_at(turn.end_s),
                direction="right" if turn.change_deg > 0 else "left",
                degrees=abs(turn.change_deg),
                mean_rate_deg_s=2.9,
                mean_groundspeed_kt=114.0,
            )
            for turn in found.turns
        ),
        wind=Wind(
            from_true_deg=247.0,
            speed_kt=17.6,
            speed_uncertainty_kt=2.1,
            tas_kt=118.0,
            method="ground velocities in 3 turns lie on a circle whose centre is the wind",
        )
        if wind
        else None,
        measures=_measures(found, time_at, altitude=altitude),
        findings=made,
        grade=Grade(
            result="unsatisfactory" if bad else "satisfactory",
            items=(
                GradeItem(
                    item="Altitude before the final segment",
                    result="satisfactory",
                    value=64.0,
                    limit=100.0,
                    unit="ft",
                    margin=36.0,
                    source="FAA-S-ACS-8C, IR.VI.A.S9",
                ),
                GradeItem(
                    item="Minimum descent altitude",
                    result="unsatisfactory" if bad else "satisfactory",
                    value=-72.0,
                    limit=0.0,
                    unit="ft",
                    margin=-72.0,
                    source="FAA-S-ACS-8C, IR.VI.A.S12",
                ),
                GradeItem(
                    item="Airspeed",
                    result="not assessable",
                    value=None,
                    limit=10.0,
                    unit="kt",
                    margin=None,
                    source="FAA-S-ACS-8C, IR.VI.A.S9",
                    reason="the log holds no airspeed",
                ),
            ),
            reason="One item was not met: the minimum descent altitude." if bad else "",
        ),
        went_well=(
            "You passed the station at 0.05 NM, straight over it.",
            "Three quarters of the outbound leg was flown within half scale.",
            "The turn back was flown at 2.9 deg/s, close to standard rate.",
        ),
        warnings=() if wind else ("No wind: fewer than 60 degrees of turn were flown at a steady speed.",),
        shown=_shown(found, time_at, altitude=altitude, heading=wind),
    )


def _shown(
    found: FoundAttempt, time_at: Callable[[float], datetime], *, altitude: bool, heading: bool
) -> tuple[Shown, ...]:
    """A needle at its stop, in the cone, missing, beside its middle on either side; one moment without a course."""

    def at(moment: MomentName, t_s: float, deviation: float | None, course_deg: float | None) -> Shown:
        return Shown(
            moment=moment,
            time=time_at(t_s),
            phase="outbound",
            altitude_ft=2834.0 if altitude else None,
            distance_nm=4.94,
            dme_nm=4.96,
            course_deg=course_deg,
            deviation_deg=deviation,
            deflection=None if deviation is None else max(-1.0, min(1.0, deviation / 10.0)),
            full_scale=10.0,
            full_scale_unit="deg",
            to_from=None if deviation is None else "TO",
            cone=deviation is None and course_deg is not None,
            bearing_deg=219.4,
            relative_bearing_deg=352.7 if heading else None,
            heading_mag_deg=226.7 if heading else None,
            heading_why="" if heading else "the log has no heading, and the wind is not known",
        )

    first, second = found.passages
    return (
        at("turn at the station", first.t_s - 20.0, -63.0, 44.0),
        at("station passage", first.t_s, None, 44.0),
        at("turn off", first.t_s + 150.0, 2.6, 44.0),
        Shown(moment="needle alive", time=None, phase=None, why="it lies in a gap of the log"),
        at("established", second.t_s - 210.0, -4.9, 224.0),
        at("second passage", second.t_s, None, None),
        at("minimum", second.t_s + 130.0, 0.2, 224.0),
    )


def _finding(index: int, found: FoundAttempt, time_at: object, behind: Flight) -> Finding:
    rule, phase, value, limit, unit, verdict, message, advice = MESSAGES[index % len(MESSAGES)]
    span = next((entry for entry in found.spans if entry.phase == phase), found.spans[0])
    share = 0.2 + 0.6 * ((index * 37) % 100) / 100
    start_s = span.start_s + share * (span.end_s - span.start_s)
    stamp = behind.log.track.time_at
    return Finding(
        number=index + 1,
        rule=rule,
        phase=phase,
        start=None if phase is None else stamp(start_s),
        end=None if phase is None else stamp(min(start_s + 31.0, span.end_s)),
        value=value,
        limit=limit,
        unit=unit,
        verdict=verdict,  # type: ignore[arg-type]  # from a table of plain strings
        message=message,
        advice=advice,
        uncertainty=None if value is None else abs(value) * 0.05 + 0.02,
        source="FAA-S-ACS-8C, IR.VI.A.S9" if phase else "",
    )


def _range(low: float, high: float) -> Range:
    return Range(min=low, mean=(low + high) / 2, max=high, uncertainty=4.0)


def _measures(found: FoundAttempt, time_at: object, *, altitude: bool) -> Measures:
    def stamp(t_s: float) -> datetime:
        return EPOCH + timedelta(milliseconds=round(t_s * 1000))

    def leg(phase: Phase) -> dict[str, object]:
        span = next(entry for entry in found.spans if entry.phase == phase)
        return {
            "duration_s": span.end_s - span.start_s,
            "observed_s": span.end_s - span.start_s,
            "track_length_nm": 5.12,
            "cross_track_nm": Spread(
                mean=-0.031,
                rms=0.054,
                max_abs=0.112,
                max_abs_time=stamp(span.start_s + 5.0),
                uncertainty=0.004,
            ),
            "deviation_deg": Spread(
                mean=-0.82, rms=1.31, max_abs=3.4, max_abs_time=stamp(span.start_s + 9.0), uncertainty=0.3
            ),
            "within_half_scale": 0.97,
            "altitude_ft": _range(2803.0, 3560.0) if altitude else None,
            "groundspeed_kt": _range(108.0, 131.0),
            "vertical_speed_ft_min": _range(-620.0, 40.0) if altitude else None,
            "drift_deg": -4.2,
        }

    return Measures(
        inbound=LegMeasures(**leg(Phase.INBOUND)),  # type: ignore[arg-type]  # one table for five classes
        station_passage=LegMeasures(**leg(Phase.STATION_PASSAGE)),  # type: ignore[arg-type]
        outbound=OutboundMeasures(
            **leg(Phase.OUTBOUND),  # type: ignore[arg-type]
            time_from_passage_s=172.4,
            turn_off_dme_nm=5.21,
            turn_off_distance_nm=5.18,
            turn_off_cross_track_nm=-0.12,
        ),
        course_reversal=ReversalMeasures(
            **leg(Phase.COURSE_REVERSAL),  # type: ignore[arg-type]
            side="left",
            pattern="45/180",
            max_distance_nm=7.24,
            turn_start_dme_nm=5.21,
            turn_start_distance_nm=5.18,
            width_nm=2.31,
            entry_groundspeed_kt=112.0,
            leg_seconds=64.0,
            turn_rate_deg_s=2.9,
            bank_deg=17.0,
        ),
        intermediate=LegMeasures(**leg(Phase.INTERMEDIATE)),  # type: ignore[arg-type]
        final=FinalMeasures(
            **{
                **leg(Phase.FINAL),
                "altitude_breaks": (
                    LimitBreak(
                        limit_ft=620.0,
                        side="below",
                        what="minimum_descent_altitude",
                        start=stamp(found.spans[-2].end_s - 60.0),
                        end=stamp(found.spans[-2].end_s - 29.0),
                        depth_ft=72.0,
                        deepest=stamp(found.spans[-2].end_s - 40.0),
                    ),
                ),
            },  # type: ignore[arg-type]
            lowest_altitude_ft=548.0,
            lowest_time=stamp(found.spans[-2].end_s - 40.0),
            descent_angle_deg=3.4,
            required_angle_deg=3.0,
            max_descent_rate_ft_min=980.0,
            gates=(
                Gate(
                    height_ft=1000.0,
                    time=stamp(found.spans[-2].start_s + 30.0),
                    stable=False,
                    reasons=("rate of descent",),
                ),
                Gate(height_ft=500.0, time=stamp(found.spans[-2].start_s + 70.0), stable=True, reasons=()),
            ),
        ),
        missed_approach=MissedMeasures(
            **leg(Phase.MISSED_APPROACH),  # type: ignore[arg-type]
            start_past_point_nm=0.12,
            climb_rate_ft_min=640.0,
        ),
        turn=StationTurn(
            start=stamp(found.passages[0].t_s - 12.0),
            change_deg=-37.0,
            lead_nm=0.41,
            lead_uncertainty_nm=0.02,
            lead_dme_nm=0.69,
            exact_lead_nm=0.22,
            rule_of_thumb_nm=1.12,
            groundspeed_kt=126.0,
        ),
        intercept=Intercept(
            time=stamp(found.spans[4].start_s - 60.0),
            angle_deg=44.0,
            angle_uncertainty_deg=0.8,
            overshoot_nm=0.52,
            overshoot_uncertainty_nm=0.01,
            established=stamp(found.spans[4].start_s),
            established_distance_nm=5.4,
            seconds_to_established=60.0,
        ),
    )
