"""Signs of editing: found where a log was edited, and never where a recorder was only bad."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from debrief.checkride.model import TO_EXAMINER, Flag
from debrief.checkride.signs import signs_of
from debrief.checkride.signs.stamps import usual
from debrief.pipeline import look
from debrief.procedures import Procedure
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import only
from tests.doctoring import EDITS, drawn_out
from tests.ensembles import (
    BAD_SENSORS,
    GOOD,
    PERFECT,
    SENSORS,
    clean_flights,
    faulty_flights,
    several_attempts,
)

RECORDERS = {
    **SENSORS,
    **BAD_SENSORS,
    "bridged": Sensor(bridged=((300.0, 420.0), (700.0, 760.0)), altitude_step_ft=25.0),
    "gaps": Sensor(gaps=((300.0, 360.0), (700.0, 790.0))),
    "with columns": Sensor(
        columns=("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min", "pressure_altitude_ft")
    ),
}
FLIGHTS = 6
FOUND_SHARE = 0.9
#: Edits that leave a seam, digits or times of their own; noise and held altitudes say nothing at such intervals.
FOUND_IN_SPARSE = ("beside", "slowed", "stretched", "cut_short", "pasted", "finer", "sunk_gently", "lifted")


def seen(track: Track, procedure: Procedure) -> tuple[Flag, ...]:
    return signs_of(track, look(track, procedure), None)


def strong(flags: tuple[Flag, ...]) -> list[str]:
    return [f"{flag.sign} {flag.strength}: {flag.evidence}" for flag in flags if flag.strength >= TO_EXAMINER]


@pytest.mark.parametrize("name", RECORDERS)
def test_no_honest_recorder_is_suspected(name: str) -> None:
    """Recorders as bad as real ones: none of what they do goes to the examiner."""
    cases = [
        *clean_flights(FLIGHTS // 2, seed=5, sensor=GOOD),
        *faulty_flights(FLIGHTS // 2, seed=5, sensor=GOOD),
    ]
    for number, case in enumerate(cases):
        track = record(case.flight, RECORDERS[name], seed=number)

        assert strong(seen(track, case.procedure)) == [], case.name


@pytest.mark.parametrize("edit", EDITS)
def test_what_was_edited_is_found(edit: str) -> None:
    """In a log of a good recorder."""
    found = []
    for number, case in enumerate(clean_flights(FLIGHTS, seed=5, sensor=GOOD)):
        track = EDITS[edit](record(case.flight, GOOD, seed=number), random.Random(f"{edit} {number}"))
        found.append(bool(strong(seen(track, case.procedure))))

    assert sum(found) >= FOUND_SHARE * len(found) - 1, f"{sum(found)} of {len(found)}"


@pytest.mark.parametrize(("interval_s", "share"), [(5.0, 0.9), (10.0, 0.7)])
def test_what_was_edited_is_found_in_a_sparse_log(interval_s: float, share: float) -> None:
    """Where the sampled flight goes straight, a seam shows; in turns it may not."""
    found = []
    for edit in FOUND_IN_SPARSE:
        for number, case in enumerate(clean_flights(4, seed=5, sensor=GOOD)):
            log = record(case.flight, Sensor(interval_s=interval_s), seed=number)
            flags = seen(EDITS[edit](log, random.Random(f"{edit} {number}")), case.procedure)
            found.append(bool(strong(flags)))

    assert sum(found) >= share * len(found), f"{sum(found)} of {len(found)}"


@pytest.mark.parametrize(
    ("edit", "interval_s", "share"),
    [
        ("pasted_to_fit", 5.0, 0.7),
        ("doubled", 10.0, 0.5),
        ("finer", 15.0, 0.6),
        ("clamped", 5.0, 0.6),
    ],
)
def test_what_repeats_or_stands_is_found_in_few_samples(edit: str, interval_s: float, share: float) -> None:
    """A handful of samples tell as much as hundreds, where chance hardly makes one of them."""
    found = []
    for number, case in enumerate(clean_flights(FLIGHTS, seed=5, sensor=GOOD)):
        log = record(case.flight, Sensor(interval_s=interval_s), seed=number)
        flags = seen(EDITS[edit](log, random.Random(f"{edit} {number}")), case.procedure)
        found.append(bool(strong(flags)))

    assert sum(found) >= share * len(found), f"{sum(found)} of {len(found)}"


@pytest.mark.parametrize("interval_s", [1.0, 5.0, 10.0])
@pytest.mark.parametrize("factor", [0.8, 0.9, 1.2])
def test_a_part_at_another_pace_is_found_where_its_interval_is_a_usual_one(
    interval_s: float, factor: float
) -> None:
    """Nine seconds are a recorder's interval, but not for two minutes of a log of ten."""
    case = next(clean_flights(1, seed=5, sensor=GOOD))
    track = record(case.flight, Sensor(interval_s=interval_s), seed=3)
    steps = np.diff(track.t_s, prepend=track.t_s[0])
    start = len(track) // 2
    steps[start : start + round(120.0 / interval_s)] *= factor

    flags = seen(replace(track, t_s=np.round(np.cumsum(steps), 3)), case.procedure)

    assert "edited_times" in {flag.sign for flag in flags if flag.strength >= TO_EXAMINER}


