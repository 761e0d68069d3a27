"""How often the stated intervals hold the truth: flights, recorders as wrong as they are said to be, and the count.

What a log cannot tell is drawn from the very distribution that is stated for it: the receiver's constant error and its
wander, the altitude's source, the day's pressure, the runway's own elevation, the air's temperature, the station's
alignment (the whole flight is turned about the station, where it was flown in every other respect as before).

The truth is that of ``tests.truth``, which shares no code with the analysis. Four measures that it does not know, or
defines less narrowly (overshoot, width, farthest point, climb), are held against the analysis of an exact log every 0.2 s:
the definition is then the same by itself, and that the analysis of such a log is right is the subject of ``test_truth``.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from pyproj import Geod

from debrief import debrief
from debrief.procedures import load_procedure
from debrief.procedures.model import Procedure, Runway
from debrief.result import Attempt, Range, Spread
from debrief.simulation import Attempt as Flown
from debrief.simulation import fly
from debrief.simulation.flight import SimulatedFlight
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import AltitudeSource
from tests.ensembles import PERFECT, clean_flights, faulty_flights, plan_for
from tests.truth import AttemptTruth

METRES_PER_FT = 0.3048
#: Stated half-widths at 95 %: 8 m radially are 6.5 m along an axis; 13 m of altitude. Half the variance of each is
#: constant, half wanders.
SATELLITE_M, SATELLITE_ALTITUDE_M = 6.5, 13.0
INDICATED_FT, PRESSURE_FT, RUNWAY_FT = 10.0, 600.0, 20.0
TEMPERATURE_K, OFF_STANDARD_K = 285.0, 10.0
GEOD = Geod(ellps="WGS84")

INTERVALS_S = (0.5, 1.0, 1.0, 2.0, 5.0, 10.0)
NOISES_M = (0.3, 1.0, 2.0, 4.0)
DECIMALS = (None, 6, 5, 5, 4)
SOURCES: tuple[AltitudeSource, ...] = ("gps", "gps", "gps", "unknown", "indicated", "pressure")

TRACKED = ("outbound", "intermediate", "final")
SPEEDS = ("inbound", *TRACKED, "course_reversal", "missed_approach", "landing")
#: What the bundled procedures without anything beside their legs do not have.
SPECIAL = (
    ("gannetstone-vor-12", Flown(via_arc=True)),
    ("pellarin-vor-17", Flown(ending="landing", circle="left")),
    ("tarnwick-vor-27", Flown(published_missed=True)),
    ("ulvering-vor-24", Flown(ending="landing")),
)
LEVELLED = ("inbound", "outbound", "course_reversal", "intermediate", "final")


@dataclass(frozen=True, slots=True)
class Held:
    """One measured value: by how much it is wrong, and by how much it says that it may be."""

    measure: str
    error: float
    half_width: float
    recording: str = ""  # which it was read from: values of one recording share its errors


def errors(clean: int, faulty: int, recordings: int, seed: int = 5, *, special: int = 0) -> Iterator[Held]:
    """Every value of so many flights, each recorded so often, whose phases were found as they were flown."""
    cases = (
        *clean_flights(clean, seed=seed, sensor=PERFECT),
        *faulty_flights(faulty, seed=seed, sensor=PERFECT),
    )
    for number, case in enumerate(cases):
        exact = debrief(record(case.flight, replace(PERFECT, interval_s=0.2)), case.procedure).attempts
        truth = case.truth.attempts[-1]  # the exact log begins with the flight: one clock
        if not exact or not _same_phases(exact[-1], truth):
            continue
        for again in range(recordings):
            draw = random.Random(f"coverage {seed} {number} {again}")
            for one in _of_recording(case.procedure, case.flight, truth, exact[-1], draw):
                yield replace(one, recording=f"{number} {again}")
    for number, (procedure, flight) in enumerate(special_flights(special, seed)):
        exact = debrief(record(flight, replace(PERFECT, interval_s=0.2)), procedure).attempts
        for again in range(recordings if exact else 0):
            draw = random.Random(f"coverage special {seed} {number} {again}")
            for one in _of_recording(procedure, flight, None, exact[-1], draw):
                yield replace(one, recording=f"special {number} {again}")


def special_flights(count: int, seed: int) -> Iterator[tuple[Procedure, SimulatedFlight]]:
    """Flights of what the others have not: an arc, a visual segment, circling, a published missed approach, holds."""
    for number in range(count):
        draw = random.Random(f"special {seed} {number}")
        name, attempt = SPECIAL[number % len(SPECIAL)]
        procedure = load_procedure(name)
        if name.startswith("tarnwick"):
            attempt = replace(attempt, hold_before=draw.choice((1, 2)), hold_after=draw.choice((1, 2)))
        plan = replace(plan_for(procedure, draw), attempts=(attempt,))
        if attempt.via_arc:
            plan = replace(plan, start_bearing_true_deg=draw.uniform(185.0, 215.0), start_distance_nm=16.0)
        if attempt.circle is not None:
            attempt = replace(attempt, circle=procedure.circling.side or draw.choice(("left", "right")))
            plan = replace(
                plan, attempts=(attempt,), approach_kias=100.0, final_kias=draw.uniform(80.0, 95.0)
            )
        yield procedure, fly(procedure, plan)


def share_held(found: Iterable[Held], scale: float = 1.0) -> dict[str, tuple[float, int]]:
    """Of each measure the share of intervals, ``scale`` times as wide as stated, that hold the truth.

    And of how many recordings: values of one recording share most of their error, so only these count as independent.
    """
    held: dict[str, list[bool]] = defaultdict(list)
    recordings: dict[str, set[str]] = defaultdict(set)
    for one in found:
        held[one.measure].append(abs(one.error) <= scale * one.half_width)
        recordings[one.measure].add(one.recording)
    return {name: (float(np.mean(inside)), len(recordings[name])) for name, inside in held.items()}


def _of_recording(
    procedure: Procedure,
    flight: SimulatedFlight,
    truth: AttemptTruth | None,
    exact: Attempt,
    draw: random.Random,
) -> Iterator[Held]:
    sensor = _sensor(draw)
    whole_degrees = float(procedure.station.declination_deg).is_integer()
    turned_deg = draw.uniform(-0.5, 0.5) * (1.0 if whole_degrees else 0.1)
    constant_m = SATELLITE_M / 2.0 / math.sqrt(2.0)
    seen = _moved(
        _turned(flight, procedure, turned_deg), draw.gauss(0.0, constant_m), draw.gauss(0.0, constant_m)
    )
    if procedure.runway is not None:
        elevation_ft = draw.gauss(0.0, RUNWAY_FT / 2.0)
        procedure = procedure.model_copy(
            update={"runway": _runway(procedure, procedure.runway, turned_deg, elevation_ft)}
        )
    if procedure.circling is not None:
        circled = _runway(procedure, procedure.circling.runway, turned_deg, 0.0)
        procedure = procedure.model_copy(
            update={"circling": procedure.circling.model_copy(update={"runway": circled})}
        )
    warmer_k = draw.gauss(0.0, OFF_STANDARD_K / 2.0)
    attempts = debrief(record(seen, sensor, draw.randrange(10**6)), procedure).attempts
    if not attempts or [s.phase for s in attempts[-1].phases] != [s.phase for s in exact.phases]:
        return
    yield from _by_exact(attempts[-1], exact)
    if truth is not None and _same_phases(attempts[-1], truth):
        yield from _compared(attempts[-1], truth, exact, flight.epoch.timestamp(), warmer_k)
        yield from _at_station(attempts[-1], truth, flight.epoch.timestamp(), turned_deg)
        yield from _in_the_air(attempts[-1], truth, flight, turned_deg)
        yield from _bank(attempts[-1], exact, flight)


def _runway(procedure: Procedure, runway: Runway, turned_deg: float, higher_ft: float) -> Runway:
    """The runway as it lies about the station that the flight is turned about, its elevation published wrongly."""
    station = procedure.station
    bearing, _, metres = GEOD.inv(station.longitude, station.latitude, runway.longitude, runway.latitude)
    longitude, latitude, _ = GEOD.fwd(station.longitude, station.latitude, bearing + turned_deg, metres)
    return runway.model_copy(
        update={
            "latitude": latitude,
            "longitude": longitude,
            "course_true_deg": (runway.course_true_deg + turned_deg) % 360.0,
            "elevation_ft": runway.elevation_ft + higher_ft,
        }
    )


def _same_phases(attempt: Attempt, truth: AttemptTruth) -> bool:
    return [span.phase for span in attempt.phases] == [name for name, _, _ in truth.phases]


def _sensor(draw: random.Random) -> Sensor:
    source = draw.choice(SOURCES)
    slow_ft = SATELLITE_ALTITUDE_M / METRES_PER_FT / 2.0 / math.sqrt(2.0)
    satellite = source in ("gps", "unknown")
    bias_ft = {"indicated": INDICATED_FT / 2.0, "pressure": PRESSURE_FT / 2.0}.get(source, slow_ft)
    return Sensor(
        interval_s=draw.choice(INTERVALS_S),
        position_noise_m=draw.choice(NOISES_M),
        position_wander_m=SATELLITE_M / 2.0 / math.sqrt(2.0),
        decimals=draw.choice(DECIMALS),
        altitude_source=source,
        altitude_noise_ft=draw.choice((1.0, 3.0, 10.0) if satellite else (1.0, 3.0)),
        altitude_wander_ft=slow_ft if satellite else 0.0,
        altitude_bias_ft=draw.gauss(0.0, bias_ft),
        altitude_step_ft=draw.choice((None, 1.0, 1.0 / METRES_PER_FT, 10.0)) if satellite else 1.0,
    )


def _turned(flight: SimulatedFlight, procedure: Procedure, by_deg: float) -> SimulatedFlight:
    """The whole flight turned clockwise about the station, as where its alignment is so much greater than published."""
    count = len(flight)
    longitude, latitude = (
        np.full(count, procedure.station.longitude),
        np.full(count, procedure.station.latitude),
    )
    bearing, _, metres = GEOD.inv(
        longitude, latitude, flight.longitude_deg.copy(), flight.latitude_deg.copy()
    )
    east, north, _ = GEOD.fwd(longitude, latitude, np.asarray(bearing) + by_deg, metres)
    return replace(flight, latitude_deg=np.asarray(north), longitude_deg=np.asarray(east))


def _moved(flight: SimulatedFlight, east_m: float, north_m: float) -> SimulatedFlight:
    metres_per_deg = 1852.0 * 60.0
    east_deg = east_m / metres_per_deg / np.cos(np.radians(flight.latitude_deg))
    return replace(
        flight,
        latitude_deg=flight.latitude_deg + north_m / metres_per_deg,
        longitude_deg=flight.longitude_deg + east_deg,
    )


#: Measures that are held against the analysis of an exact log, by the block in which they stand.
BY_EXACT = {
    "inbound": ("duration_s", "track_length_nm", "descent_angle_deg"),
    "outbound": ("within_half_scale", "descent_angle_deg"),
    "course_reversal": ("entry_groundspeed_kt", "leg_seconds", "descent_angle_deg"),
    "intermediate": ("within_half_scale", "descent_angle_deg"),
    "final": (
        "within_half_scale",
        "descent_angle_deg",
        "descent_start",
        "descent_start_distance_nm",
        "duration_s",
        "track_length_nm",
    ),
    "missed_approach": ("course_off_deg", "turn_altitude_ft", "duration_s", "track_length_nm"),
    "landing": ("touchdown_past_threshold_nm",),
    "turn": (
        "change_deg",
        "groundspeed_kt",
        "lead_dme_nm",
        "exact_lead_nm",
        "rule_of_thumb_nm",
    ),
    "intercept": ("time", "established", "established_distance_nm", "seconds_to_established"),
    "arc": ("turn_in_radial_deg", "turn_in_late_deg", "off_nm"),
    "arrival": ("off_inbound_course_deg",),
    "visual_segment": (
        "altitude_ft",
        "to_threshold_nm",
        "lined_up",
        "lined_up_before_threshold_nm",
        "lined_up_height_ft",
    ),
    "circling": (
        "start",
        "farthest_aside_nm",
        "farthest_nm",
        "lowest_altitude_ft",
        "base_turn",
        "base_turn_altitude_ft",
        "lined_up",
        "lined_up_before_threshold_nm",
        "lined_up_height_ft",
    ),
    "hold_before": ("inbound_s", "farthest_nm"),
    "hold_after": ("inbound_s", "farthest_nm"),
}
_OTHER_KEY = {"course_off_deg": "course_uncertainty_deg", "off_inbound_course_deg": "uncertainty_deg"}


def _by_exact(attempt: Attempt, exact: Attempt) -> Iterator[Held]:
    for block, names in BY_EXACT.items():
        found, known = getattr(attempt.measures, block), getattr(exact.measures, block)
        if found is None or known is None:
            continue
        for name in names:
            value, true = getattr(found, name), getattr(known, name)
            if isinstance(value, Spread):
                if isinstance(true, Spread):
                    yield from _spread(f"{block}.{name}", value, lambda kind, of=true: getattr(of, kind))
                continue
            key = _OTHER_KEY.get(name)
            sure = found.uncertainties.get(name) if key is None else getattr(found, key)
            if value is None or true is None or sure is None:
                continue
            off = (value - true).total_seconds() if isinstance(value, datetime) else value - true
            if name in ("change_deg", "off_inbound_course_deg"):
                off = (off + 180.0) % 360.0 - 180.0
            if name == "within_half_scale" and true == 1.0 == value:
                continue
            yield Held(f"{block}.{name}", off, sure)
    gates = [() if one.measures.final is None else one.measures.final.gates for one in (attempt, exact)]
    if [gate.height_ft for gate in gates[0]] == [gate.height_ft for gate in gates[1]]:
        for gate, known_gate in zip(*gates, strict=True):
            if "time" in gate.uncertainties:
                off = (gate.time - known_gate.time).total_seconds()
                yield Held("final.gates.time", off, gate.uncertainties["time"])
    if len(attempt.turns) == len(exact.turns):
        for turn, known_turn in zip(attempt.turns, exact.turns, strict=True):
            for name in ("degrees", "mean_rate_deg_s", "mean_groundspeed_kt"):
                if name in turn.uncertainties:
                    off = getattr(turn, name) - getattr(known_turn, name)
                    yield Held(f"turns.{name}", off, turn.uncertainties[name])


def _spread(name: str, found: Spread, true: Callable[[str], Any]) -> Iterator[Held]:
    for kind in ("mean", "rms", "max_abs"):
        sure, known = getattr(found, f"{kind}_uncertainty"), true(kind)
        if sure is not None and isinstance(known, float):
            yield Held(f"{name}.{kind}", getattr(found, kind) - known, sure)


def _range(name: str, found: Range, true: Callable[[str], Any]) -> Iterator[Held]:
    for kind in ("min", "mean", "max"):
        sure, known = getattr(found, f"{kind}_uncertainty"), true(kind)
        if sure is not None and isinstance(known, float):
            yield Held(f"{name}.{kind}", getattr(found, kind) - known, sure)


def _compared(
    attempt: Attempt, truth: AttemptTruth, exact: Attempt, epoch_s: float, warmer_k: float
) -> Iterator[Held]:
    """What was measured less the truth, wherever both are there."""
    measures, true = attempt.measures, truth.measures

    def one(name: str, value: Any, true_value: object, half_width: float | None) -> Iterator[Held]:
        if value is not None and isinstance(true_value, float) and half_width is not None:
            yield Held(name, value - true_value, half_width)

    for phase in TRACKED:
        leg = getattr(measures, phase)
        for name in ("cross_track_nm", "deviation_deg"):
            if (spread := getattr(leg, name, None)) is not None:
                here = f"{phase}.{name}"
                yield from _spread(
                    here, spread, lambda kind, of=phase, what=name: true[of].get(f"{what}.{kind}")
                )
    for name, phases in (("altitude_ft", LEVELLED), ("groundspeed_kt", SPEEDS)):
        for phase in phases:
            if (found := getattr(getattr(measures, phase), name, None)) is not None:
                here = f"landing.{name}" if phase == "landing" else name
                yield from _range(
                    here, found, lambda kind, of=phase, what=name: true[of].get(f"{what}.{kind}")
                )
    if (landing := measures.landing) is not None and landing.touchdown is not None:
        touched_s = landing.touchdown.timestamp() - epoch_s
        sure_s = landing.uncertainties.get("touchdown")
        yield from one("landing.touchdown", touched_s, true["landing"]["touchdown_s"], sure_s)
    for phase in ("station_passage", "outbound", "course_reversal", "intermediate"):
        leg, known_leg = getattr(measures, phase), getattr(exact.measures, phase)
        flown_s = [end_s - start_s for name, start_s, end_s in truth.phases if name == phase]
        # of two station passages the first is measured, of circuits the last: those are left out
        if leg is not None and known_leg is not None and (len(flown_s) == 1 or phase == "station_passage"):
            yield from one("duration_s", leg.duration_s, flown_s[0], leg.uncertainties.get("duration_s"))
            way_nm, sure_nm = known_leg.track_length_nm, leg.uncertainties.get("track_length_nm")
            yield from one("track_length_nm", leg.track_length_nm, way_nm, sure_nm)
    reversal = true.get("course_reversal", {})
    if (leg := measures.outbound) is not None:
        sure = leg.uncertainties
        seconds, dme_nm = reversal.get("outbound_seconds"), reversal.get("turn_start_dme_nm")
        yield from one(
            "time_from_passage_s", leg.time_from_passage_s, seconds, sure.get("time_from_passage_s")
        )
        exact_leg = exact.measures.outbound
        yield from one(
            "turn_off_cross_track_nm",
            leg.turn_off_cross_track_nm,
            None if exact_leg is None else exact_leg.turn_off_cross_track_nm,
            sure.get("turn_off_cross_track_nm"),
        )
        yield from one("turn_off_dme_nm", leg.turn_off_dme_nm, dme_nm, sure.get("turn_off_dme_nm"))
    if (turn := measures.turn) is not None:
        began_s = turn.start.timestamp() - epoch_s
        yield from one("turn.start", began_s, true["turn"].get("start_s"), turn.uncertainties.get("start"))
        yield from one("turn.lead_nm", turn.lead_nm, true["turn"].get("lead_nm"), turn.lead_uncertainty_nm)
    if (met := measures.intercept) is not None:
        angle_deg = true.get("intercept", {}).get("angle_deg")
        yield from one("intercept.angle_deg", met.angle_deg, angle_deg, met.angle_uncertainty_deg)
        before = exact.measures.intercept
        # None is as exact as it gets: nothing crossed, nothing to be wrong about.
        if met.overshoot_nm and before is not None and before.overshoot_nm:
            yield from one(
                "overshoot_nm", met.overshoot_nm, before.overshoot_nm, met.overshoot_uncertainty_nm
            )
    if (flown := measures.course_reversal) is not None and exact.measures.course_reversal is not None:
        for name in ("max_distance_nm", "width_nm", "turn_rate_deg_s"):
            known = getattr(exact.measures.course_reversal, name)
            yield from one(name, getattr(flown, name), known, flown.uncertainties.get(name))
        # A warmer air is thinner: what was flown at the same true airspeed was indicated slower.
        kias = reversal.get("max_airspeed_kias")
        cooled = math.sqrt(TEMPERATURE_K / (TEMPERATURE_K + warmer_k))
        indicated = kias * cooled if isinstance(kias, float) else None
        entry = reversal.get("entry_airspeed_kias")
        yield from one(
            "course_reversal.entry_airspeed_kias",
            flown.entry_airspeed_kias,
            entry * cooled if isinstance(entry, float) else None,
            flown.uncertainties.get("entry_airspeed_kias"),
        )
        yield from one(
            "max_airspeed_kias", flown.max_airspeed_kias, indicated, flown.max_airspeed_uncertainty_kt
        )
    if (final := measures.final) is not None and exact.measures.final is not None:
        rate = true["final"].get("descent_rate_10_s_ft_min")
        yield from one(
            "max_descent_rate_ft_min",
            final.max_descent_rate_ft_min,
            rate,
            final.max_descent_rate_uncertainty_ft_min,
        )
        for name in ("level_off_altitude_ft", "altitude_at_missed_approach_point_ft"):
            known = getattr(exact.measures.final, name)
            yield from one(name, getattr(final, name), known, final.uncertainties.get(name))
    if (missed := measures.missed_approach) is not None and exact.measures.missed_approach is not None:
        for name in ("start_past_point_nm", "climb_rate_ft_min", "level_altitude_ft"):
            known = getattr(exact.measures.missed_approach, name)
            yield from one(name, getattr(missed, name), known, missed.uncertainties.get(name))


def _in_the_air(
    attempt: Attempt, truth: AttemptTruth, flight: SimulatedFlight, turned_deg: float
) -> Iterator[Held]:
    """Wind, drift and heading against what was flown: the wind where it was measured, in the reversal's turns."""
    spans = {name: (flight.t_s >= start_s) & (flight.t_s <= end_s) for name, start_s, end_s in truth.phases}
    for phase in LEVELLED if attempt.wind is not None else ():
        leg = getattr(attempt.measures, phase)
        sure = None if leg is None else leg.uncertainties.get("drift_deg")
        if sure is not None and phase in spans:
            drift = np.radians(flight.ground_track_true_deg - flight.heading_true_deg)[spans[phase]]
            true_deg = math.degrees(math.atan2(np.sin(drift).mean(), np.cos(drift).mean()))
            yield Held("drift_deg", leg.drift_deg - true_deg, sure)
    if attempt.wind is None or "course_reversal" not in spans:
        return
    there = spans["course_reversal"]
    from_rad = np.radians(flight.wind_from_true_deg[there])
    strength = flight.wind_speed_kt[there]
    east_kt, north_kt = (
        float((strength * np.sin(from_rad)).mean()),
        float((strength * np.cos(from_rad)).mean()),
    )
    off_kt = attempt.wind.speed_kt - math.hypot(east_kt, north_kt)
    yield Held("wind.speed_kt", off_kt, attempt.wind.speed_uncertainty_kt)
    off_deg = attempt.wind.from_true_deg - turned_deg - math.degrees(math.atan2(east_kt, north_kt))
    sure_deg = attempt.wind.from_uncertainty_deg
    # half a circle to each side holds whatever is true
    if sure_deg is not None and sure_deg < 180.0 and math.hypot(east_kt, north_kt) > 0.0:
        yield Held("wind.from_true_deg", (off_deg + 180.0) % 360.0 - 180.0, sure_deg)


