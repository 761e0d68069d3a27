"""Signs that speak of a whole log: positions turned or mirrored, times stretched or numbered anew; honest ones beside."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.checkride.model import TO_EXAMINER
from debrief.checkride.signs import signs_of
from debrief.navigation.magnetism import variation_deg
from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Floats, Track
from tests.checkride.logs import written
from tests.ensembles import GOOD, clean_flights

COLUMNS = ("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min")
FLIGHTS = 6


def logs(interval_s: float = 1.0, columns: tuple[str, ...] = COLUMNS) -> list[Track]:
    sensor = Sensor(interval_s=interval_s, columns=columns)
    return [
        record(case.flight, sensor, seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS, seed=47, sensor=GOOD))
        if abs(case.procedure.station.longitude) < 179.0
    ]


def found(track: Track) -> set[str]:
    return {flag.sign for flag in signs_of(track, None, None) if flag.strength >= TO_EXAMINER}


def placed(track: Track, turn_deg: float, *, mirrored: bool = False) -> Track:
    """About its first position turned clockwise, before that mirrored about its meridian."""
    north = track.latitude_deg - track.latitude_deg[0]
    across = np.cos(np.radians(track.latitude_deg[0]))
    east = (track.longitude_deg - track.longitude_deg[0]) * across * (-1.0 if mirrored else 1.0)
    turn = np.radians(turn_deg)
    latitude = track.latitude_deg[0] + north * np.cos(turn) - east * np.sin(turn)
    longitude = track.longitude_deg[0] + (east * np.cos(turn) + north * np.sin(turn)) / across
    return replace(track, latitude_deg=np.round(latitude, 5), longitude_deg=np.round(longitude, 5))


def resampled(track: Track, pace: float) -> Track:
    """Times multiplied, and everything made anew at the old interval."""
    new_s = np.arange(0.0, track.t_s[-1] * pace, float(np.median(np.diff(track.t_s))))

    def at(values: Floats) -> Floats:
        return np.interp(new_s / pace, track.t_s, values)

    columns = {name: at(values) for name, values in track.columns.items() if "deg" not in name}
    return replace(
        track,
        t_s=new_s,
        latitude_deg=np.round(at(track.latitude_deg), 5),
        longitude_deg=np.round(at(track.longitude_deg), 5),
        altitude_ft=np.round(at(track.altitude_ft)),
        columns=columns,
        part=np.zeros(len(new_s)),
        line=np.arange(1.0, len(new_s) + 1),
    )


def off_field(track: Track, turn_deg: float) -> bool:
    """Whether no magnetic track explains a turn by so much."""
    place = float(track.latitude_deg[0]), float(track.longitude_deg[0])
    field_deg = variation_deg(*place, 0.0, track.epoch)
    return np.isfinite(field_deg) and abs(field_deg - turn_deg) > 5.0


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_a_log_that_was_turned_is_found_by_its_track(interval_s: float) -> None:
    tried = [track for track in logs(interval_s) if off_field(track, 14.0)]
    shown = ["speed_disagrees" in found(placed(track, 14.0)) for track in tried]

    assert len(shown) >= 3
    assert sum(shown) >= len(shown) - 1


@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_a_log_that_was_mirrored_is_found_by_its_track(interval_s: float) -> None:
    shown = ["speed_disagrees" in found(placed(track, 60.0, mirrored=True)) for track in logs(interval_s)]

    assert sum(shown) >= len(shown) - 1


@pytest.mark.parametrize("pace", [0.85, 1.2])
def test_times_multiplied_and_made_even_are_found_by_two_columns(pace: float) -> None:
    shown = ["edited_times" in found(resampled(track, pace)) for track in logs()]

    assert sum(shown) >= len(shown) - 1


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 5.0])
def test_samples_left_out_and_the_others_numbered_anew_are_found(interval_s: float) -> None:
    shown = []
    for number, track in enumerate(logs(interval_s, ())):
        kept = np.flatnonzero(np.random.default_rng(number).random(len(track)) > 0.1)
        names = ("latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
        thinner = replace(track, t_s=track.t_s[: len(kept)], **{n: getattr(track, n)[kept] for n in names})
        shown.append("edited_times" in found(thinner))

    assert sum(shown) >= len(shown) - 1


def test_a_magnetic_track_is_honest() -> None:
    for track in logs():
        place = float(track.latitude_deg[0]), float(track.longitude_deg[0])
        field_deg = variation_deg(*place, 0.0, track.epoch)
        way = (track.columns["ground_track_true_deg"] - np.nan_to_num(field_deg)) % 360.0

        assert found(replace(track, columns=dict(track.columns) | {"ground_track_true_deg": way})) == set()


def test_a_late_track_of_who_circles_to_one_side_is_honest() -> None:
    """At half a degree a second and eight seconds late it is four degrees off on every course."""
    t_s = np.arange(0.0, 3600.0, 5.0)
    way = np.radians(0.5 * t_s)
    radius_deg = 80.0 / np.radians(0.5) / 111_195.0
    noise_deg = np.random.default_rng(3).normal(0.0, 4e-5, (2, len(t_s)))
    track = replace(
        written(
            t_s,
            np.round(48.0 + radius_deg * np.sin(way) + noise_deg[0], 6),
            np.round(11.0 + radius_deg * np.cos(way) / np.cos(np.radians(48.0)) + noise_deg[1], 6),
            np.full(len(t_s), 9000.0),
        ),
        columns={"ground_track_true_deg": np.round(-0.5 * (t_s - 8.0) % 360.0, 1)},
    )

    assert found(track) == set()


def test_a_track_that_a_decoder_has_wrong_is_honest() -> None:
    """By 103 degrees in all messages of some receivers: nobody turns a flight so far."""
    for track in logs():
        way = (track.columns["ground_track_true_deg"] + 103.0) % 360.0

        assert found(replace(track, columns=dict(track.columns) | {"ground_track_true_deg": way})) == set()


@pytest.mark.parametrize("factor", [1.852, 1.15078, 0.514444])
def test_a_speed_in_another_unit_is_honest(factor: float) -> None:
    for track in logs():
        speed = track.columns["groundspeed_kt"] * factor

        assert found(replace(track, columns=dict(track.columns) | {"groundspeed_kt": speed})) == set()


def test_positions_that_are_late_are_honest() -> None:
    """A long step that makes up for a short one: nothing was left out."""
    for number, track in enumerate(logs(1.0, ())):
        late = np.flatnonzero(np.random.default_rng(number).random(len(track)) < 0.1)
        late = late[late > 0]
        latitude, longitude = track.latitude_deg.copy(), track.longitude_deg.copy()
        latitude[late], longitude[late] = track.latitude_deg[late - 1], track.longitude_deg[late - 1]

        assert found(replace(track, latitude_deg=latitude, longitude_deg=longitude)) == set()