@pytest.mark.parametrize("share", [0.2, 0.5, 2.0])
def test_a_recorder_that_is_set_to_another_interval_is_honest(share: float) -> None:
    case = next(clean_flights(1, seed=5, sensor=GOOD))
    fine, coarse = sorted((5.0, 5.0 * share))
    track = record(case.flight, Sensor(interval_s=fine), seed=3)
    part = (track.t_s > 400.0) & (track.t_s < 600.0)
    often = part if share < 1.0 else ~part
    kept = often | (np.arange(len(track)) % round(coarse / fine) == 0)

    assert strong(seen(only(track, np.flatnonzero(kept)), case.procedure)) == []


def test_one_speed_over_the_ground_in_a_whole_flight_is_told_and_no_more(
    honest: tuple[Track, Procedure],
) -> None:
    """True airspeed grows by about 2 % in 1,000 ft at one indicated airspeed (ISA density; ICAO Doc 7488).

    A plain simulator in still air knows nothing of it: honest, too.
    """
    track, procedure = honest
    count = 1200
    heading = np.radians(np.cumsum(np.where(np.arange(count) % 300 < 60, 3.0, 0.0)))
    step_deg = 65.0 / 111_195.0
    latitude = 45.0 + np.cumsum(step_deg * np.cos(heading))
    longitude = 10.0 + np.cumsum(step_deg * np.sin(heading)) / np.cos(np.radians(latitude))
    computed = replace(
        only(track, np.arange(count) % len(track)),
        t_s=np.arange(count, dtype=float),
        latitude_deg=np.round(latitude, 5),
        longitude_deg=np.round(longitude, 5),
        altitude_ft=np.round(np.linspace(4000.0, 1000.0, count)),
        line=np.arange(1.0, count + 1),
    )

    (flag,) = (f for f in signs_of(computed, None, procedure) if f.sign == "impossible_motion")

    assert 0.0 < flag.strength < TO_EXAMINER
    assert "126.3 to 126.4 kt" in flag.evidence  # 65 m/s


