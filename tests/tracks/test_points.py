"""The little geometry of the conditioning, against an independent library."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from debrief.tracks.points import Points
from tests.tracks.flights import APPROACH, flown, recorded


@pytest.mark.parametrize("latitude_deg", [-70.0, -30.0, 0.0, 47.0, 70.0])
@pytest.mark.parametrize("far_deg", [0.001, 0.02, 0.15])
def test_offsets_agree_with_geodesics(latitude_deg, far_deg):
    """geographiclib 2 (C. F. F. Karney), one metre within 10 NM; across the antimeridian."""
    log = recorded(flown(APPROACH, latitude_deg=latitude_deg, longitude_deg=179.99), 1.0).pick(slice(0, 2))
    scale = np.cos(np.radians(latitude_deg))
    log = log.set(
        latitude_deg=np.array([latitude_deg, latitude_deg + far_deg * 0.6]),
        longitude_deg=np.array([179.99, 179.99 + far_deg * 0.8 / scale]),
    )
    points = Points.of(log.track(), np.arange(2))

    distance_m = float(points.distance_m(np.array([0]), np.array([1]))[0])

    expected = Geodesic.WGS84.Inverse(
        *(float(v) for pair in zip(log.latitude_deg, log.longitude_deg, strict=True) for v in pair)
    )
    assert distance_m == pytest.approx(expected["s12"], abs=1.0)


@pytest.mark.parametrize(
    ("decimals", "rounding_deg"), [(3, 1e-3), (4, 1e-4), (5, 1e-5), (6, 1e-6), (7, 1e-7), (12, 0.0)]
)
def test_rounding_is_seen(decimals, rounding_deg):
    points = Points.of(recorded(flown(APPROACH), 1.0, decimals=decimals).track(), np.arange(600))

    assert points.rounding_deg == pytest.approx(rounding_deg, rel=1e-9)


def test_thousandths_of_a_minute_are_seen():
    """The grain of a flight recorder file: 0.001 minute is 1.85 m (computed)."""
    log = recorded(flown(APPROACH), 1.0, decimals=12)
    log = log.set(
        latitude_deg=np.round(log.latitude_deg * 6e4) / 6e4,
        longitude_deg=np.round(log.longitude_deg * 6e4) / 6e4,
    )

    points = Points.of(log.track(), np.arange(600))

    assert points.rounding_m == pytest.approx(1.855, abs=0.01)


def test_single_precision_is_seen():
    log = recorded(flown(APPROACH), 1.0, decimals=12)
    single = [
        column.astype(np.float32).astype(np.float64) for column in (log.latitude_deg, log.longitude_deg)
    ]

    points = Points.of(log.set(latitude_deg=single[0], longitude_deg=single[1]).track(), np.arange(600))

    assert points.rounding_deg == pytest.approx(2.0**-18, rel=1e-9)  # of numbers from 32 to 64: 24 bits


def test_the_local_speed_ignores_wild_samples():
    log = recorded(flown(((300, 0, 120, 0),)), 1.0).moved(np.arange(20, 280, 20), 50_000.0, 0.0)

    speed_kt = Points.of(log.track(), np.arange(300)).local_speed_m_s * 3600 / 1852

    assert np.abs(speed_kt - 120.0).max() < 1.0
