"""The sample tracks that come with the project: each an invented flight, with its seed.

Owns      what each sample is, and ``write_samples``, which writes them all, byte for byte the same each time.
Not here  flying (``flight``), recording (``sensor``), file formats (``writers``).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from debrief.procedures import load_procedure
from debrief.simulation.flight import fly
from debrief.simulation.plan import Attempt, Faults, FlightPlan, Wind
from debrief.simulation.sensor import Sensor, record
from debrief.simulation.writers import CsvLayout, clock, epoch_milliseconds, number_of, write_csv, write_gpx

INVENTED = "An invented flight, made by simulation for practice. Not for navigation."


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One sample track: the flight, its recorder and its file."""

    file: str
    procedure: str  # name of a bundled procedure
    story: str  # what was flown, and what was done wrong
    plan: FlightPlan
    sensor: Sensor
    seed: int
    layout: CsvLayout | None = None  # GPX where None
    gap_around_station_s: tuple[float, float] | None = None  # lost before and after the first passage


_GERMAN = CsvLayout(
    preamble=("# Erfundener Flug, durch Simulation erzeugt, nur zum Üben. Nicht zur Navigation verwenden.",),
    delimiter=";",
    line_end="\r\n",
    columns=(
        ("Datum", clock("%d.%m.%Y")),
        ("Uhrzeit (UTC)", clock("%H:%M:%S")),
        ("Breite", number_of("latitude_deg", 5, comma=True)),
        ("Länge", number_of("longitude_deg", 5, comma=True)),
        ("Höhe (m)", number_of("altitude_ft", 0, 0.3048, comma=True)),
        ("Geschwindigkeit über Grund (km/h)", number_of("groundspeed_kt", 1, 1.852, comma=True)),
        ("Kurs über Grund (°)", number_of("ground_track_true_deg", 0, comma=True)),
    ),
)

_SIMULATOR = CsvLayout(
    preamble=(f"# {INVENTED}",),
    columns=(
        ("timestamp_ms", epoch_milliseconds()),
        ("latitude_deg", number_of("latitude_deg", 6)),
        ("longitude_deg", number_of("longitude_deg", 6)),
        ("altitude_ft", number_of("altitude_ft", 0)),
        ("heading_true_deg", number_of("heading_true_deg", 1)),
        ("ias_kt", number_of("airspeed_kias", 0)),
        ("ground_speed_kt", number_of("groundspeed_kt", 1)),
        ("on_ground", number_of("on_ground", 0)),
    ),
)


def _evening(day: int, hour: int, minute: int) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def _faulty(faults: Faults) -> tuple[Attempt, ...]:
    return (Attempt(faults=faults),)