def test_a_simulator_set_to_twice_its_pace_while_it_slows_down_is_honest(
    honest: tuple[Track, Procedure],
) -> None:
    """A knot a second less: the speeds on both sides of the change are not quite one to two."""
    track, procedure = honest
    count, at = 600, 300
    speed = np.full(count, 57.0)
    speed[at : at + 20] = 2.0 * (57.0 - 0.5 * (2.0 * np.arange(20) + 1.0))
    speed[at + 20 :] = speed[at + 19]
    log = replace(
        only(track, np.arange(count) % len(track)),
        t_s=np.arange(count, dtype=float),
        latitude_deg=np.round(45.0 + np.cumsum(speed) / 111_195.0, 5),
        longitude_deg=np.full(count, 10.0),
        altitude_ft=np.full(count, 2500.0),
        line=np.arange(1.0, count + 1),
    )

    flags = signs_of(log, None, procedure)

    assert strong(flags) == []
    assert "set to another rate" in " ".join(flag.evidence for flag in flags)


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize("altitude_step_ft", [None, 1.0])
def test_a_simulator_without_any_noise_is_honest(interval_s: float, altitude_step_ft: float | None) -> None:
    """It holds altitudes to the foot, and legs flown alike are alike."""
    sensor = replace(PERFECT, interval_s=interval_s, decimals=5, altitude_step_ft=altitude_step_ft)
    for number, case in enumerate(several_attempts(2, seed=31, sensor=GOOD)):
        track = record(case.flight, sensor, seed=number)

        assert strong(seen(track, case.procedure)) == [], case.name


def test_an_autopilot_that_holds_to_the_foot_is_honest(honest: tuple[Track, Procedure]) -> None:
    """A sparse log, flown by hand but for one leg: 8 ft of ups and downs over half a minute are a pilot's."""
    track, procedure = honest
    sparse = only(track, np.arange(len(track)) % 5 == 0)
    by_hand = 2500.0 + 8.0 * np.sin(2.0 * np.pi * sparse.t_s / 31.0) + 5.0 * np.sin(sparse.t_s / 9.0)
    held = (sparse.t_s > 300.0) & (sparse.t_s < 480.0)

    flags = seen(replace(sparse, altitude_ft=np.where(held, 2500.0, np.round(by_hand))), procedure)

    assert strong(flags) == []


@pytest.fixture(scope="module")
def honest() -> tuple[Track, Procedure]:
    case = next(clean_flights(1, seed=5, sensor=GOOD))
    return record(case.flight, GOOD, seed=3), case.procedure


def test_evidence_says_when_and_how_much(honest: tuple[Track, Procedure]) -> None:
    track, procedure = honest
    altitude = track.altitude_ft.copy()
    altitude[400:520] += 300.0

    (flag,) = seen(replace(track, altitude_ft=altitude), procedure)

    assert flag.sign == "altitude_disagrees"
    assert flag.strength >= TO_EXAMINER
    at = {track.time_at(float(track.t_s[k])).strftime("%H:%M:%S") for k in (399, 400, 519, 520)}
    assert flag.evidence[3:11] in at
    assert "the altitude steps by" in flag.evidence
    assert abs(int(flag.evidence.split("steps by ")[1].split(" ft")[0]) - 300) < 40


def test_an_odd_even_interval_is_no_recorders(honest: tuple[Track, Procedure]) -> None:
    track, procedure = honest

    (flag,) = seen(replace(track, t_s=track.t_s * 1.07), procedure)

    assert (flag.sign, flag.strength) == ("edited_times", 0.8)
    assert "exactly 1.070 s apart" in flag.evidence


@pytest.mark.parametrize("interval_s", [0.04, 0.1, 0.2, 0.25, 0.5, 1.0, 1.5, 2.0, 5.0, 10.0, 15.0, 30.0])
def test_intervals_that_recorders_use(interval_s: float) -> None:
    assert usual(interval_s)


@pytest.mark.parametrize("interval_s", [0.87, 1.07, 1.21, 2.14, 5.35, 0.93])
def test_intervals_that_none_uses(interval_s: float) -> None:
    assert not usual(interval_s)


def test_a_part_pasted_within_the_log_is_told_with_both_times(honest: tuple[Track, Procedure]) -> None:
    track, procedure = honest
    columns = {name: getattr(track, name).copy() for name in ("latitude_deg", "longitude_deg", "altitude_ft")}
    for column in columns.values():
        column[600:660] = column[200:260]

    flags = seen(replace(track, **columns), procedure)  # type: ignore[arg-type]

    spliced = next(flag for flag in flags if flag.sign == "spliced")
    assert spliced.strength == 0.95
    assert "come again, digit by digit" in spliced.evidence


