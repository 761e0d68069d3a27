"""A recorder: what a log of a simulated flight looks like, with the faults that real logs have.

Owns      ``Sensor`` and ``record``.
Not here  writing files (``writers``), finding such faults (``tracks.conditioning``).

The order is that of the real thing: fixes are taken at their own times, are wrong by some noise, some are
missing or stale; then the recorder rounds, bridges, resamples and stamps; then the file gets damaged.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from debrief.simulation.flight import SimulatedFlight
from debrief.tracks.model import AltitudeSource, Track

Floats = NDArray[np.float64]

METRES_PER_DEGREE = 1852.0 * 60.0
METRES_PER_FT = 0.3048
FT_PER_HPA = 27.3  # near sea level


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """How a log was recorded. The default is a good one: 1 Hz, five decimals, a metre or two of noise."""

    interval_s: float = 1.0
    interval_spread: float = 0.0  # each interval varies by this share, evenly
    grid_s: float | None = None  # resampled onto this grid by straight lines between fixes
    clock_rate: float = 1.0  # seconds of the log for each true second
    stamp_jitter_s: float = 0.0  # standard deviation: the position is of another moment than its stamp
    whole_second_stamps: bool = False  # cut, not rounded
    position_noise_m: float = 1.0  # standard deviation, each axis, fresh at each fix
    position_wander_m: float = 1.5  # standard deviation, each axis, changing over a minute
    decimals: int | None = 5  # of latitude and longitude
    repeat_share: float = 0.0  # share of fixes that repeat the position before
    position_spikes: int = 0  # single samples miles off
    altitude_spikes: int = 0  # single samples thousands of feet off
    altitude_source: AltitudeSource = "gps"
    altitude_noise_ft: float = 3.0
    altitude_wander_ft: float = 10.0  # changing over a minute
    altitude_bias_ft: float = 0.0
    altitude_step_ft: float | None = 1.0  # rounded to multiples of it
    qnh_hpa: float = 1013.25  # a pressure altitude is off by the difference from 1013.25
    zero_on_ground: bool = False
    feet_as_metres: bool = False  # the number of feet stands where metres belong
    gaps: tuple[tuple[float, float], ...] = ()  # without samples, flight seconds
    bridged: tuple[tuple[float, float], ...] = ()  # filled with a straight line at constant speed
    doubled_share: float = 0.0  # share of samples written twice
    swapped_share: float = 0.0  # share of samples that changed places with the next
    columns: tuple[str, ...] = ()  # optional columns to fill, of ``tracks.model.OPTIONAL_COLUMNS``
    speed_noise_kt: float = 0.5
    direction_noise_deg: float = 1.0


_EXACT = {
    "groundspeed_kt": "speed",
    "airspeed_kias": "speed",
    "airspeed_ktas": "speed",
    "ground_track_true_deg": "direction",
    "heading_true_deg": "direction",
    "vertical_speed_ft_min": "rate",
    "on_ground": "flag",
}


def _slow(random: np.random.Generator, t_s: Floats, size: float, lasting_s: float = 60.0) -> Floats:
    """A stationary error of that standard deviation that forgets itself over ``lasting_s``."""
    errors: Floats = np.empty(len(t_s))
    keep = np.exp(-np.diff(t_s, prepend=-np.inf) / lasting_s)  # nothing before the first
    value = 0.0
    for number, fresh in enumerate(random.standard_normal(len(t_s))):
        value = keep[number] * value + np.sqrt(1.0 - keep[number] ** 2) * fresh
        errors[number] = value
    return np.asarray(size * errors)


def _continuous(angles_deg: Floats) -> Floats:
    return np.asarray(np.degrees(np.unwrap(np.radians(angles_deg))))


def _fix_times(flight: SimulatedFlight, sensor: Sensor, random: np.random.Generator) -> Floats:
    first_s, last_s = flight.t_s[0], flight.t_s[-1]
    count = int((last_s - first_s) / sensor.interval_s / (1 - 0.5 * min(sensor.interval_spread, 1.0))) + 2
    spread = sensor.interval_spread * random.uniform(-1.0, 1.0, count)
    times: Floats = first_s + np.concatenate([[0.0], np.cumsum(sensor.interval_s * (1.0 + spread))])
    within: Floats = times[times <= last_s + 1e-9]
    return within


def _true_values(flight: SimulatedFlight, at_s: Floats) -> dict[str, Floats]:
    """The exact flight at any moments, between its steps by straight lines."""
    values: dict[str, Floats] = {}
    for name in ("latitude_deg", "altitude_ft", "groundspeed_kt", "airspeed_kias", "airspeed_ktas",
                 "vertical_speed_ft_min"):  # fmt: skip
        values[name] = np.interp(at_s, flight.t_s, getattr(flight, name))
    for name in ("longitude_deg", "ground_track_true_deg", "heading_true_deg"):
        values[name] = np.interp(at_s, flight.t_s, _continuous(getattr(flight, name)))
    values["on_ground"] = np.interp(at_s, flight.t_s, flight.on_ground.astype(np.float64)).round()
    return values


def _stale(random: np.random.Generator, share: float, count: int) -> NDArray[np.int64]:
    """For each sample, which sample's position it shows."""
    shown = np.arange(count)
    repeats = random.random(count) < share
    if count:
        repeats[0] = False
    shown[repeats] = 0
    return np.maximum.accumulate(shown)


