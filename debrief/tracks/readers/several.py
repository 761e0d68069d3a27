"""More than one track in a file: one after the other, the same flight twice, or two aircraft.

Owns      telling these apart where tracks overlap in time.
Not here  files that name their aircraft in a column (``csv_log``).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from debrief.errors import Place, TrackError
from debrief.tracks.model import Floats
from debrief.tracks.readers.samples import Remarks, Samples
from debrief.tracks.readers.stamps import MISSING
from debrief.tracks.words import counted

_APART_NM = 1.0  # far more than two recorders in one cockpit disagree
_NEAR_US = 10_000_000  # a sample of the other track this close in time says where it was
_EARTH_RADIUS_NM = 3440.07  # mean radius 6,371.0 km; good to 0.5 %, ample to tell 1 NM


def compare_tracks(path: Path, samples: Samples, track: Floats, remarks: Remarks) -> None:
    """Say what several tracks in one file are; ``track`` holds the track's number for each sample.

    Raises ``TrackError`` where two are in different places at the same time.
    """
    usable = (
        (samples.time_us != MISSING)
        & (np.abs(samples.latitude_deg) <= 90)
        & np.isfinite(samples.longitude_deg)
    )
    numbers = np.unique(track[usable])
    if len(numbers) < 2:
        return
    remarks.note(f"The file holds {counted(len(numbers), 'track')}; all were read, in the file's order.")
    time_us = samples.time_us
    seen = usable & (track == numbers[0])
    doubled = False
    for number in numbers[1:]:
        this = usable & (track == number)
        order = np.argsort(time_us[seen], kind="stable")
        known_us = time_us[seen][order]
        next_one = np.clip(np.searchsorted(known_us, time_us[this]), 1, max(len(known_us) - 1, 1))
        within = (time_us[this] >= known_us[0]) & (time_us[this] <= known_us[-1])
        from_below_us = time_us[this] - known_us[next_one - 1]
        to_above_us = known_us[np.minimum(next_one, len(known_us) - 1)] - time_us[this]
        shared = within & (np.minimum(np.abs(from_below_us), np.abs(to_above_us)) <= _NEAR_US)
        if shared.sum() > 1:
            there = np.stack(
                [np.interp(time_us[this][shared], known_us, axis[seen][order]) for axis in _axes(samples)]
            )
            here = np.stack([axis[this][shared] for axis in _axes(samples)])
            apart_nm = float(np.median(np.linalg.norm(there - here, axis=0)) * _EARTH_RADIUS_NM)
            if apart_nm > _APART_NM:
                raise TrackError(
                    f"tracks {int(numbers[0]) + 1} and {int(number) + 1} are {apart_nm:.0f} NM apart at the same "
                    "time: they are of different aircraft",
                    where=Place(path=path),
                    remedy="Keep one track in the file.",
                )
            doubled = True
        seen |= this
    if doubled:
        remarks.note("Tracks in the file overlap in time and agree: the flight is in it more than once.")


def _axes(samples: Samples) -> list[NDArray[np.float64]]:
    """Positions as unit vectors, which know no antimeridian."""
    latitude, longitude = np.radians(samples.latitude_deg), np.radians(samples.longitude_deg)
    return [np.cos(latitude) * np.cos(longitude), np.cos(latitude) * np.sin(longitude), np.sin(latitude)]
