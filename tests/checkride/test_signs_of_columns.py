"""Signs by a log's own columns: what was moved or lifted too slowly to leave a seam, and what honest columns do."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from debrief.checkride.model import TO_EXAMINER, Flag
from debrief.checkride.signs import signs_of
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import written
from tests.ensembles import GOOD, clean_flights

COLUMNS = ("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min", "pressure_altitude_ft")
FLIGHTS = 5


def logs(interval_s: float = 1.0, columns: tuple[str, ...] = COLUMNS) -> list[Track]:
    sensor = Sensor(interval_s=interval_s, columns=columns)
    return [
        record(case.flight, sensor, seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS, seed=41, sensor=GOOD))
    ]


def strong(track: Track) -> list[Flag]:
    return [flag for flag in signs_of(track, None, None) if flag.strength >= TO_EXAMINER]


def eased(track: Track, draw: random.Random, over_s: float) -> Floats:
    """0 outside a part of two minutes or so, 1 inside, by half a cosine at each end."""
    start = draw.uniform(0.15, 0.5) * track.t_s[-1]
    end = start + draw.uniform(100.0, 160.0)
    share = np.clip(np.minimum(track.t_s - start, end - track.t_s) / over_s, 0.0, 1.0)
    return np.asarray((1.0 - np.cos(np.pi * share)) / 2.0)


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("over_s", [20.0, 40.0])
def test_a_part_moved_aside_slowly_is_found(over_s: float, interval_s: float) -> None:
    found = []
    for number, track in enumerate(logs(interval_s)):
        aside_deg = eased(track, random.Random(f"aside {number}"), over_s) * 600.0 / 111_200.0
        moved = replace(track, latitude_deg=np.round(track.latitude_deg + aside_deg, 5))
        found.append("speed_disagrees" in {flag.sign for flag in strong(moved)})

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize("column", ["vertical_speed_ft_min", "pressure_altitude_ft"])
@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_a_part_lifted_slowly_is_found(interval_s: float, column: str) -> None:
    found = []
    for number, track in enumerate(logs(interval_s, (column,))):
        lift_ft = np.round(eased(track, random.Random(f"lift {number}"), 20.0) * 300.0)
        flags = strong(replace(track, altitude_ft=track.altitude_ft + lift_ft))
        found.append("altitude_disagrees" in {flag.sign for flag in flags})

    assert sum(found) >= len(found) - 1


def test_a_floor_with_a_scatter_of_its_own_is_found() -> None:
    found = []
    for number, track in enumerate(logs()):
        floor_ft = float(track.altitude_ft.min()) + 500.0
        scatter = np.abs(np.random.default_rng(number).normal(0.0, 3.0, len(track)))
        held = np.where(track.altitude_ft < floor_ft, np.round(floor_ft + scatter), track.altitude_ft)
        found.append("altitude_disagrees" in {flag.sign for flag in strong(replace(track, altitude_ft=held))})

    assert sum(found) >= len(found) - 1


def late(values: Floats, interval_s: float, over_s: float) -> Floats:
    """As a filter of the first order with that time constant gives them."""
    keep = np.exp(-interval_s / over_s)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0])


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
def test_a_late_rate_of_climb_tells_of_a_floor_in_a_descent(interval_s: float) -> None:
    """How late it is shows elsewhere in the log, and hides nothing."""
    found = []
    for number, track in enumerate(logs(interval_s, ("vertical_speed_ft_min",))):
        floor_ft = float(track.altitude_ft.min()) + 250.0
        scatter = np.abs(np.random.default_rng(number).normal(0.0, 3.0, len(track)))
        held = np.where(track.altitude_ft < floor_ft, np.round(floor_ft + scatter), track.altitude_ft)
        rate = late(track.columns["vertical_speed_ft_min"], interval_s, 3.0)
        edited = replace(track, altitude_ft=held, columns={"vertical_speed_ft_min": rate})
        found.append("altitude_disagrees" in {flag.sign for flag in strong(edited)})

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize("interval_s", [0.5, 1.0])
def test_columns_made_anew_from_a_part_that_was_moved_are_found(interval_s: float) -> None:
    """To the last digit of the columns, where the rest of the log measured them.

    Over longer steps so little as these positions scatter makes no difference of a knot.
    """
    found = []
    for number, track in enumerate(logs(interval_s, COLUMNS[:3])):
        inside = eased(track, random.Random(f"made {number}"), 25.0)
        latitude = np.round(track.latitude_deg + inside * 400.0 / 111_200.0, 5)
        north = np.gradient(latitude, track.t_s) * 111_200.0 * 3600.0 / 1852.0
        east = np.gradient(track.longitude_deg, track.t_s) * np.cos(np.radians(latitude)) * 111_200.0
        east *= 3600.0 / 1852.0
        made = {
            "groundspeed_kt": np.round(np.hypot(north, east)),
            "ground_track_true_deg": np.round(np.degrees(np.arctan2(east, north)) % 360.0) % 360.0,
        }
        columns = dict(track.columns)
        for name, values in made.items():
            columns[name] = np.where(inside > 0.0, values, columns[name])
        found.append(
            "spliced" in {f.sign for f in strong(replace(track, latitude_deg=latitude, columns=columns))}
        )

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_columns_made_from_the_positions_of_a_whole_log_are_honest(interval_s: float) -> None:
    """As a program makes them for a log that has none."""
    for track in logs(interval_s, COLUMNS[:3]):
        north = np.gradient(track.latitude_deg, track.t_s) * 111_200.0
        east = (
            np.gradient(track.longitude_deg, track.t_s) * np.cos(np.radians(track.latitude_deg)) * 111_200.0
        )
        columns = {
            "groundspeed_kt": np.round(np.hypot(north, east) * 3600.0 / 1852.0, 1),
            "ground_track_true_deg": np.round(np.degrees(np.arctan2(east, north)) % 360.0, 1) % 360.0,
            "vertical_speed_ft_min": np.round(np.gradient(track.altitude_ft, track.t_s) * 60.0),
        }

        assert strong(replace(track, columns=columns)) == []


@pytest.mark.parametrize("interval_s", [1.0, 2.0])
def test_a_simulators_exact_rate_of_climb_is_honest(interval_s: float) -> None:
    """It is the change of altitude to the last digit wherever it does not change itself, and another where it does."""
    fine_s = np.arange(0.0, 900.0, 0.1)
    for seed in range(4):
        draw = np.random.default_rng(seed)
        # steady for a minute, changing for three: what the steps before and after make of it is another rate
        asked = 500.0 * np.sin(fine_s / 3.0 + draw.uniform(0.0, 6.0))
        steady = (fine_s > 400.0) & (fine_s < 520.0)
        rate = np.where(steady, -600.0 + 8.0 * np.sin(fine_s / 12.0), asked)
        altitude_ft = 5000.0 + np.cumsum(rate) * 0.1 / 60.0
        t_s = np.arange(0.0, 890.0, interval_s)
        at = np.round(t_s * 10.0).astype(int)
        track = written(
            t_s,
            np.round(48.0 + 55.0 * t_s / 111_195.0, 8),
            np.round(11.0 + 400.0 * np.sin(t_s / 80.0) / 74_500.0, 8),
            np.round(altitude_ft[at], 3),
        )
        told = replace(track, columns={"vertical_speed_ft_min": np.round(rate[at])})

        assert not any(flag.sign == "spliced" for flag in strong(told))


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("latitude_deg", [10.0, 15.0, 20.0])
def test_a_simulators_exact_ground_speed_on_another_earth_is_honest(
    latitude_deg: float, interval_s: float
) -> None:
    """On the ellipsoid a degree of latitude is half a percent shorter there than on a sphere, one of longitude longer.

    So a difference of positions on a sphere is the speed to its digits on some courses, and on others it is not.
    """
    fine_s = np.arange(0.0, 900.0, 0.05)
    speed_kt = 110.0 + 9.0 * np.sin(fine_s / 9.0) + 4.0 * np.sin(fine_s / 3.1)
    course = np.radians(np.interp(fine_s, [300.0, 320.0, 420.0, 440.0], [0.0, 60.0, 60.0, 0.0]))
    # radii of curvature of WGS 84 (NGA.STND.0036)
    axis_m, squared = 6_378_137.0, 0.00669437999014
    wide = 1.0 - squared * np.sin(np.radians(latitude_deg)) ** 2
    north_m, east_m = (np.cumsum(speed_kt * part(course)) * 0.05 / 1.943844 for part in (np.cos, np.sin))
    at = np.round(np.arange(0.0, 895.0, interval_s) / 0.05).astype(int)
    across_m = axis_m / wide**0.5 * np.cos(np.radians(latitude_deg))
    track = written(
        fine_s[at],
        np.round(latitude_deg + np.degrees(north_m[at] * wide**1.5 / (axis_m * (1.0 - squared))), 7),
        np.round(11.0 + np.degrees(east_m[at] / across_m), 7),
        np.full(len(at), 3000.0),
    )

    assert strong(replace(track, columns={"groundspeed_kt": np.round(speed_kt[at], 1)})) == []


def test_evidence_says_how_far_the_columns_are_off() -> None:
    track = logs()[0]
    aside_deg = eased(track, random.Random("aside 0"), 20.0) * 600.0 / 111_200.0

    flags = strong(replace(track, latitude_deg=np.round(track.latitude_deg + aside_deg, 5)))

    (evidence,) = (flag.evidence for flag in flags if flag.sign == "speed_disagrees")
    assert abs(float(evidence.split(" move ")[1].split(" m ")[0]) - 600.0) < 60.0


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
@pytest.mark.parametrize("lasting_s", [200.0, np.inf])
def test_a_pressure_altitude_that_steps_is_honest(lasting_s: float, interval_s: float) -> None:
    """Its source was set anew, or fails: the altitude itself goes on as it was."""
    for track in logs(interval_s):
        start = 0.55 * track.t_s[-1]
        stepped = np.where((track.t_s > start) & (track.t_s < start + lasting_s), 141.0, 0.0)
        columns = dict(track.columns)
        columns["pressure_altitude_ft"] = columns["pressure_altitude_ft"] + stepped

        assert strong(replace(track, columns=columns)) == []


@pytest.mark.parametrize("share", [-0.1, 0.1])
def test_air_far_from_the_standards_temperature_is_honest(share: float) -> None:
    """Pressure altitude is then off by a share of the height, more in the cruise than on the approach."""
    for track in logs():
        columns = dict(track.columns) | {
            "pressure_altitude_ft": np.round(track.altitude_ft * (1.0 + share) / 25.0) * 25.0
        }

        assert strong(replace(track, columns=columns)) == []


def test_a_heading_and_an_airspeed_in_place_of_track_and_ground_speed_are_honest() -> None:
    """They change with each turn against the positions, and never on a leg."""
    for track in logs():
        way = np.radians(track.columns["ground_track_true_deg"])
        columns = dict(track.columns)
        columns["ground_track_true_deg"] = (np.degrees(way) + 11.0 * np.sin(way - 1.0)) % 360.0
        columns["groundspeed_kt"] = columns["groundspeed_kt"] * (1.0 + 0.15 * np.cos(way - 1.0))

        assert strong(replace(track, columns=columns)) == []


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 5.0])
def test_columns_filtered_over_some_seconds_are_honest(interval_s: float) -> None:
    """Late by five seconds, as a vertical speed indicator is and a filtered velocity may be."""
    for track in logs(interval_s):
        columns = dict(track.columns)
        way = np.unwrap(np.radians(columns["ground_track_true_deg"]))
        keep = np.exp(-interval_s / 5.0)
        for name, values in (("ground_track_true_deg", way), ("vertical_speed_ft_min", None)):
            raw = columns[name] if values is None else values
            late = np.empty_like(raw)
            late[0] = raw[0]
            for k in range(1, len(raw)):
                late[k] = keep * late[k - 1] + (1.0 - keep) * raw[k]
            columns[name] = late if values is None else np.degrees(late) % 360.0

        assert strong(replace(track, columns=columns)) == []


@pytest.mark.parametrize("over_s", [15.0, 30.0])
def test_a_part_lifted_or_moved_by_little_is_found_where_columns_are_exact(over_s: float) -> None:
    """90 ft and 100 m turn a failed item into a pass; a simulator's columns are right to their last digit."""
    exact = Sensor(
        position_noise_m=0.0,
        position_wander_m=0.0,
        decimals=6,
        altitude_noise_ft=0.0,
        altitude_wander_ft=0.0,
        columns=("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min"),
        speed_noise_kt=0.0,
        direction_noise_deg=0.0,
    )
    lifted, moved = [], []
    for number, case in enumerate(clean_flights(FLIGHTS, seed=41, sensor=GOOD)):
        track = record(case.flight, exact, seed=number)
        part = eased(track, random.Random(f"little {number}"), over_s)
        lift = replace(track, altitude_ft=track.altitude_ft + np.round(part * 90.0))
        aside = replace(track, latitude_deg=np.round(track.latitude_deg + part * 100.0 / 111_200.0, 6))
        lifted.append("altitude_disagrees" in {flag.sign for flag in strong(lift)})
        moved.append("speed_disagrees" in {flag.sign for flag in strong(aside)})

        assert strong(track) == []

    assert min(sum(lifted), sum(moved)) >= FLIGHTS - 1


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 5.0])
def test_a_dropout_bridged_in_every_column_is_honest(interval_s: float) -> None:
    """Over straight lines a rate of climb, a speed and a track do not add up to where the lines lead."""
    for track in logs(interval_s, ("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min")):
        start, end = np.searchsorted(track.t_s, np.array([0.45, 0.45]) * track.t_s[-1] + [0.0, 60.0])
        share = np.linspace(0.0, 1.0, end - start + 1)
        drawn = {}
        for name in ("latitude_deg", "longitude_deg", "altitude_ft", *track.columns):
            raw = track.columns[name] if name in track.columns else getattr(track, name)
            values = np.degrees(np.unwrap(np.radians(raw))) if name.startswith("ground_track") else raw.copy()
            values[start : end + 1] = values[start] + share * (values[end] - values[start])
            drawn[name] = values % 360.0 if name.startswith("ground_track") else values
        columns = {name: drawn.pop(name) for name in track.columns}

        bridged = replace(
            track,
            latitude_deg=drawn["latitude_deg"],
            longitude_deg=drawn["longitude_deg"],
            altitude_ft=drawn["altitude_ft"],
            columns=columns,
        )

        assert strong(bridged) == []


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
def test_a_ground_speed_column_held_down_to_a_limit_is_found(interval_s: float) -> None:
    found = []
    for track in logs(interval_s):
        speed_kt = track.columns["groundspeed_kt"]
        limit_kt = np.round(float(speed_kt.max()) - 12.0)
        columns = dict(track.columns) | {"groundspeed_kt": np.minimum(speed_kt, limit_kt)}

        found.append("speed_disagrees" in {flag.sign for flag in strong(replace(track, columns=columns))})

    assert sum(found) >= len(found) - 1


