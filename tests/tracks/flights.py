"""A small flight generator for these tests, which shares nothing with the code under test.

A flight is a list of legs (seconds, turn rate in deg/s, speed in kt, climb in ft/min), flown without wind on a
sphere of the WGS84 equatorial radius near (latitude, longitude); then a recorder samples it, badly or well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.tracks.model import AltitudeSource, Track

Floats = NDArray[np.float64]
Leg = tuple[float, float, float, float]

EPOCH = datetime(2026, 3, 14, 10, 0, 0, tzinfo=UTC)
STEP_S = 0.05
METRES_A_DEGREE = np.radians(1.0) * 6_378_137.0
KT = 1852 / 3600
ROLL_S = 4.0  # turns and changes of speed are not entered in an instant

#: In, passage, out, a 45/180, back in and down: 120 kt, then 90.
APPROACH: tuple[Leg, ...] = (
    (180, 0, 120, 0),
    (20, 3, 120, 0),
    (90, 0, 120, 0),
    (15, -3, 120, -500),
    (45, 0, 120, -500),
    (60, 3, 120, 0),
    (60, 0, 120, 0),
    (15, -3, 110, 0),
    (90, 0, 100, -600),
    (120, 0, 90, -600),
)
HOLDING: tuple[Leg, ...] = ((60, 0, 100, 0), (60, 3, 100, 0), (60, 0, 100, 0), (60, 3, 100, 0)) * 3
CRUISE: tuple[Leg, ...] = ((900, 0, 140, 0), (40, 1.5, 140, 0), (900, 0, 140, 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """What a recorder wrote: arrays of one entry a sample, in the order of the file."""

    t_s: Floats
    latitude_deg: Floats
    longitude_deg: Floats
    altitude_ft: Floats
    groundspeed_kt: Floats
    track_true_deg: Floats
    climb_ft_min: Floats
    part: Floats | None = None

    def pick(self, index: NDArray[np.int64] | NDArray[np.bool_] | slice) -> Log:
        """The samples ``index``, in that order."""
        part = None if self.part is None else self.part[index]
        return Log(
            t_s=self.t_s[index],
            latitude_deg=self.latitude_deg[index],
            longitude_deg=self.longitude_deg[index],
            altitude_ft=self.altitude_ft[index],
            groundspeed_kt=self.groundspeed_kt[index],
            track_true_deg=self.track_true_deg[index],
            climb_ft_min=self.climb_ft_min[index],
            part=part,
        )

    def set(self, **columns: Floats) -> Log:
        """The same with other columns."""
        return replace(self, **columns)

    def moved(
        self, index: NDArray[np.int64] | NDArray[np.bool_] | slice, east_m: float, north_m: float
    ) -> Log:
        """The same with some positions elsewhere."""
        latitude, longitude = self.latitude_deg.copy(), self.longitude_deg.copy()
        longitude[index] += east_m / (METRES_A_DEGREE * np.cos(np.radians(latitude[index])))
        latitude[index] += north_m / METRES_A_DEGREE
        return replace(self, latitude_deg=latitude, longitude_deg=longitude)

    def track(
        self,
        *,
        source: AltitudeSource = "unknown",
        line_counts: Literal["line", "point"] = "line",
        **columns: Floats,
    ) -> Track:
        """The log as a reader hands it on; line 1 holds headings."""
        count = len(self.t_s)
        return Track(
            file="flight.csv",
            sha256="0" * 64,
            format="csv",
            epoch=EPOCH,
            t_s=self.t_s,
            latitude_deg=self.latitude_deg,
            longitude_deg=(self.longitude_deg + 180.0) % 360.0 - 180.0,
            altitude_ft=self.altitude_ft,
            altitude_source=source,
            part=np.zeros(count) if self.part is None else self.part,
            line=np.arange(2.0, count + 2.0),
            line_counts=line_counts,
            columns=columns,
        )


def flown(
    legs: Sequence[Leg] = APPROACH,
    *,
    latitude_deg: float = 47.0,
    longitude_deg: float = -31.0,
    altitude_ft: float = 4000.0,
    heading_deg: float = 40.0,
    rate_hz: float = 1 / STEP_S,
) -> Log:
    """The true flight, sampled every 0.05 s."""
    wanted = np.concatenate([np.tile(leg[1:], (round(leg[0] * rate_hz), 1)) for leg in legs])
    lag = max(1, round(ROLL_S * rate_hz))
    padded = np.concatenate([np.repeat(wanted[:1], lag, axis=0), wanted])
    summed = np.cumsum(padded, axis=0)
    rate, speed, climb = ((summed[lag:] - summed[:-lag]) / lag).T
    heading = np.radians(heading_deg + np.cumsum(rate) / rate_hz)
    east = np.cumsum(speed * KT * np.sin(heading)) / rate_hz
    north = np.cumsum(speed * KT * np.cos(heading)) / rate_hz
    latitude = latitude_deg + north / METRES_A_DEGREE
    scale = np.cos(np.radians((latitude + np.concatenate([[latitude_deg], latitude[:-1]])) / 2))
    longitude = longitude_deg + np.cumsum(np.diff(east, prepend=0.0) / scale) / METRES_A_DEGREE
    return Log(
        t_s=np.arange(len(rate)) / rate_hz,
        latitude_deg=latitude,
        longitude_deg=longitude,
        altitude_ft=altitude_ft + np.cumsum(climb) / rate_hz / 60.0,
        groundspeed_kt=speed,
        track_true_deg=np.degrees(heading) % 360.0,
        climb_ft_min=climb,
    )


def at_times(true: Log, t_s: Floats) -> Log:
    """The true flight at any times, stamped with them."""
    turned = np.unwrap(np.radians(true.track_true_deg))
    return Log(
        t_s=np.array(t_s, dtype=np.float64),
        latitude_deg=np.interp(t_s, true.t_s, true.latitude_deg),
        longitude_deg=np.interp(t_s, true.t_s, true.longitude_deg),
        altitude_ft=np.interp(t_s, true.t_s, true.altitude_ft),
        groundspeed_kt=np.interp(t_s, true.t_s, true.groundspeed_kt),
        track_true_deg=np.degrees(np.interp(t_s, true.t_s, turned)) % 360.0,
        climb_ft_min=np.interp(t_s, true.t_s, true.climb_ft_min),
    )


def recorded(
    true: Log,
    interval_s: float = 1.0,
    *,
    noise_m: float = 0.0,
    jitter_s: float = 0.0,
    decimals: int = 6,
    altitude_noise_ft: float = 0.0,
    seed: int = 1,
) -> Log:
    """What a recorder writes: every ``interval_s``, with noise, stamps off by up to ``jitter_s``, rounded."""
    random = np.random.default_rng(seed)
    t_s = np.arange(0.0, true.t_s[-1], interval_s)
    log = at_times(true, np.clip(t_s + random.uniform(-jitter_s, jitter_s, len(t_s)), 0, true.t_s[-1]))
    log = log.set(t_s=t_s)
    scale = np.cos(np.radians(log.latitude_deg))
    return log.set(
        latitude_deg=np.round(
            log.latitude_deg + noise_m * random.standard_normal(len(t_s)) / METRES_A_DEGREE, decimals
        ),
        longitude_deg=np.round(
            log.longitude_deg + noise_m * random.standard_normal(len(t_s)) / METRES_A_DEGREE / scale, decimals
        ),
        altitude_ft=log.altitude_ft + altitude_noise_ft * random.standard_normal(len(t_s)),
    )


def bridged(log: Log, start: int, end: int, decimals: int = 6) -> Log:
    """The same with samples ``start`` to ``end`` on a straight line at even speed between those two."""
    latitude, longitude = log.latitude_deg.copy(), log.longitude_deg.copy()
    for column in (latitude, longitude):
        column[start : end + 1] = np.round(
            np.interp(log.t_s[start : end + 1], log.t_s[[start, end]], column[[start, end]]), decimals
        )
    return log.set(latitude_deg=latitude, longitude_deg=longitude)
