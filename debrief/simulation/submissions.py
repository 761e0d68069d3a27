"""A folder of invented checkride submissions, as an examiner gets them: in an archive, with a list of names.

Owns      what each of them is, and ``write_submissions``.
Not here  grading them (``checkride``), flights (``flight``), recorders (``sensor``).
"""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from debrief.procedures import load_procedure
from debrief.simulation.flight import fly
from debrief.simulation.plan import Attempt, Faults
from debrief.simulation.samples import INVENTED, SAMPLES
from debrief.simulation.sensor import Sensor, record
from debrief.simulation.writers import write_gpx
from debrief.tracks.model import Track

FOLDER = "checkride"
_ARCHIVE, _NAMES = "week.zip", "names.csv"
_WRITTEN = (2026, 3, 9, 20, 0, 0)  # the date of every file in the archive
_METRES_PER_DEG = 111_195.0
_NONE = Faults()
_EACH_2_S = Sensor(interval_s=2.0)


def _as_recorded(track: Track) -> Track:
    return track


def _sent_again(track: Track) -> Track:
    """Six days later, each position off by some metres."""
    random = np.random.default_rng(5)
    off_deg = 4.0 / _METRES_PER_DEG * random.standard_normal((2, len(track)))
    return replace(
        track,
        epoch=track.epoch + timedelta(days=6, minutes=41),
        latitude_deg=np.round(track.latitude_deg + off_deg[0], 5),
        longitude_deg=np.round(track.longitude_deg + off_deg[1], 5),
    )


def _never_below_the_minimum(track: Track) -> Track:
    return replace(track, altitude_ft=np.maximum(track.altitude_ft, 640.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Submission:
    """One log: whose, what it begins as, and what was done to it."""

    file: str
    pilot: str
    sample: str
    faults: Faults = _NONE
    sensor: Sensor = _EACH_2_S
    seed: int = 1
    edit: Callable[[Track], Track] = _as_recorded


_SUBMISSIONS = (
    _Submission(file="finch.gpx", pilot="Ada Finch", sample="lantern-clean.gpx", seed=31),
    _Submission(file="tern.gpx", pilot="Bo Tern", sample="lantern-wrong-side.gpx", seed=32),
    _Submission(file="plover.gpx", pilot="Cy Plover", sample="lantern-clean.gpx", seed=31, edit=_sent_again),
    _Submission(
        file="crake.gpx",
        pilot="Di Crake",
        sample="lantern-gap-over-station.gpx",
        faults=Faults(below_minimum_ft=160.0),
        seed=34,
        edit=_never_below_the_minimum,
    ),
    _Submission(
        file="rail.gpx",
        pilot="Ed Rail",
        sample="lantern-gap-over-station.gpx",
        sensor=Sensor(interval_s=25.0),
        seed=35,
    ),
)
_PAGE = ("heron.gpx", "Fay Heron", "<!doctype html><title>Sign in</title><p>Please sign in to download.\n")


def write_submissions(folder: str | Path) -> list[Path]:
    """Write the folder; the files written. The logs are the same each time."""
    folder = Path(folder) / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    with (
        TemporaryDirectory() as scratch,
        zipfile.ZipFile(folder / _ARCHIVE, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        for submission in _SUBMISSIONS:
            path = Path(scratch) / submission.file
            write_gpx(_track(submission), path, name=submission.pilot, description=INVENTED)
            entry = zipfile.ZipInfo(submission.file, _WRITTEN)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, path.read_bytes())
    page, pilot, text = _PAGE
    (folder / page).write_text(text, encoding="utf-8")
    rows = [(submission.file, submission.pilot) for submission in _SUBMISSIONS] + [(page, pilot)]
    names = "".join(f"{file},{name}\n" for file, name in [("file", "pilot"), *rows])
    (folder / _NAMES).write_text(names, encoding="utf-8")
    return [folder / _ARCHIVE, folder / page, folder / _NAMES]


def _track(submission: _Submission) -> Track:
    sample = next(sample for sample in SAMPLES if sample.file == submission.sample)
    attempt = sample.plan.attempts[0]
    if submission.faults != _NONE:
        attempt = Attempt(ending="missed approach", faults=submission.faults)
    flight = fly(load_procedure(sample.procedure), replace(sample.plan, attempts=(attempt,)))
    return submission.edit(record(flight, submission.sensor, submission.seed))