SAMPLES: tuple[Sample, ...] = (
    Sample(
        file="lantern-clean.gpx",
        procedure="lantern-vor-22",
        story="A procedure turn (45/180) flown as published in a light wind, to a landing. Nothing is wrong.",
        plan=FlightPlan(
            epoch=_evening(3, 18, 5),
            start_bearing_true_deg=285.0,
            start_distance_nm=13.0,
            start_altitude_ft=4300.0,
            wind=Wind(from_true_deg=250.0, speed_kt=11.0, veer_deg_per_1000_ft=3.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            attempts=(Attempt(ending="landing"),),
            seed=11,
        ),
        sensor=Sensor(interval_s=1.0),
        seed=11,
    ),
    Sample(
        file="marrow-strong-wind.gpx",
        procedure="marrow-vor-31",
        story="A racetrack, twice round, in 38 kt of wind from the south-west, then a climb away at the missed "
        "approach point. Nothing is wrong: the drift was well corrected.",
        plan=FlightPlan(
            epoch=_evening(4, 19, 40),
            start_bearing_true_deg=320.0,
            start_distance_nm=11.0,
            approach_kias=115.0,
            wind=Wind(from_true_deg=225.0, speed_kt=38.0, veer_deg_per_1000_ft=4.0, gust_kt=2.0),
            wander_deg=1.0,
            wander_ft=10.0,
            attempts=(Attempt(circuits=2),),
            seed=12,
        ),
        sensor=Sensor(interval_s=1.0),
        seed=12,
    ),
    Sample(
        file="lantern-wrong-side.gpx",
        procedure="lantern-vor-22",
        story="The procedure turn was flown on the south-east side of the outbound course; it is published on the "
        "north-west side.",
        plan=FlightPlan(
            epoch=_evening(5, 17, 20),
            start_bearing_true_deg=180.0,
            start_distance_nm=10.0,
            wind=Wind(from_true_deg=290.0, speed_kt=14.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            attempts=_faulty(Faults(wrong_side=True)),
            seed=13,
        ),
        sensor=Sensor(interval_s=1.0),
        seed=13,
    ),
    Sample(
        file="ember-altitude-bust.gpx",
        procedure="ember-vor-17",
        story="On final the first step was ignored and the aircraft levelled about 200 ft below the minimum descent "
        "altitude.",
        plan=FlightPlan(
            epoch=_evening(6, 20, 10),
            start_bearing_true_deg=140.0,
            start_distance_nm=12.0,
            approach_kias=120.0,
            wind=Wind(from_true_deg=200.0, speed_kt=18.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            attempts=_faulty(Faults(below_minimum_ft=230.0, below_step_ft=400.0, final_rate_ft_min=900.0)),
            seed=14,
        ),
        sensor=Sensor(interval_s=1.0),
        seed=14,
    ),
    Sample(
        file="frosthelm-late-turn.gpx",
        procedure="frosthelm-vor-04",
        story="The turn at the station began 1.3 NM late, so that most of the outbound leg went into finding the "
        "radial again.",
        plan=FlightPlan(
            epoch=_evening(9, 16, 45),
            start_bearing_true_deg=320.0,
            start_distance_nm=12.0,
            wind=Wind(from_true_deg=330.0, speed_kt=16.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            attempts=_faulty(Faults(turn_late_nm=1.3)),
            seed=15,
        ),
        sensor=Sensor(interval_s=2.0),
        seed=15,
    ),
    Sample(
        file="quillow-overshoot.gpx",
        procedure="quillow-ndb-18",
        story="The inbound course was overshot by about 0.8 NM coming out of an 80/260 turn.",
        plan=FlightPlan(
            epoch=_evening(10, 18, 30),
            start_bearing_true_deg=215.0,
            start_distance_nm=11.0,
            approach_kias=105.0,
            wind=Wind(from_true_deg=270.0, speed_kt=12.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            attempts=_faulty(Faults(overshoot_nm=0.8)),
            seed=16,
        ),
        sensor=Sensor(interval_s=1.0),
        seed=16,
    ),
    Sample(
        file="sallow-two-attempts.gpx",
        procedure="sallow-vor-13",
        story="A first approach that drifted far off the course on final and ended in a climb away, then a second "
        "one to a landing.",
        plan=FlightPlan(
            epoch=_evening(11, 19, 15),
            start_bearing_true_deg=80.0,
            start_distance_nm=11.0,
            approach_kias=105.0,
            wind=Wind(from_true_deg=190.0, speed_kt=17.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            attempts=(Attempt(faults=Faults(final_offset_deg=10.5)), Attempt(ending="landing")),
            seed=17,
        ),
        sensor=Sensor(interval_s=2.0),
        seed=17,
    ),
    Sample(
        file="brandel-sparse.csv",
        procedure="brandel-ndb-27",
        story="A clean 80/260 approach, logged every 10 s by a recorder that writes German headings, metres, km/h "
        "and decimal commas.",
        plan=FlightPlan(
            epoch=_evening(12, 18, 0),
            start_bearing_true_deg=200.0,
            start_distance_nm=14.0,
            wind=Wind(from_true_deg=310.0, speed_kt=20.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            seed=18,
        ),
        sensor=Sensor(interval_s=10.0, columns=("groundspeed_kt", "ground_track_true_deg")),
        seed=18,
        layout=_GERMAN,
    ),
    Sample(
        file="lantern-gap-over-station.gpx",
        procedure="lantern-vor-22",
        story="A clean approach whose recorder lost reception for 75 s around the first station passage.",
        plan=FlightPlan(
            epoch=_evening(13, 17, 50),
            start_bearing_true_deg=270.0,
            start_distance_nm=11.0,
            wind=Wind(from_true_deg=200.0, speed_kt=15.0, gust_kt=1.0),
            wander_deg=0.8,
            wander_ft=8.0,
            seed=19,
        ),
        sensor=Sensor(interval_s=1.0),
        seed=19,
        gap_around_station_s=(40.0, 35.0),
    ),
    Sample(
        file="lantern-no-approach.gpx",
        procedure="lantern-vor-22",
        story="Airwork east of Lantern: steep turns, climbs, descents and slow flight. No approach was flown.",
        plan=FlightPlan(
            epoch=_evening(16, 15, 30),
            start_bearing_true_deg=95.0,
            start_distance_nm=14.0,
            start_altitude_ft=4200.0,
            wind=Wind(from_true_deg=240.0, speed_kt=13.0, gust_kt=1.0),
            wander_deg=1.0,
            wander_ft=12.0,
            instead="airwork",
            instead_minutes=22.0,
            seed=20,
        ),
        sensor=Sensor(interval_s=2.0),
        seed=20,
    ),
    Sample(
        file="kestrey-noisy-recorder.gpx",
        procedure="kestrey-ndb-09",
        story="A clean base turn to a landing, logged by a poor recorder: positions metres off and some repeated, "
        "stamps cut to whole seconds, pressure altitude in steps of 25 ft, a few wild samples.",
        plan=FlightPlan(
            epoch=_evening(17, 18, 20),
            start_bearing_true_deg=40.0,
            start_distance_nm=12.0,
            approach_kias=100.0,
            wind=Wind(from_true_deg=60.0, speed_kt=14.0, gust_kt=1.5),
            wander_deg=1.2,
            wander_ft=12.0,
            attempts=(Attempt(ending="landing"),),
            seed=21,
        ),
        sensor=Sensor(
            interval_s=1.3,
            interval_spread=0.3,
            whole_second_stamps=True,
            position_noise_m=9.0,
            position_wander_m=8.0,
            repeat_share=0.15,
            position_spikes=2,
            altitude_spikes=3,
            altitude_source="pressure",
            altitude_noise_ft=12.0,
            altitude_step_ft=25.0,
            qnh_hpa=1009.0,
        ),
        seed=21,
    ),
    Sample(
        file="dateline-simulator.csv",
        procedure="dateline-ndb-35",
        story="A clean racetrack across the 180th meridian, logged once a second by a simulator with heading and "
        "airspeed.",
        plan=FlightPlan(
            epoch=_evening(18, 6, 10),
            start_bearing_true_deg=10.0,
            start_distance_nm=9.0,
            approach_kias=105.0,
            wind=Wind(from_true_deg=80.0, speed_kt=16.0),
            wander_deg=0.5,
            wander_ft=5.0,
            attempts=(Attempt(ending="landing"),),
            seed=22,
        ),
        sensor=Sensor(
            interval_s=1.0,
            position_noise_m=0.0,
            position_wander_m=0.0,
            decimals=6,
            altitude_noise_ft=0.0,
            altitude_wander_ft=0.0,
            altitude_source="indicated",
            columns=("heading_true_deg", "airspeed_kias", "groundspeed_kt", "on_ground"),
            speed_noise_kt=0.0,
            direction_noise_deg=0.0,
        ),
        seed=22,
        layout=_SIMULATOR,
    ),
)


def write_samples(folder: str | Path) -> list[Path]:
    """Write every sample and a README into the folder (made where it is not there); the paths written."""
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    written = [write_sample(sample, target) for sample in SAMPLES]
    readme = target / "README.md"
    readme.write_text(_readme(), encoding="utf-8")
    return [*written, readme]


def write_sample(sample: Sample, folder: Path) -> Path:
    """Fly, record and write one sample."""
    procedure = load_procedure(sample.procedure)
    flight = fly(procedure, sample.plan)
    sensor = sample.sensor
    if sample.gap_around_station_s is not None:
        before_s, after_s = sample.gap_around_station_s
        turn_s = next(event.t_s for event in flight.events if event.what == "turn at the station")
        sensor = replace(sensor, gaps=((turn_s - before_s, turn_s + after_s),))
    track = record(flight, sensor, sample.seed)
    path = folder / sample.file
    if sample.layout is not None:
        write_csv(track, path, sample.layout)
    else:
        write_gpx(track, path, name=path.stem, description=f"{sample.story} {INVENTED}")
    return path


def _readme() -> str:
    lines = [
        "# Sample tracks",
        "",
        "Every flight here is invented: made by `python -m debrief.simulation sample_tracks`, over islands that do",
        "not exist, each with its own seed. Not for navigation.",
        "",
        "| file | procedure | what was flown |",
        "| --- | --- | --- |",
    ]
    lines += [
        f"| `{s.file}` | `{s.procedure}` ({load_procedure(s.procedure).name}) | {s.story} |" for s in SAMPLES
    ]
    lines += [
        "",
        "`checkride/` is a folder of submissions as an examiner gets them: an archive, a list of names, and a page saved",
        "in place of a log. One of the flights stands in it twice, one was edited, one was recorded too sparsely.",
    ]
    return "\n".join(lines) + "\n"