def _bank(attempt: Attempt, exact: Attempt, flight: SimulatedFlight) -> Iterator[Held]:
    """The bank that rate and airspeed of the turn back imply, both as they were flown."""
    reversal, phases = attempt.measures.course_reversal, {span.phase: span for span in exact.phases}
    sure = None if reversal is None else reversal.uncertainties.get("bank_deg")
    if reversal is None or sure is None or "course_reversal" not in phases:
        return
    whole = phases["course_reversal"]
    turns = [t for t in exact.turns if whole.start <= t.start <= whole.end]
    if not turns:
        return
    back = max(turns, key=lambda turn: turn.degrees)
    start_s, end_s = (moment.timestamp() - flight.epoch.timestamp() for moment in (back.start, back.end))
    there = (flight.t_s >= start_s) & (flight.t_s <= end_s)
    heading_rad = np.unwrap(np.radians(flight.heading_true_deg[there]))
    rate_rad_s = abs(float(heading_rad[-1] - heading_rad[0])) / float(np.ptp(flight.t_s[there]))
    speed_m_s = float(flight.airspeed_ktas[there].mean()) * 1852.0 / 3600.0
    yield Held(
        "bank_deg", reversal.bank_deg - math.degrees(math.atan(speed_m_s * rate_rad_s / 9.80665)), sure
    )


