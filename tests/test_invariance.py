"""What must not change a debrief: where the scene lies, which way round it is, how the file is ordered, how often it was sampled.

Every test takes a flight, its log and its procedure, changes one thing by plain geometry that shares no code with the
program, and holds the whole result against that of the unchanged one.
"""

from __future__ import annotations

import dataclasses
import math
import random
from collections.abc import Iterator
from datetime import datetime
from functools import cache
from typing import Any

import numpy as np
import pytest
from pyproj import Geod

from debrief import debrief
from debrief.procedures.model import Procedure
from debrief.result import Attempt, Result
from debrief.simulation.sensor import Sensor
from debrief.tracks.model import Track
from tests.ensembles import Case, clean_flights, faulty_flights, several_attempts

GEOD = Geod(ellps="WGS84")
#: One degree of latitude. So the positions of a moved scene are those of the old one to the last digits.
EXACT = Sensor(decimals=None, altitude_step_ft=None)
#: What a moved scene may differ in: the conditioning works on local metres, a few parts in a million from one another.
SAME_S, SAME = 0.05, 2e-3

PLACES = [(0.0, 0.0), (-17.3, 179.97), (69.5, -140.0), (-69.5, 12.0), (35.0, 90.0)]
#: Sentences, and the arrays behind the result.
SAID = (
    "flight",
    "warnings",
    "message",
    "advice",
    "went_well",
    "why",
    "causes",
    "practice",
    "reference",
    "reason",
)
HEADINGS = "heading_mag_deg"  # by today's variation, which is another elsewhere


@cache
def cases() -> tuple[Case, ...]:
    """Clean and faulty flights of several patterns."""
    return (*clean_flights(4, seed=21, sensor=EXACT), *faulty_flights(3, seed=21, sensor=EXACT))


@cache
def unchanged(number: int) -> Result:
    case = cases()[number]
    return debrief(case.track, case.procedure)


def numbers(thing: object, path: str = "") -> Iterator[tuple[str, float | str]]:
    """Every number, moment and text of a part of the result, by its path; sentences left out."""
    if dataclasses.is_dataclass(thing):
        for part in dataclasses.fields(thing):
            if part.name not in SAID:
                yield from numbers(getattr(thing, part.name), f"{path}.{part.name}")
    elif isinstance(thing, datetime):
        yield path, thing.timestamp()
    elif isinstance(thing, dict):
        for name, value in thing.items():
            yield from numbers(value, f"{path}.{name}")
    elif isinstance(thing, tuple):
        for number, value in enumerate(thing):
            yield from numbers(value, f"{path}[{number}]")
    elif isinstance(thing, bool | str):
        yield path, str(thing)
    elif isinstance(thing, int | float):
        yield path, float(thing)


def findings(attempt: Attempt) -> list[tuple[str, str | None, str]]:
    return [(finding.rule, finding.phase, finding.verdict) for finding in attempt.findings]


# -- another latitude and longitude ------------------------------------------------------------------------------------


