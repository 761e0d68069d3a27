"""A ground speed typed over a leg; an airspeed in its column, held by an autopilot: honest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from tests.checkride.logs import strong
from tests.ensembles import GOOD, clean_flights

COLUMNS = ("groundspeed_kt", "ground_track_true_deg", "vertical_speed_ft_min")
FLIGHTS = 5


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 5.0])
def test_a_ground_speed_typed_over_a_final_is_found(interval_s: float) -> None:
    """The other columns of the same receiver go on: it was received."""
    sensor = Sensor(interval_s=interval_s, columns=COLUMNS)
    for number, case in enumerate(clean_flights(FLIGHTS, seed=97, sensor=GOOD)):
        track = record(case.flight, sensor, seed=number)
        span = case.truth.attempts[-1].span("final")
        assert span is not None
        inside = (track.t_s > span[0]) & (track.t_s < span[1])
        speed_kt = track.columns["groundspeed_kt"]
        typed = np.where(inside, np.round(np.median(speed_kt[inside]) - 9.0), speed_kt)
        found = strong(replace(track, columns=dict(track.columns) | {"groundspeed_kt": typed}))

        assert any(words.startswith("speed_disagrees") for words in found)
        assert strong(track) == []


def test_a_ground_speed_that_was_not_received_beside_others_that_were_not_is_honest() -> None:
    sensor = Sensor(columns=COLUMNS)
    for number, case in enumerate(clean_flights(FLIGHTS, seed=97, sensor=GOOD)):
        track = record(case.flight, sensor, seed=number)
        inside = np.abs(track.t_s - track.t_s[-1] / 2.0) < 40.0
        first = int(np.argmax(inside))
        stood = {name: np.where(inside, values[first], values) for name, values in track.columns.items()}

        assert not any("ground speed stands" in words for words in strong(replace(track, columns=stood)))


def test_an_airspeed_that_is_held_in_the_column_of_the_ground_speed_is_honest() -> None:
    """A wind makes the positions faster than the airspeed at which it stands, on either side of the stand as well."""
    sensor = Sensor(
        interval_s=2.0,
        columns=("airspeed_ktas", "heading_true_deg"),
        speed_noise_kt=0.0,
        direction_noise_deg=0.0,
    )
    for number, case in enumerate(clean_flights(10, seed=1501, sensor=GOOD, first=30)):
        track = record(case.flight, sensor, seed=number)
        columns = {
            "groundspeed_kt": track.columns["airspeed_ktas"],
            "ground_track_true_deg": track.columns["heading_true_deg"],
        }

        assert strong(replace(track, columns=columns)) == []