def test_a_speed_column_of_another_flight_is_found(honest: tuple[Track, Procedure]) -> None:
    case = next(clean_flights(1, seed=5, sensor=GOOD))
    track = record(case.flight, RECORDERS["with columns"], seed=3)
    columns = {name: column.copy() for name, column in track.columns.items()}
    columns["groundspeed_kt"][300:420] *= 0.75

    flags = seen(replace(track, columns=columns), case.procedure)

    assert [flag.sign for flag in flags] == ["speed_disagrees"]
    assert flags[0].strength >= TO_EXAMINER


def test_a_column_in_another_unit_is_honest() -> None:
    case = next(clean_flights(1, seed=5, sensor=GOOD))
    track = record(case.flight, RECORDERS["with columns"], seed=3)
    columns = dict(track.columns) | {"groundspeed_kt": track.columns["groundspeed_kt"] * 1.852}

    assert seen(replace(track, columns=columns), case.procedure) == ()


def test_a_log_older_than_its_procedure_is_flagged(honest: tuple[Track, Procedure]) -> None:
    track, procedure = honest
    newer = procedure.model_copy(update={"issued": date(2027, 1, 15)})
    older = procedure.model_copy(update={"issued": date(2025, 1, 15)})

    (flag,) = signs_of(track, None, newer)
    assert (flag.sign, flag.strength) == ("before_procedure", 1.0)
    assert "2027-01-15" in flag.evidence
    assert signs_of(track, None, older) == ()