def test_a_ground_speed_that_was_not_received_at_its_highest_is_honest() -> None:
    """It stands, and is another when it comes again."""
    for track in logs():
        speed_kt = track.columns["groundspeed_kt"].copy()
        start = int(np.argmax(speed_kt))
        speed_kt[start : start + 60] = speed_kt[start]

        assert strong(replace(track, columns=dict(track.columns) | {"groundspeed_kt": speed_kt})) == []


@pytest.mark.parametrize("unit", [0.5144, 1.852])
def test_a_ground_speed_in_another_unit_is_honest(unit: float) -> None:
    """It stands at its highest now and then, in whole numbers."""
    for track in logs():
        columns = dict(track.columns)
        columns["groundspeed_kt"] = np.round(columns["groundspeed_kt"] * unit)

        assert strong(replace(track, columns=columns)) == []


def test_a_rate_of_climb_that_is_not_received_any_more_is_honest() -> None:
    """It stands where it was, to the log's end, while the altitude goes on: as receivers write that hear no more of it."""
    for track in logs(columns=("vertical_speed_ft_min",)):
        rate_ft_min = track.columns["vertical_speed_ft_min"]
        steep = np.abs(rate_ft_min) > 400.0
        last = int(np.flatnonzero(steep[: len(steep) - 90])[-1])
        never_again = np.where(np.arange(len(track)) > last, rate_ft_min[last], rate_ft_min)
        unheard = replace(track, columns={"vertical_speed_ft_min": never_again})

        assert strong(unheard) == []


