"""Sample flights damaged at random go through the whole analysis: a result that can be written, or one clear line."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

import debrief
from debrief.reports import result_json
from debrief.tracks.model import OPTIONAL_COLUMNS, Track

Floats = NDArray[np.float64]
Columns = dict[str, Floats]
Damage = Callable[[Columns, np.random.Generator], None]

SAMPLES = Path(__file__).parents[1] / "sample_tracks"
FLIGHTS = {
    "lantern-clean.gpx": "lantern-vor-22",
    "sallow-two-attempts.gpx": "sallow-vor-13",
    "quillow-overshoot.gpx": "quillow-ndb-18",
    "kestrey-noisy-recorder.gpx": "kestrey-ndb-09",
    "dateline-simulator.csv": "dateline-ndb-35",
    "brandel-sparse.csv": "brandel-ndb-27",
}
POSITION = ("latitude_deg", "longitude_deg")
RAW = ("t_s", *POSITION, "altitude_ft", "part", "line")


@cache
def flown(name: str) -> Track:
    return debrief.read_track(SAMPLES / name)


def part_of(log: Columns, random: np.random.Generator) -> slice:
    """A stretch of the log, at least one sample long."""
    first, last = sorted(random.integers(0, len(log["t_s"]), 2).tolist())
    return slice(first, last + 1)


def pick(log: Columns, index: NDArray[np.intp]) -> None:
    for name in log:
        log[name] = log[name][index]


def only_a_part(log: Columns, random: np.random.Generator) -> None:
    pick(log, np.arange(len(log["t_s"]))[part_of(log, random)])


def all_but_a_part(log: Columns, random: np.random.Generator) -> None:
    pick(log, np.delete(np.arange(len(log["t_s"])), part_of(log, random)))


def every_so_manyth(log: Columns, random: np.random.Generator) -> None:
    pick(log, np.arange(0, len(log["t_s"]), int(random.integers(2, 30))))


def shuffled(log: Columns, random: np.random.Generator) -> None:
    pick(log, random.permutation(len(log["t_s"])))


def written_twice(log: Columns, random: np.random.Generator) -> None:
    pick(log, np.repeat(np.arange(len(log["t_s"])), int(random.integers(2, 4))))


def flown_again_later(log: Columns, random: np.random.Generator) -> None:
    count, later_s = len(log["t_s"]), float(np.ptp(log["t_s"])) + float(random.choice([1.0, 60.0, 86400.0]))
    pick(log, np.tile(np.arange(count), 2))
    log["t_s"][count:] += later_s


def clock_leaps(log: Columns, random: np.random.Generator) -> None:
    log["t_s"][part_of(log, random)] += random.choice([-1.4e9, -3600.0, -5.0, 5.0, 3600.0, 1.4e9])


def clock_at_another_rate(log: Columns, random: np.random.Generator) -> None:
    log["t_s"] *= random.choice([0.01, 0.5, 2.0, 10.0, 1000.0, -1.0])


def clock_stands(log: Columns, random: np.random.Generator) -> None:
    part = part_of(log, random)
    log["t_s"][part] = log["t_s"][part][0]


def clock_jitters(log: Columns, random: np.random.Generator) -> None:
    log["t_s"] = np.round(log["t_s"] + random.normal(0.0, 1.0, len(log["t_s"])))


def position_stands(log: Columns, random: np.random.Generator) -> None:
    part = part_of(log, random)
    for name in POSITION:
        log[name][part] = log[name][part][0]


def position_leaps(log: Columns, random: np.random.Generator) -> None:
    at = random.integers(0, len(log["t_s"]), int(random.integers(1, 20)))
    for name in POSITION:
        log[name][at] += random.normal(0.0, 1.0, len(at))


def position_on_a_line(log: Columns, random: np.random.Generator) -> None:
    part = part_of(log, random)
    for name in POSITION:
        log[name][part] = np.linspace(log[name][part][0], log[name][part][-1], len(log[name][part]))


def position_scatters(log: Columns, random: np.random.Generator) -> None:
    for name in POSITION:
        log[name] += random.normal(0.0, float(random.choice([1e-5, 1e-3, 1e-2])), len(log[name]))


def position_coarse(log: Columns, random: np.random.Generator) -> None:
    for name in POSITION:
        log[name] = np.round(log[name], int(random.integers(0, 5)))


def position_nowhere(log: Columns, random: np.random.Generator) -> None:
    part, value = part_of(log, random), float(random.choice([0.0, 90.0]))
    for name in POSITION:
        log[name][part] = value


def position_swapped(log: Columns, random: np.random.Generator) -> None:
    log["latitude_deg"], log["longitude_deg"] = log["longitude_deg"], log["latitude_deg"]


def altitude_missing(log: Columns, random: np.random.Generator) -> None:
    log["altitude_ft"][part_of(log, random)] = np.nan


def altitude_nought(log: Columns, random: np.random.Generator) -> None:
    log["altitude_ft"][part_of(log, random)] = 0.0


def altitude_of_none(log: Columns, random: np.random.Generator) -> None:
    log["altitude_ft"][:] = np.nan


def altitude_of_another_unit(log: Columns, random: np.random.Generator) -> None:
    log["altitude_ft"] *= random.choice([-1.0, 0.0, 0.3048, 3.28084, 1e6])


def altitude_leaps(log: Columns, random: np.random.Generator) -> None:
    log["altitude_ft"][int(random.integers(len(log["t_s"])))] = random.choice([-1e5, 1e5, 1e300])


def columns_of_nonsense(log: Columns, random: np.random.Generator) -> None:
    for name in OPTIONAL_COLUMNS:
        if random.random() < 0.5:
            log[name] = random.choice([-5.0, 0.0, 1.0, 90.0, 1e9, np.nan], len(log["t_s"]))


def file_in_parts(log: Columns, random: np.random.Generator) -> None:
    log["part"] = np.floor(np.arange(len(log["t_s"])) / random.integers(1, 400))


DAMAGES: tuple[Damage, ...] = (
    only_a_part,
    all_but_a_part,
    every_so_manyth,
    shuffled,
    written_twice,
    flown_again_later,
    clock_leaps,
    clock_at_another_rate,
    clock_stands,
    clock_jitters,
    position_stands,
    position_leaps,
    position_on_a_line,
    position_scatters,
    position_coarse,
    position_nowhere,
    position_swapped,
    altitude_missing,
    altitude_nought,
    altitude_of_none,
    altitude_of_another_unit,
    altitude_leaps,
    columns_of_nonsense,
    file_in_parts,
)


def damaged(track: Track, damages: list[Damage], seed: int, epoch: datetime | None = None) -> Track:
    """A track with its samples damaged, one way after the other, within what a reader lets through."""
    random = np.random.default_rng(seed)
    log = {name: np.array(getattr(track, name)) for name in RAW}
    log |= {name: np.array(values) for name, values in track.columns.items()}
    for damage in damages:
        damage(log, random)
    log["latitude_deg"] = np.clip(log["latitude_deg"], -90.0, 90.0)
    log["longitude_deg"] = (log["longitude_deg"] + 180.0) % 360.0 - 180.0
    columns = {name: log.pop(name) for name in OPTIONAL_COLUMNS if name in log}
    return replace(track, epoch=epoch or track.epoch, columns=columns, **log)


def survived(track: Track, procedure: str) -> str:
    """The result of a track as text, or what was refused; anything else ends the test."""
    try:
        result = debrief.debrief(track, debrief.load_procedure(procedure))
    except debrief.DebriefError as error:
        return str(error)
    text = result_json(result)
    json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} in the result file"))
    assert len(result.samples()) == len(track)
    return text


@given(
    name=st.sampled_from(list(FLIGHTS)),
    damages=st.lists(st.sampled_from(DAMAGES), min_size=1, max_size=4),
    seed=st.integers(0, 2**32 - 1),
    year=st.sampled_from([None, 1970, 1980, 2090]),
)
# no airspeed
@example(name="brandel-sparse.csv", damages=[position_nowhere, columns_of_nonsense], seed=0, year=None)
def test_any_damage_gives_a_result_or_one_line(
    name: str, damages: list[Damage], seed: int, year: int | None
) -> None:
    epoch = None if year is None else datetime(year, 1, 6, 23, 50, tzinfo=UTC)

    said = survived(damaged(flown(name), damages, seed, epoch), FLIGHTS[name])

    assert said.startswith("{") or said.isprintable()  # a result file, or one line


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.__name__)
def test_each_damage_does_damage(damage: Damage) -> None:
    """The twin: a damage that changes nothing would prove nothing."""
    track = flown("lantern-clean.gpx")

    worse = damaged(track, [damage], seed=3)

    assert (
        len(worse) != len(track)
        or any(not np.array_equal(getattr(worse, name), getattr(track, name), equal_nan=True) for name in RAW)
        or dict(worse.columns) != dict(track.columns)
    )


@pytest.mark.parametrize(("leap", "attempts"), [(timedelta(minutes=50), 1), (timedelta(days=16_000), 2)])
def test_a_clock_that_leaps_far_begins_another_flight(leap: timedelta, attempts: int) -> None:
    """An approach of 44 years was looked at second by second; a simulator paused for lunch is one approach."""
    track = flown("lantern-clean.gpx")
    t_s = np.array(track.t_s)
    t_s[len(track) // 2 :] += leap.total_seconds()

    result = debrief.debrief(replace(track, t_s=t_s), debrief.load_procedure("lantern-vor-22"))

    lasting = [attempt.phases[-1].end - attempt.phases[0].start for attempt in result.attempts]
    assert len(lasting) == attempts
    assert max(lasting) < timedelta(hours=2)


def test_altitudes_of_none_and_flags_of_the_ground_are_survived() -> None:
    """The lowest of no altitudes was asked for."""
    track = flown("lantern-clean.gpx")
    count = len(track)
    worse = replace(track, altitude_ft=np.full(count, np.nan), columns={"on_ground": np.ones(count)})

    result = debrief.debrief(worse, debrief.load_procedure("lantern-vor-22"))

    assert all(
        attempt.measures.final is None or attempt.measures.final.altitude_ft is None
        for attempt in result.attempts
    )
    assert result.attempts