def received(track: Track, seed: int, *, every_s: float = 1.0) -> Track:
    """The flight as it is received from the ground, now and then, and drawn out to even seconds between."""
    draw = np.random.default_rng(seed)
    heard = np.unique(np.concatenate([[0, len(track) - 1], draw.choice(len(track), len(track) // 6)]))
    t_s = np.arange(track.t_s[0], track.t_s[-1], every_s)

    def drawn(values: Floats, step: float) -> Floats:
        return np.interp(t_s, track.t_s[heard], np.round(values[heard] / step) * step)

    return replace(
        track,
        t_s=t_s,
        latitude_deg=np.round(drawn(track.latitude_deg, 1e-5), 6),
        longitude_deg=np.round(drawn(np.unwrap(track.longitude_deg, period=360.0), 1e-5), 6),
        altitude_ft=np.round(drawn(track.altitude_ft, 25.0)),
        part=np.zeros(len(t_s)),
        line=np.arange(1.0, len(t_s) + 1),
        columns={},
    )


@pytest.mark.parametrize(
    ("recorded_s", "every_s"), [(5.0, 1.0), (10.0, 1.0), (10.0, 2.0), (15.0, 2.0), (15.0, 5.0)]
)
def test_a_log_drawn_out_by_straight_lines_is_not_suspected(recorded_s: float, every_s: float) -> None:
    """Its corners look like seams and noise, its lines like smoothing: a converter made them."""
    for number, case in enumerate(clean_flights(FLIGHTS, seed=23, sensor=GOOD)):
        track = drawn_out(record(case.flight, Sensor(interval_s=recorded_s), seed=number), every_s)

        flags = seen(track, case.procedure)

        assert strong(flags) == [], case.name


@pytest.mark.parametrize("interval_s", [5.0, 10.0])
def test_a_log_whose_positions_come_late_is_not_suspected(interval_s: float) -> None:
    """A receiver that hears seldom writes what it heard last: one step too long, the next too short."""
    for number, case in enumerate(clean_flights(FLIGHTS, seed=29, sensor=GOOD)):
        track = late(record(case.flight, GOOD, seed=number), interval_s, seed=number)

        assert strong(seen(track, case.procedure)) == [], case.name


def test_a_log_of_another_flight_is_looked_at_like_any(honest: tuple[Track, Procedure]) -> None:
    """Where the debrief refused it, the log is still conditioned: what breaks off is known."""
    track, _ = honest
    edited = EDITS["beside"](track, random.Random("beside"))

    assert strong(signs_of(track, None, None)) == []
    assert strong(signs_of(edited, None, None)) != []
    assert strong(signs_of(_broken_off(track), None, None)) == []


def test_of_a_log_that_nothing_can_be_made_of_no_step_counts(honest: tuple[Track, Procedure]) -> None:
    """Samples over a minute apart are refused; an altitude that steps there is no sign."""
    track, _ = honest
    sparse = only(track, np.arange(len(track)) % 11 == 0)
    altitude = sparse.altitude_ft.copy()
    altitude[30:45] += 400.0

    flags = signs_of(replace(sparse, t_s=sparse.t_s * 6.0, altitude_ft=altitude), None, None)

    assert [flag for flag in flags if flag.sign != "edited_times" and flag.strength >= TO_EXAMINER] == []


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_an_altitude_off_by_thousands_is_a_receivers_error(interval_s: float) -> None:
    case = next(clean_flights(1, seed=5, sensor=GOOD))
    track = record(case.flight, Sensor(interval_s=interval_s), seed=3)
    altitude = track.altitude_ft.copy()
    start = len(track) // 2
    altitude[start : start + round(60.0 / interval_s)] += 2600.0

    flags = seen(replace(track, altitude_ft=altitude), case.procedure)

    assert strong(flags) == []
    assert max(flag.strength for flag in flags if flag.sign == "altitude_disagrees") == 0.4


@pytest.mark.parametrize("every_s", [1.0, 5.0])
def test_a_flight_received_from_afar_is_not_suspected(every_s: float) -> None:
    """Level parts without any scatter, steps after dropouts, climbs written more finely than the rest."""
    for number, case in enumerate(clean_flights(4, seed=11, sensor=GOOD)):
        track = received(record(case.flight, GOOD, seed=number), number, every_s=every_s)

        assert strong(seen(track, case.procedure)) == [], case.name


def test_a_log_that_breaks_off_again_and_again_tells_nothing_by_its_steps(
    honest: tuple[Track, Procedure],
) -> None:
    track, procedure = honest

    assert strong(seen(_broken_off(track), procedure)) == []


def test_columns_that_were_not_received_for_a_while_are_honest() -> None:
    case = next(clean_flights(1, seed=5, sensor=GOOD))
    track = record(case.flight, RECORDERS["with columns"], seed=3)
    columns = {name: column.copy() for name, column in track.columns.items()}
    for name in ("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min"):
        for start in range(200, len(track) - 100, 250):
            columns[name][start : start + 70] = columns[name][start]

    assert strong(seen(replace(track, columns=columns), case.procedure)) == []


def _broken_off(track: Track) -> Track:
    latitude, altitude = track.latitude_deg.copy(), track.altitude_ft.copy()
    kept = np.ones(len(track), dtype=bool)
    for number, at in enumerate(range(150, len(track) - 100, 150)):
        kept[at : at + 25] = False
        latitude[at + 60 :] += (-1) ** number * 0.003
        altitude[at + 60 :] += (-1) ** number * 200.0
    return only(replace(track, latitude_deg=latitude, altitude_ft=altitude), kept)


def late(track: Track, every_s: float, *, seed: int) -> Track:
    """What was heard last at even times, of samples heard now and then."""
    draw = np.random.default_rng(seed)
    heard = np.unique([0, *draw.choice(len(track), len(track) // 2)])
    t_s = np.arange(track.t_s[0] + every_s, track.t_s[-1], every_s)
    shown = heard[np.searchsorted(track.t_s[heard], t_s, side="right") - 1]
    return replace(only(track, shown), t_s=t_s, line=np.arange(1.0, len(t_s) + 1))