def record(flight: SimulatedFlight, sensor: Sensor | None = None, seed: int = 0) -> Track:
    """The log that the sensor would have made of the flight.

    The same flight, sensor and seed give the same log. Its ``t_s`` counts from its first sample, as for any
    log; ``(track.epoch - flight.epoch).total_seconds()`` is the difference to the flight's time.
    """
    sensor = sensor if sensor is not None else Sensor()
    random = np.random.default_rng(seed)
    stamp_s = _fix_times(flight, sensor, random)
    of_s = stamp_s.copy()
    if sensor.stamp_jitter_s:
        of_s = np.clip(
            of_s + sensor.stamp_jitter_s * random.standard_normal(len(of_s)), flight.t_s[0], flight.t_s[-1]
        )
    values = _measured(flight, sensor, random, stamp_s, of_s)
    stale = _stale(random, sensor.repeat_share, len(stamp_s))
    for name in ("latitude_deg", "longitude_deg"):
        values[name] = values[name][stale]
    stamp_s, values = _bridged(sensor, stamp_s, values)
    if sensor.grid_s is not None:
        grid_s = np.arange(stamp_s[0], stamp_s[-1] + 1e-9, sensor.grid_s)
        values = {name: np.interp(grid_s, stamp_s, column) for name, column in values.items()}
        stamp_s = grid_s
    _add_spikes(sensor, random, values)
    return _written(flight, sensor, random, stamp_s, values, seed)


def _measured(
    flight: SimulatedFlight, sensor: Sensor, random: np.random.Generator, stamp_s: Floats, of_s: Floats
) -> dict[str, Floats]:
    values = _true_values(flight, of_s)
    count = len(stamp_s)
    across = np.cos(np.radians(values["latitude_deg"]))
    for name, scale in (("latitude_deg", np.ones(count)), ("longitude_deg", across)):
        error_m = sensor.position_noise_m * random.standard_normal(count)
        error_m += _slow(random, stamp_s, sensor.position_wander_m)
        values[name] = values[name] + error_m / METRES_PER_DEGREE / scale
    altitude = values["altitude_ft"] + sensor.altitude_bias_ft
    altitude = altitude + sensor.altitude_noise_ft * random.standard_normal(count)
    altitude = altitude + _slow(random, stamp_s, sensor.altitude_wander_ft)
    if sensor.altitude_source == "pressure":
        altitude = altitude + (1013.25 - sensor.qnh_hpa) * FT_PER_HPA
    if sensor.zero_on_ground:
        altitude = np.where(values["on_ground"] > 0, 0.0, altitude)
    values["altitude_ft"] = altitude
    for name, kind in _EXACT.items():
        size = {"speed": sensor.speed_noise_kt, "direction": sensor.direction_noise_deg, "rate": 20.0}.get(
            kind
        )
        if name in sensor.columns and size is not None:
            values[name] = values[name] + size * random.standard_normal(count)
    return values


