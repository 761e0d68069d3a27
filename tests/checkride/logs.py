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
