"""Parts that were typed: straight lines beside a receiver that went on, and digits of another source."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.simulation.sensor import Sensor, record
from debrief.tracks.model import Track
from tests.checkride.logs import strong
from tests.ensembles import GOOD, clean_flights

FLIGHTS = 5


def logs(sensor: Sensor) -> list[Track]:
    return [
        record(case.flight, sensor, seed=number)
        for number, case in enumerate(clean_flights(FLIGHTS, seed=53, sensor=GOOD))
        if abs(case.procedure.station.longitude) < 179.0
    ]


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0])
def test_a_straight_line_typed_beside_a_living_altitude_is_found(interval_s: float) -> None:
    """A receiver that loses its position loses its altitude with it."""
    found = []
    for track in logs(Sensor(interval_s=interval_s, position_noise_m=2.0)):
        known = (track.t_s < 350.0) | (track.t_s > 470.0)
        latitude, longitude = (
            np.round(np.interp(track.t_s, track.t_s[known], column[known]), 5)
            for column in (track.latitude_deg, track.longitude_deg)
        )
        signs = strong(replace(track, latitude_deg=latitude, longitude_deg=longitude))
        found.append(any("altitude scatter as elsewhere" in sign for sign in signs))

    assert sum(found) >= len(found) - 1


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 5.0, 10.0])
def test_a_part_written_to_fewer_decimals_is_found(interval_s: float) -> None:
    found = []
    for track in logs(Sensor(interval_s=interval_s)):
        part = (track.t_s > 300.0) & (track.t_s < 450.0)
        latitude, longitude = (
            np.where(part, np.round(column, 4), column)
            for column in (track.latitude_deg, track.longitude_deg)
        )
        signs = strong(replace(track, latitude_deg=latitude, longitude_deg=longitude))
        found.append(any("written to 4 decimals of a degree, elsewhere to 5" in sign for sign in signs))

    assert sum(found) >= len(found) - 1


def test_a_straight_leg_whose_positions_are_not_always_renewed_is_honest() -> None:
    """What is left of them between lies on a line, as a steady flight does; who draws one fills it."""
    for number, track in enumerate(logs(Sensor(interval_s=1.0, position_noise_m=2.0))):
        draw = np.random.default_rng(number)
        t_s = track.t_s
        leg = (t_s > 350.0) & (t_s < 470.0)
        renewed = ~leg | (draw.uniform(size=len(track)) < 0.6)
        last = np.maximum.accumulate(np.where(renewed, np.arange(len(track)), 0))
        places = []
        for column in (track.latitude_deg, track.longitude_deg):
            straight = np.round(np.where(leg, np.interp(t_s, t_s[~leg], column[~leg]), column), 5)
            places.append(straight[last])

        signs = strong(replace(track, latitude_deg=places[0], longitude_deg=places[1]))
        assert not any("so nothing had dropped out" in sign for sign in signs)