def _bridged(sensor: Sensor, stamp_s: Floats, values: dict[str, Floats]) -> tuple[Floats, dict[str, Floats]]:
    keep = np.ones(len(stamp_s), dtype=bool)
    for start_s, end_s in sensor.gaps:
        keep &= (stamp_s < start_s) | (stamp_s > end_s)
    known = keep.copy()
    for start_s, end_s in sensor.bridged:
        known &= (stamp_s < start_s) | (stamp_s > end_s)
    if not known.any():
        raise ValueError("the gaps leave no sample")
    bridged = {
        name: np.interp(stamp_s[keep], stamp_s[known], column[known]) for name, column in values.items()
    }
    return stamp_s[keep], bridged


def _add_spikes(sensor: Sensor, random: np.random.Generator, values: dict[str, Floats]) -> None:
    count = len(values["latitude_deg"])
    for number in random.integers(1, max(2, count - 1), sensor.position_spikes):
        values["latitude_deg"][number] += random.choice([-1, 1]) * random.uniform(0.05, 0.5)
        values["longitude_deg"][number] += random.choice([-1, 1]) * random.uniform(0.05, 0.5)
    for number in random.integers(1, max(2, count - 1), sensor.altitude_spikes):
        values["altitude_ft"][number] += random.choice([-1, 1]) * random.uniform(2000.0, 9000.0)


def _rounded(column: Floats, step: float | None) -> Floats:
    return column if step is None else np.round(column / step) * step


def _written(
    flight: SimulatedFlight,
    sensor: Sensor,
    random: np.random.Generator,
    stamp_s: Floats,
    values: dict[str, Floats],
    seed: int,
) -> Track:
    first_s = stamp_s[0]
    stamp_s = first_s + (stamp_s - first_s) * sensor.clock_rate
    if sensor.whole_second_stamps:
        # Cut on the clock, whose whole seconds need not be those since the start.
        fraction_s = flight.epoch.microsecond / 1e6
        stamp_s = np.floor(stamp_s + fraction_s + 1e-9) - fraction_s
    latitude, longitude = values["latitude_deg"], (values["longitude_deg"] + 180.0) % 360.0 - 180.0
    if sensor.decimals is not None:
        latitude, longitude = np.round(latitude, sensor.decimals), np.round(longitude, sensor.decimals)
        longitude = np.where(longitude >= 180.0, longitude - 360.0, longitude)
    altitude = _rounded(values["altitude_ft"], sensor.altitude_step_ft)
    if sensor.feet_as_metres:
        altitude = altitude / METRES_PER_FT
    order = np.arange(len(stamp_s))
    if sensor.doubled_share:
        order = np.sort(np.concatenate([order, order[random.random(len(order)) < sensor.doubled_share]]))
    if sensor.swapped_share:
        for number in np.flatnonzero(random.random(len(order) - 1) < sensor.swapped_share):
            order[number], order[number + 1] = order[number + 1], order[number]
    stamps = np.round(stamp_s[order], 3)
    columns = {name: _column(flight, values, name)[order] for name in sensor.columns}
    name: Literal["simulated"] = "simulated"
    return Track(
        file=f"simulated-{seed}",
        sha256=sha256(np.column_stack([stamps, latitude[order], longitude[order]]).tobytes()).hexdigest(),
        format=name,
        epoch=flight.epoch + timedelta(milliseconds=round(float(stamps[0]) * 1000)),
        t_s=np.round(stamps - stamps[0], 3),
        latitude_deg=latitude[order],
        longitude_deg=longitude[order],
        altitude_ft=altitude[order],
        altitude_source=sensor.altitude_source,
        part=np.zeros(len(order)),
        line=np.arange(1.0, len(order) + 1.0),
        line_counts="point",
        columns=columns,
    )


def _column(flight: SimulatedFlight, values: dict[str, Floats], name: str) -> Floats:
    if name in ("ground_track_true_deg", "heading_true_deg"):
        return np.round(values[name] % 360.0, 1) % 360.0
    if name == "heading_mag_deg":
        from debrief.navigation.magnetism import variation_deg

        east_deg = variation_deg(
            float(flight.latitude_deg[0]), float(flight.longitude_deg[0]), 0.0, flight.epoch
        )
        return np.round((values["heading_true_deg"] - east_deg) % 360.0, 1) % 360.0
    if name == "pressure_altitude_ft":
        return np.round(values["altitude_ft"] / 25.0) * 25.0
    if name == "on_ground":
        return np.round(values[name])
    return np.round(values[name], 1)
