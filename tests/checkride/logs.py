"""Logs for the search for signs: invented ones written down as they are, parts of others, and what is found in them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from debrief.checkride.model import TO_EXAMINER
from debrief.checkride.signs import signs_of
from debrief.tracks.model import Floats, Track


def written(t_s: Floats, latitude_deg: Floats, longitude_deg: Floats, altitude_ft: Floats) -> Track:
    """A log of these samples, without any column besides."""
    return Track(
        file="flight.csv",
        sha256="0" * 64,
        format="csv",
        epoch=datetime(2026, 5, 1, 12, tzinfo=UTC),
        t_s=t_s,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_ft=altitude_ft,
        part=np.zeros(len(t_s)),
        line=np.arange(1.0, len(t_s) + 1),
    )


def only(track: Track, kept: np.ndarray) -> Track:
    """Some samples of a log, without its columns."""
    names = ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
    return replace(track, **{name: getattr(track, name)[kept] for name in names}, columns={})


def strong(track: Track) -> list[str]:
    """What of a log goes to the examiner."""
    return [f"{f.sign}: {f.evidence}" for f in signs_of(track, None, None) if f.strength >= TO_EXAMINER]


def aerobatics(interval_s: float, noise_m: float, seed: int) -> Track:
    """Steep turns, banks from side to side, pulls and pushes, and straight flight between them, with its columns."""
    random = np.random.default_rng(seed)
    fine_s = np.arange(0.0, 1500.0, 0.05)
    bank_deg, climb_ft_s = np.zeros(len(fine_s)), np.zeros(len(fine_s))
    for start_s in np.arange(60.0, 1400.0, 90.0):
        inside = (fine_s >= start_s) & (fine_s < start_s + random.uniform(40.0, 70.0))
        kind = random.integers(3)
        if kind == 0:
            bank_deg[inside] = random.choice([-1.0, 1.0]) * random.uniform(50.0, 70.0)
        elif kind == 1:
            to_and_fro = np.sin(2.0 * np.pi * fine_s[inside] / random.uniform(6.0, 16.0))
            bank_deg[inside] = 60.0 * np.sign(to_and_fro)
        else:
            pulled = (fine_s >= start_s) & (fine_s < start_s + 42.0)
            climb_ft_s[pulled] = 60.0 * np.sin(2.0 * np.pi * (fine_s[pulled] - start_s) / 14.0)
    rolled = np.convolve(bank_deg, np.ones(20) / 20.0, mode="same")  # within a second
    height_ft = np.cumsum(climb_ft_s) * 0.05
    speed_m_s = np.sqrt(55.0**2 - 2.0 * 9.80665 * 0.3048 * height_ft)  # which pays for it
    way = np.cumsum(9.80665 * np.tan(np.radians(rolled)) / speed_m_s) * 0.05
    t_s = np.arange(0.0, 1500.0, interval_s)
    velocity = (speed_m_s * np.sin(way), speed_m_s * np.cos(way))
    east_m, north_m = (np.interp(t_s, fine_s, np.cumsum(part) * 0.05) for part in velocity)
    climbed_ft, speed_kt = (np.interp(t_s, fine_s, part) for part in (height_ft, speed_m_s * 3.6 / 1.852))
    north_m, east_m = (part + random.normal(0.0, noise_m, len(t_s)) for part in (north_m, east_m))
    log = written(
        t_s,
        np.round(48.0 + north_m / 111_195.0, 6),
        np.round(11.0 + east_m / 111_195.0 / np.cos(np.radians(48.0)), 6),
        np.round(5000.0 + climbed_ft + random.normal(0.0, 1.0, len(t_s))),
    )
    track_deg = np.round(np.degrees(np.interp(t_s, fine_s, way)) % 360.0, 1) % 360.0
    columns = {"groundspeed_kt": np.round(speed_kt, 1), "ground_track_true_deg": track_deg}
    return replace(log, columns=columns)