def test_positions_that_are_renewed_late_at_two_seconds_are_honest() -> None:
    """More and more behind on their way, until one is heard again: as receivers on the ground write them."""
    t_s = np.arange(0.0, 1400.0, 2.0)
    course_deg = np.interp(t_s, [300.0, 360.0, 900.0, 990.0], [70.0, 100.0, 100.0, 40.0])
    speed_m_s = 190.0
    way_m = np.cumsum(
        2.0 * speed_m_s * np.stack([np.sin(np.radians(course_deg)), np.cos(np.radians(course_deg))]), axis=1
    )
    behind_s = np.interp(t_s, [640.0, 650.0, 650.1], [0.0, 2.4, 0.0])
    noise_m = np.random.default_rng(1).normal(0.0, 2.0, way_m.shape)
    east_m, north_m = np.stack([np.interp(t_s - behind_s, t_s, part) for part in way_m]) + noise_m
    log = written(
        t_s, 48.0 + north_m / 111_195.0, 11.0 + east_m / 111_195.0 / np.cos(np.radians(48.0)), 5000.0 + t_s
    )
    columns = {
        "groundspeed_kt": np.full(len(t_s), np.round(speed_m_s * 3.6 / 1.852)),
        "ground_track_true_deg": np.round(course_deg, 1),
    }

    assert "speed_disagrees" not in {flag.sign for flag in strong(replace(log, columns=columns))}


def test_a_ground_speed_that_is_not_received_on_the_landing_run_is_honest() -> None:
    """It stands where it was, then where it was heard again, and again, while the aircraft brakes."""
    t_s = np.arange(0.0, 930.0, 2.0)
    speed_m_s = np.interp(t_s, [0.0, 780.0, 830.0, 850.0], [72.0, 70.0, 24.0, 9.0])
    column = np.round(np.interp(t_s - 3.0, t_s, speed_m_s) * 3.6 / 1.852)
    for heard_s, heard_kt in ((784.0, 132.0), (798.0, 121.0), (811.0, 108.0)):
        column[t_s > heard_s] = heard_kt
    north_m = np.concatenate([[0.0], np.cumsum(2.0 * (speed_m_s[1:] + speed_m_s[:-1]) / 2.0)])
    noise_m = np.random.default_rng(2).normal(0.0, 2.0, len(t_s))
    longitude_deg = 11.0 + noise_m / 111_195.0
    log = written(
        t_s, 48.0 + north_m / 111_195.0, longitude_deg, np.round(np.maximum(300.0, 3000.0 - 4.0 * t_s))
    )

    assert strong(replace(log, columns={"groundspeed_kt": column})) == []