def at_another_place(
    track: Track, procedure: Procedure, latitude: float, longitude: float
) -> tuple[Track, Procedure]:
    """The same bearings and distances from a station that stands elsewhere."""
    station = procedure.station

    def moved(latitudes: np.ndarray, longitudes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        here = np.ones(len(latitudes))
        bearing, _, metres = GEOD.inv(
            station.longitude * here, station.latitude * here, longitudes.copy(), latitudes.copy()
        )
        there = GEOD.fwd(longitude * here, latitude * here, bearing, metres)
        return np.asarray(there[1]), (np.asarray(there[0]) + 180.0) % 360.0 - 180.0

    parts: dict[str, Any] = {
        "station": station.model_copy(update={"latitude": latitude, "longitude": longitude})
    }

    def at(place: Any) -> Any:
        lats, lons = moved(np.array([place.latitude]), np.array([place.longitude]))
        return place.model_copy(update={"latitude": float(lats[0]), "longitude": float(lons[0])})

    if procedure.runway is not None:
        parts["runway"] = at(procedure.runway)
    parts["other_station"] = tuple(at(other) for other in procedure.other_station)
    lats, lons = moved(track.latitude_deg, track.longitude_deg)
    return (
        dataclasses.replace(track, latitude_deg=lats, longitude_deg=lons),
        procedure.model_copy(update=parts),
    )


@pytest.mark.parametrize("number", range(7))
def test_nothing_changes_at_another_latitude_and_longitude(number):
    case = cases()[number]
    latitude, longitude = PLACES[number % len(PLACES)]
    there = debrief(*at_another_place(case.track, case.procedure, latitude, longitude))

    assert len(there.attempts) == len(unchanged(number).attempts) > 0
    for here, moved in zip(unchanged(number).attempts, there.attempts, strict=True):
        assert_alike(dict(numbers(here)), dict(numbers(moved)))


def assert_alike(here: dict[str, float | str], there: dict[str, float | str]) -> None:
    left_out = (HEADINGS, "latitude_deg", "longitude_deg")
    assert {p for p in here if not p.endswith(left_out)} == {p for p in there if not p.endswith(left_out)}
    for path, value in here.items():
        if path.endswith(left_out):
            continue
        if isinstance(value, str):
            assert there[path] == value, path
        else:
            moment = value > 1e8  # seconds since 1970
            within = SAME_S if moment or path.endswith("_s") else SAME * max(1.0, abs(value))
            assert there[path] == pytest.approx(value, abs=within), path


# -- left and right swapped --------------------------------------------------------------------------------------------

SWAPPED = {"left": "right", "right": "left", "clockwise": "anticlockwise", "anticlockwise": "clockwise"}


def mirrored(track: Track, procedure: Procedure) -> tuple[Track, Procedure]:
    """Seen in a mirror that stands north and south through the station: east is west, and every angle its negative."""
    meridian = procedure.station.longitude

    def other_way(longitude: float) -> float:
        return (2.0 * meridian - longitude + 180.0) % 360.0 - 180.0

    def turned(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {name: turned(part, name) for name, part in value.items() if part not in (None, ())}
        if isinstance(value, list | tuple):
            return [turned(part) for part in value]
        if key in ("radial_deg", "course_deg", "course_true_deg", "lead_radial_deg"):
            return (-value) % 360.0
        if key == "declination_deg":
            return -value
        if key == "longitude":
            return other_way(value)
        return SWAPPED.get(value, value) if isinstance(value, str) else value

    longitude = (2.0 * meridian - track.longitude_deg + 180.0) % 360.0 - 180.0
    return dataclasses.replace(track, longitude_deg=longitude), Procedure.model_validate(
        turned(procedure.model_dump())
    )


@pytest.mark.parametrize("number", range(7))
def test_in_a_mirror_left_is_right_and_all_else_the_same(number):
    case = cases()[number]
    seen = debrief(*mirrored(case.track, case.procedure))

    assert len(seen.attempts) == len(unchanged(number).attempts) > 0
    for here, there in zip(unchanged(number).attempts, seen.attempts, strict=True):
        assert findings(here) == findings(there)
        assert_mirrored(dict(numbers(here)), dict(numbers(there)))


#: What changes its sign, and what is a bearing.
SIGNED = (
    "turn_off_cross_track_nm",
    "cross_track_nm.mean",
    "deviation_deg.mean",
    "deviation_deg",
    "deflection",
    "change_deg",
    "drift_deg",
    "course_off_deg",
    "off_deg",
)
BEARINGS = ("from_true_deg", "track_true_deg", "radial_deg", "course_deg", "bearing_deg")


def assert_mirrored(here: dict[str, float | str], there: dict[str, float | str]) -> None:
    left_out = (HEADINGS, "latitude_deg", "longitude_deg")
    names = {p for p in here if not p.endswith(left_out)}
    assert names == {p for p in there if not p.endswith(left_out)}
    for path in names:
        value, seen = here[path], there[path]
        if isinstance(value, str):
            assert seen in (value, SWAPPED.get(value, value)), path
            if value in SWAPPED and path.endswith((".side", ".direction", ".turn")):
                assert seen == SWAPPED[value], path
            continue
        assert isinstance(seen, float)
        if path.endswith(BEARINGS) and ".uncertainties" not in path:
            assert math.remainder(seen + value, 360.0) == pytest.approx(0.0, abs=0.02), path
            continue
        expected = -value if path.endswith(SIGNED) and ".uncertainties" not in path else value
        within = SAME_S if value > 1e8 or path.endswith("_s") else SAME * max(1.0, abs(value))
        if path.split(".")[1].startswith(("findings", "grade")) and path.endswith((".value", ".limit")):
            expected, seen = abs(expected), abs(seen)
        assert seen == pytest.approx(expected, abs=within), path


# -- the file: order, parts, pieces ------------------------------------------------------------------------------------


def taken(track: Track, rows: np.ndarray, part: np.ndarray | None = None) -> Track:
    """A log of those rows, in that order; the line numbers stay those of the samples."""
    epoch = track.time_at(float(track.t_s[rows[0]]))
    return dataclasses.replace(
        track,
        epoch=epoch,
        t_s=np.round(track.t_s[rows] - track.t_s[rows[0]], 3),
        latitude_deg=track.latitude_deg[rows],
        longitude_deg=track.longitude_deg[rows],
        altitude_ft=track.altitude_ft[rows],
        part=track.part[rows] if part is None else part,
        line=track.line[rows],
        columns={name: column[rows] for name, column in track.columns.items()},
    )


@pytest.mark.parametrize("number", [0, 3, 5])
def test_the_order_of_the_file_does_not_matter(number):
    case = cases()[number]
    rows = np.arange(len(case.track))
    random.Random(number).shuffle(rows[1:])  # the first sample keeps the zero of time, for exact comparison

    shuffled = debrief(taken(case.track, rows), case.procedure)

    for here, there in zip(unchanged(number).attempts, shuffled.attempts, strict=True):
        assert dict(numbers(there)) == dict(numbers(here))


@pytest.mark.parametrize("number", [1, 4, 6])
def test_parts_of_a_file_that_follow_each_other_are_one_flight(number):
    case = cases()[number]
    count = len(case.track)
    cuts = sorted(random.Random(number).sample(range(1, count), 4))
    part = np.searchsorted(cuts, np.arange(count), side="right").astype(np.float64)

    split = debrief(taken(case.track, np.arange(count), part), case.procedure)

    for here, there in zip(unchanged(number).attempts, split.attempts, strict=True):
        assert dict(numbers(there)) == dict(numbers(here))


def test_a_log_cut_between_two_attempts_gives_one_from_each_piece():
    case = next(iter(several_attempts(1, seed=21, sensor=EXACT)))
    whole = debrief(case.track, case.procedure).attempts
    assert len(whole) >= 2
    epoch_s = case.track.epoch.timestamp()
    end_s, start_s = (
        whole[0].phases[-1].end.timestamp() - epoch_s,
        whole[1].phases[0].start.timestamp() - epoch_s,
    )
    cut = int(np.searchsorted(case.track.t_s, (end_s + start_s) / 2.0))
    rows = np.arange(len(case.track))

    pieces = [
        debrief(taken(case.track, piece), case.procedure).attempts for piece in (rows[:cut], rows[cut:])
    ]

    assert [len(piece) for piece in pieces] == [1, len(whole) - 1]
    for here, there in zip(whole, (*pieces[0], *pieces[1]), strict=True):
        assert [span.phase for span in there.phases] == [span.phase for span in here.phases]
        assert findings(there) == findings(here)


# -- the sampling ------------------------------------------------------------------------------------------------------


def sure(attempt: Attempt) -> Iterator[tuple[str, float, float]]:
    """Every measure that has a half-width: path, value, half-width."""

    def inside(thing: object, path: str) -> Iterator[tuple[str, float, float]]:
        if not dataclasses.is_dataclass(thing):
            return
        stated = dict(getattr(thing, "uncertainties", {}))
        for part in dataclasses.fields(thing):
            value = getattr(thing, part.name)
            if dataclasses.is_dataclass(value):
                yield from inside(value, f"{path}.{part.name}")
            width = stated.get(part.name, getattr(thing, f"{part.name}_uncertainty", None))
            if isinstance(value, float) and isinstance(width, float):
                yield f"{path}.{part.name}", value, width
        for name, width_name in (
            ("lead_nm", "lead_uncertainty_nm"),
            ("angle_deg", "angle_uncertainty_deg"),
            ("overshoot_nm", "overshoot_uncertainty_nm"),
            ("max_airspeed_kias", "max_airspeed_uncertainty_kt"),
        ):
            value, width = getattr(thing, name, None), getattr(thing, width_name, None)
            if value is not None and width is not None:
                yield f"{path}.{name}", value, width

    yield from inside(attempt.measures, "")


#: Of the measures of one flight this many may differ by more than both half-widths at 95 % add up to.
FEW = 0.03


@pytest.mark.parametrize("interval_s", [2.0, 8.0])
@pytest.mark.parametrize("number", range(7))
def test_another_sampling_changes_nothing_by_more_than_is_stated(number, interval_s):
    """The same recorder, of which every second, fourth or eighth sample was kept."""
    case = cases()[number]
    kept = np.arange(0, len(case.track), round(interval_s))
    sparse = debrief(taken(case.track, kept), case.procedure).attempts

    assert len(sparse) == len(unchanged(number).attempts)
    for here, there in zip(unchanged(number).attempts, sparse, strict=True):
        assert [span.phase for span in there.phases] == [span.phase for span in here.phases]
        often = {path: (value, width) for path, value, width in sure(here)}
        both = [(p, value, width) for p, value, width in sure(there) if p in often]
        beyond = [p for p, value, width in both if abs(value - often[p][0]) > width + often[p][1]]
        assert len(both) > 30
        assert len(beyond) <= FEW * len(both), beyond
        # a verdict may become unsure, but nothing that was surely within is surely exceeded, nor the other way round
        judged = {(item.item): item.result for item in here.grade.items}
        for item in there.grade.items:
            before = judged.get(item.item)
            assert {before, item.result} != {"satisfactory", "unsatisfactory"} or _near(item), item.item


def _near(item: Any) -> bool:
    """So near its limit that a sixth of it decides."""
    return item.margin is not None and item.limit and abs(item.margin) < abs(item.limit) / 6.0
