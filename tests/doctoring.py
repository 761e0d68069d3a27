"""Logs edited by hand, for the tests: each edit is one that somebody might try, applied to an honest log.

Every function takes a track and a seeded generator, and gives an edited track. They work on samples only, know nothing
of how edits are found, and round what they write as the recorder did.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from debrief.tracks.model import Floats, Track

METRES_PER_DEG = 111_200.0
Edit = Callable[[Track, random.Random], Track]


def _window(track: Track, draw: random.Random, seconds: tuple[float, float] = (90.0, 240.0)) -> slice:
    """A part of the log, not at its very ends."""
    t = track.t_s
    long_s = draw.uniform(*seconds)
    long_s = min(long_s, 0.4 * (t[-1] - t[0]))
    start = draw.uniform(t[0] + 60.0, max(t[0] + 61.0, t[-1] - long_s - 60.0))
    return slice(int(np.searchsorted(t, start)), int(np.searchsorted(t, start + long_s)))


def _decimals(track: Track) -> int | None:
    for decimals in (4, 5, 6):
        if np.allclose(track.latitude_deg, np.round(track.latitude_deg, decimals), rtol=0.0, atol=1e-9):
            return decimals
    return None


def _positions(track: Track, latitude: Floats, longitude: Floats) -> Track:
    decimals = _decimals(track)
    if decimals is not None:
        latitude, longitude = np.round(latitude, decimals), np.round(longitude, decimals)
    return replace(track, latitude_deg=latitude, longitude_deg=longitude)


def _altitudes(track: Track, altitude: Floats) -> Track:
    steps = np.unique(np.abs(np.diff(track.altitude_ft)))
    step = float(steps[steps > 1e-6].min()) if (steps > 1e-6).any() else 0.0
    return replace(track, altitude_ft=np.round(altitude / step) * step if step >= 0.1 else altitude)


def _ramp(count: int, edge: int) -> Floats:
    """1 inside, rising from 0 and falling back to it over ``edge`` samples."""
    inside = np.minimum(np.arange(1, count + 1), np.arange(count, 0, -1)) / max(edge, 1)
    return np.clip(inside, 0.0, 1.0)


def beside(track: Track, draw: random.Random) -> Track:
    """A part set 0.2 to 0.5 NM beside where it was flown."""
    part = _window(track, draw)
    north, east = draw.choice([-1, 1]) * draw.uniform(300, 700), draw.choice([-1, 1]) * draw.uniform(300, 700)
    latitude, longitude = track.latitude_deg.copy(), track.longitude_deg.copy()
    latitude[part] += north / METRES_PER_DEG
    longitude[part] += east / METRES_PER_DEG / np.cos(np.radians(latitude[part]))
    return _positions(track, latitude, longitude)


def lifted(track: Track, draw: random.Random) -> Track:
    """A part lifted by 150 to 400 ft."""
    part = _window(track, draw)
    altitude = track.altitude_ft.copy()
    altitude[part] += draw.uniform(150.0, 400.0)
    return _altitudes(track, altitude)


def clamped(track: Track, draw: random.Random) -> Track:
    """Nothing lower than some altitude that the flight went below for a while."""
    altitude = track.altitude_ft.copy()
    least = float(np.nanquantile(altitude, draw.uniform(0.12, 0.3)))
    return _altitudes(track, np.maximum(altitude, np.round(least)))


def smoothed(track: Track, draw: random.Random) -> Track:
    """A part with its positions and altitudes averaged over fifteen seconds."""
    part = _window(track, draw)
    wide = max(3, round(15.0 / float(np.median(np.diff(track.t_s)))) | 1)
    kernel = np.ones(wide) / wide
    columns = []
    for column in (track.latitude_deg, track.longitude_deg, track.altitude_ft):
        padded = np.pad(column, wide // 2, mode="edge")
        mean = column.copy()
        mean[part] = np.convolve(padded, kernel, mode="valid")[part]
        columns.append(mean)
    return _altitudes(_positions(track, columns[0], columns[1]), columns[2])


def made_rough(track: Track, draw: random.Random) -> Track:
    """A part with noise of 8 to 15 m put onto it."""
    part = _window(track, draw)
    size = draw.uniform(8.0, 15.0) / METRES_PER_DEG
    latitude, longitude = track.latitude_deg.copy(), track.longitude_deg.copy()
    for number in range(*part.indices(len(track))):
        latitude[number] += draw.gauss(0.0, size)
        longitude[number] += draw.gauss(0.0, size) / np.cos(np.radians(latitude[number]))
    return _positions(track, latitude, longitude)


def _with_times(track: Track, t_s: Floats) -> Track:
    whole = bool(np.allclose(track.t_s, np.round(track.t_s), atol=1e-6))
    return replace(track, t_s=np.round(t_s, 0 if whole else 3))


def slowed(track: Track, draw: random.Random) -> Track:
    """The whole log at another pace, its times written to the millisecond."""
    factor = draw.choice([0.87, 0.93, 1.07, 1.13, 1.21])
    return replace(track, t_s=np.round(track.t_s * factor, 3))


def stretched(track: Track, draw: random.Random) -> Track:
    """A part of the log at another pace: a leg that took longer, or less long."""
    part = _window(track, draw)
    factor = draw.choice([0.72, 0.81, 1.24, 1.37])
    steps = np.diff(track.t_s, prepend=track.t_s[0])
    steps[part] *= factor
    return replace(track, t_s=np.round(np.cumsum(steps), 3))


def cut_short(track: Track, draw: random.Random) -> Track:
    """Twenty to sixty seconds taken out, and the ends of the times joined."""
    part = _window(track, draw, (20.0, 60.0))
    keep = np.ones(len(track), dtype=bool)
    keep[part] = False
    steps = np.diff(track.t_s, prepend=track.t_s[0])
    return _taken(track, keep, np.cumsum(steps[keep]))


def _taken(track: Track, keep: np.ndarray, t_s: Floats | None = None) -> Track:
    return replace(
        track,
        t_s=track.t_s[keep] if t_s is None else t_s,
        latitude_deg=track.latitude_deg[keep],
        longitude_deg=track.longitude_deg[keep],
        altitude_ft=track.altitude_ft[keep],
        part=track.part[keep],
        line=track.line[keep],
        columns={name: column[keep] for name, column in track.columns.items()},
    )


def _part_and_source(track: Track, draw: random.Random, part: slice) -> tuple[slice, slice]:
    """A part of the log, and another one of its length that does not overlap it, where there is one."""
    start, stop, _ = part.indices(len(track))
    count = stop - start
    far = [k for k in range(len(track) - count) if abs(k - start) > count]
    source = draw.choice(far) if far else 0
    return slice(start, stop), slice(source, source + count)


def pasted(track: Track, draw: random.Random) -> Track:
    """A part of the log replaced by another part of the same log."""
    part, source = _part_and_source(track, draw, _window(track, draw))
    columns = [c.copy() for c in (track.latitude_deg, track.longitude_deg, track.altitude_ft)]
    for column in columns:
        column[part] = column[source]
    return replace(track, latitude_deg=columns[0], longitude_deg=columns[1], altitude_ft=columns[2])


def pasted_to_fit(track: Track, draw: random.Random) -> Track:
    """The same, moved so that it begins where the flight was."""
    part, source = _part_and_source(track, draw, _window(track, draw, (90.0, 150.0)))
    columns = [c.copy() for c in (track.latitude_deg, track.longitude_deg, track.altitude_ft)]
    for column in columns:
        column[part] = column[source] - column[source.start] + column[part.start]
    return _altitudes(_positions(track, columns[0], columns[1]), columns[2])


def doubled(track: Track, draw: random.Random) -> Track:
    """A part put in a second time after itself, as if it had been flown twice; the times go on."""
    start, stop, _ = _window(track, draw, (90.0, 150.0)).indices(len(track))
    order = np.concatenate([np.arange(stop), np.arange(start, len(track))])
    steps = np.diff(track.t_s, prepend=track.t_s[0])[order]
    steps[stop] = float(np.median(np.diff(track.t_s)))
    return _taken(track, order, np.cumsum(steps))


def finer(track: Track, draw: random.Random) -> Track:
    """A part moved a little by a program that writes more decimals than the recorder does."""
    part = _window(track, draw)
    latitude, longitude = track.latitude_deg.copy(), track.longitude_deg.copy()
    ramp = _ramp(len(latitude[part]), len(latitude[part]) // 3)
    latitude[part] += ramp * draw.uniform(100.0, 300.0) / METRES_PER_DEG
    longitude[part] += ramp * draw.uniform(100.0, 300.0) / METRES_PER_DEG
    return replace(track, latitude_deg=latitude, longitude_deg=longitude)


def sunk_gently(track: Track, draw: random.Random) -> Track:
    """A part lifted by 200 to 400 ft over four seconds at each end."""
    part = _window(track, draw)
    altitude = track.altitude_ft.copy()
    edge = max(1, round(4.0 / float(np.median(np.diff(track.t_s)))))
    altitude[part] += draw.uniform(200.0, 400.0) * _ramp(len(altitude[part]), edge)
    return _altitudes(track, altitude)


EDITS: dict[str, Edit] = {
    edit.__name__: edit
    for edit in (
        beside, lifted, clamped, smoothed, made_rough, slowed, stretched, cut_short, pasted, pasted_to_fit, doubled,
        finer, sunk_gently,
    )
}  # fmt: skip


def later(track: Track, draw: random.Random) -> Track:
    """The same flight some days later."""
    from datetime import timedelta

    return replace(track, epoch=track.epoch + timedelta(seconds=draw.randrange(3600, 40 * 86400)))


def cropped(track: Track, draw: random.Random) -> Track:
    """Six to nine minutes of it."""
    long_s = draw.uniform(360.0, 540.0)
    start = draw.uniform(0.0, max(0.0, track.t_s[-1] - long_s))
    keep = (track.t_s >= start) & (track.t_s <= start + long_s)
    return _taken(track, keep)


def resampled(track: Track, draw: random.Random) -> Track:
    """On another grid of times, by straight lines."""
    step_s = draw.choice([0.5, 2.0, 3.0, 5.0])
    t_s = np.arange(draw.uniform(0.0, step_s), track.t_s[-1], step_s)
    order = np.argsort(track.t_s, kind="stable")
    columns = [
        np.interp(t_s, track.t_s[order], column[order])
        for column in (track.latitude_deg, track.longitude_deg, track.altitude_ft)
    ]
    blank = replace(
        track,
        t_s=t_s,
        latitude_deg=columns[0],
        longitude_deg=columns[1],
        altitude_ft=columns[2],
        part=np.zeros(len(t_s)),
        line=np.arange(1.0, len(t_s) + 1),
        columns={},
    )
    return replace(blank, latitude_deg=np.round(columns[0], 5), longitude_deg=np.round(columns[1], 5))


def drawn_out(track: Track, step_s: float) -> Track:
    """On a finer grid of times, by straight lines, written finely: what converters do, and no edit."""
    t_s = np.arange(track.t_s[0], track.t_s[-1], step_s)
    longitude = np.interp(t_s, track.t_s, np.unwrap(track.longitude_deg, period=360.0))
    return replace(
        track,
        t_s=t_s,
        latitude_deg=np.interp(t_s, track.t_s, track.latitude_deg),
        longitude_deg=(longitude + 180.0) % 360.0 - 180.0,
        altitude_ft=np.interp(t_s, track.t_s, track.altitude_ft),
        part=np.zeros(len(t_s)),
        line=np.arange(1.0, len(t_s) + 1),
        columns={},
    )


def mirrored(track: Track, draw: random.Random) -> Track:
    """East and west exchanged."""
    middle = float(np.median(track.longitude_deg))
    return _positions(track, track.latitude_deg.copy(), 2 * middle - track.longitude_deg)


def noised(track: Track, draw: random.Random) -> Track:
    """With noise of 3 to 12 m in each position and of 10 ft in each altitude."""
    size = draw.uniform(3.0, 12.0) / METRES_PER_DEG
    random_numbers = np.random.default_rng(draw.randrange(10**6))
    latitude = track.latitude_deg + size * random_numbers.standard_normal(len(track))
    longitude = track.longitude_deg + size * random_numbers.standard_normal(len(track)) / np.cos(
        np.radians(track.latitude_deg)
    )
    altitude = track.altitude_ft + 10.0 * random_numbers.standard_normal(len(track))
    return _altitudes(_positions(track, latitude, longitude), altitude)


COPIES: dict[str, Edit] = {edit.__name__: edit for edit in (later, cropped, resampled, mirrored, noised)}