def _at_station(attempt: Attempt, truth: AttemptTruth, epoch_s: float, turned_deg: float) -> Iterator[Held]:
    flown = [passage for passage in attempt.station_passages if not passage.missed]
    if len(flown) != len(truth.passages):
        return
    for passage, known in zip(flown, truth.passages, strict=True):
        late_s = passage.time.timestamp() - epoch_s - known.time_s
        if passage.time_uncertainty_s is not None:
            yield Held("passage.time_s", late_s, passage.time_uncertainty_s)
        for name in ("distance_nm", "groundspeed_kt", "altitude_ft", "ground_track_true_deg"):
            if name in passage.uncertainties:
                off = getattr(passage, name) - getattr(known, name)
                if name == "ground_track_true_deg":
                    off = (off - turned_deg + 180.0) % 360.0 - 180.0
                yield Held(f"passage.{name}", off, passage.uncertainties[name])


def table(found: Iterable[Held]) -> Iterator[str]:
    """Coverage, number, mean half-width, bias and scatter of each measure, a line each."""
    by: dict[str, list[Held]] = defaultdict(list)
    for one in found:
        by[one.measure].append(one)
    yield f"{'measure':<26} {'held':>6} {'of':>6} {'± mean':>9} {'bias':>9} {'rms':>9}"
    for measure, held in sorted(by.items()):
        off, wide = np.array([h.error for h in held]), np.array([h.half_width for h in held])
        inside = float(np.mean(np.abs(off) <= wide))
        yield (
            f"{measure:<26} {100 * inside:>5.1f}% {len(held):>6} {wide.mean():>9.3g} "
            f"{np.median(off):>9.2g} {math.sqrt(float(np.mean(off**2))):>9.3g}"
        )


def pooled(shares: Mapping[str, tuple[float, int]]) -> float:
    """The mean of the measures' shares: each counts alike, however often it was measured."""
    return float(np.mean([share for share, _ in shares.values()]))
