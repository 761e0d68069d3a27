"""What is written comes back: the same samples by our own readers, and from them the same debrief."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

import debrief
from debrief.reports.annotated import Format, annotated_files
from debrief.tracks.model import Track
from tests.reports.annotated.flights import FLIGHTS, altitudes_of, flight_of, result_of

A_CENTIMETRE_DEG = 0.51e-7  # half the last decimal that is written
HALF_A_MILLISECOND_S = 0.000_51
#: Half the last decimal of the altitudes: tenths of a foot, or hundredths of a metre.
ALTITUDE_FT: dict[Format, float] = {
    "geojson": 0.051,
    "kml": 0.0051 / 0.3048,
    "gpx": 0.0051 / 0.3048,
    "csv": 0.051,
}
MAPS: tuple[Format, ...] = ("geojson", "kml", "gpx")
A_TENTH_S = 0.1


def read_back(name: str, format_: Format, folder: Path) -> Track:
    ((ending, content),) = annotated_files(result_of(name), [format_]).items()
    path = folder / f"flight{ending}"
    path.write_bytes(content)
    return debrief.read_track(path)


def close(track: Track, kept: np.ndarray, altitude_ft: np.ndarray, name: str, format_: Format) -> None:
    log = flight_of(result_of(name)).log
    raw = log.track
    rows = log.order[kept]
    shift_s = (track.epoch - raw.epoch) / timedelta(seconds=1)
    assert len(track) == len(rows)
    np.testing.assert_allclose(track.t_s + shift_s, raw.t_s[rows], rtol=0, atol=HALF_A_MILLISECOND_S)
    np.testing.assert_allclose(track.latitude_deg, raw.latitude_deg[rows], rtol=0, atol=A_CENTIMETRE_DEG)
    apart_deg = (track.longitude_deg - raw.longitude_deg[rows] + 180) % 360 - 180
    np.testing.assert_allclose(apart_deg, 0.0, rtol=0, atol=A_CENTIMETRE_DEG)
    np.testing.assert_allclose(track.altitude_ft, altitude_ft[kept], rtol=0, atol=ALTITUDE_FT[format_])


@pytest.mark.parametrize("format_", MAPS)
@pytest.mark.parametrize("name", FLIGHTS)
def test_a_map_holds_every_sample_that_was_used(name: str, format_: Format, tmp_path: Path) -> None:
    flight = flight_of(result_of(name))
    altitude_ft = altitudes_of(flight)
    kept = np.isfinite(altitude_ft) if format_ == "kml" else np.ones(len(altitude_ft), dtype=bool)

    track = read_back(name, format_, tmp_path)

    close(track, kept, altitude_ft, name, format_)
    segment = flight.log.segment[kept]
    np.testing.assert_array_equal(np.diff(track.part) != 0, np.diff(segment) != 0)


@pytest.mark.parametrize("name", FLIGHTS)
def test_the_table_holds_every_sample(name: str, tmp_path: Path) -> None:
    raw = flight_of(result_of(name)).log.track
    order = np.argsort(raw.t_s, kind="stable")

    track = read_back(name, "csv", tmp_path)

    shift_s = (track.epoch - raw.epoch) / timedelta(seconds=1)
    np.testing.assert_allclose(track.t_s + shift_s, raw.t_s[order], rtol=0, atol=HALF_A_MILLISECOND_S)
    np.testing.assert_allclose(track.latitude_deg, raw.latitude_deg[order], rtol=0, atol=A_CENTIMETRE_DEG)
    np.testing.assert_allclose(track.longitude_deg, raw.longitude_deg[order], rtol=0, atol=A_CENTIMETRE_DEG)
    np.testing.assert_allclose(track.altitude_ft, raw.altitude_ft[order], rtol=0, atol=ALTITUDE_FT["csv"])
    said = "Column 'course_deg' was left out: another column gives the track."
    assert track.notes == ((said,) if result_of(name).attempts else ())


@pytest.mark.parametrize("format_", MAPS)
@pytest.mark.parametrize("name", ["two attempts", "antimeridian", "gap"])
def test_a_debrief_of_what_was_written_finds_the_same(name: str, format_: Format, tmp_path: Path) -> None:
    """A map holds no speeds and headings, and does not say what its altitudes come from: neither has the log then."""
    procedure = flight_of(result_of(name)).procedure
    raw = flight_of(result_of(name)).log.track
    before = debrief.debrief(replace(raw, columns={}, altitude_source="unknown"), procedure)

    read = replace(read_back(name, format_, tmp_path), altitude_source="unknown")
    after = debrief.debrief(read, procedure)

    assert len(after.attempts) == len(before.attempts)
    for one, other in zip(before.attempts, after.attempts, strict=True):
        assert [span.phase for span in one.phases] == [span.phase for span in other.phases]
        for first, second in zip(one.phases, other.phases, strict=True):
            assert abs((first.start - second.start).total_seconds()) < A_TENTH_S
            assert abs((first.end - second.end).total_seconds()) < A_TENTH_S
        assert [(f.rule, f.verdict) for f in one.findings] == [(f.rule, f.verdict) for f in other.findings]
        assert one.grade.result == other.grade.result
