"""GeoJSON: lines and points with times, lines cut at the antimeridian, and what is said about the rest."""

import json
import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.readers import read_track
from debrief.tracks.readers.parts import without_repeated_ends

from .flight import flight, iso

FEET_PER_METRE = 1 / 0.3048
ELLIPSOID_SAID = "Altitude is the third number of each position, which GeoJSON counts from the ellipsoid"


def position(row, height=True):
    return [row.longitude, row.latitude, row.altitude_ft * 0.3048][: 3 if height else 2]


def feature(kind, coordinates, **properties):
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def line(rows, height=True, **properties):
    return feature("LineString", [position(row, height) for row in rows], **properties)


def collection(*features, **members):
    return {"type": "FeatureCollection", "features": list(features), **members}


def written(tmp_path, document, encoding="utf-8"):
    path = tmp_path / "flight.geojson"
    text = document if isinstance(document, str) else json.dumps(document)
    path.write_bytes(text.encode(encoding))
    return path


def refused(path, **wishes):
    with pytest.raises(TrackError) as error:
        read_track(path, **wishes)
    assert "\n" not in str(error.value)
    return str(error.value).removeprefix(f"{path}: ")


def same(track, rows, altitudes=True):
    assert [track.epoch + timedelta(seconds=float(t)) for t in track.t_s] == [row.time for row in rows]
    np.testing.assert_array_equal(track.latitude_deg, [r.latitude for r in rows])
    np.testing.assert_array_equal(track.longitude_deg, [r.longitude for r in rows])
    if altitudes:
        np.testing.assert_allclose(track.altitude_ft, [r.altitude_ft for r in rows], rtol=0, atol=1e-6)
    else:
        assert np.isnan(track.altitude_ft).all()


@pytest.mark.parametrize("name", ["coordTimes", "times", "timestamps", "coord_times", "Datetimes"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_line_with_times_beside_it(tmp_path, name, encoding):
    rows = flight()
    document = line(rows, **{"name": "Übung", name: [iso(row) for row in rows]})

    track = read_track(written(tmp_path, document, encoding))

    same(track, rows)
    assert (track.format, track.altitude_source) == ("geojson", "ellipsoid")
    assert len(track.notes) == 1
    assert track.assumed == track.notes
    assert track.notes[0].startswith(ELLIPSOID_SAID)


def test_times_one_level_down(tmp_path):
    rows = flight()

    track = read_track(
        written(tmp_path, collection(line(rows, coordinateProperties={"times": [iso(row) for row in rows]})))
    )

    same(track, rows)


@pytest.mark.parametrize(("scale", "word"), [(1, "seconds"), (1000, "milliseconds")])
def test_times_as_numbers(tmp_path, scale, word):
    rows = flight()

    track = read_track(
        written(tmp_path, line(rows, times=[round(row.time.timestamp() * scale) for row in rows]))
    )

    same(track, rows)
    assert f"Times were read as {word} since 1970, UTC." in track.notes


@pytest.mark.parametrize("name", ["time", "timestamp", "dateTime", "when"])
def test_points_with_a_time_each(tmp_path, name):
    rows = flight()
    points = [feature("Point", position(row), **{name: iso(row)}) for row in rows]

    same(read_track(written(tmp_path, collection(*points))), rows)


@pytest.mark.parametrize(("name", "from_ft"), [("altitude_ft", 1.0), ("altitude_m", 0.3048), ("ele", 0.3048)])
def test_a_property_with_altitudes_goes_before_the_height(tmp_path, name, from_ft):
    """Heights above the ellipsoid are then left aside, and the source is not theirs."""
    rows = flight()
    altitudes = [row.altitude_ft * from_ft for row in rows]
    times = [iso(row) for row in rows]
    points = [
        feature("Point", [*position(row, height=False), 9], **{"time": iso(row), name: altitude})
        for row, altitude in zip(rows, altitudes, strict=True)
    ]

    of_line = read_track(written(tmp_path, line(rows, times=times, **{name: altitudes})))
    of_points = read_track(written(tmp_path, collection(*points)))

    for track in (of_line, of_points):
        same(track, rows)
        assert (track.altitude_source, track.notes) == ("unknown", ())


def test_positions_without_a_height(tmp_path):
    rows = flight()

    track = read_track(written(tmp_path, line(rows, height=False, times=[iso(row) for row in rows])))

    same(track, rows, altitudes=False)


@pytest.mark.parametrize("flat", [False, True])
def test_several_lines_are_parts(tmp_path, flat):
    rows = flight(60)
    pieces = [rows[:20], rows[20:]]
    times = [[iso(row) for row in piece] for piece in pieces]
    document = feature(
        "MultiLineString",
        [[position(row) for row in piece] for piece in pieces],
        coordTimes=times[0] + times[1] if flat else times,
    )

    track = read_track(written(tmp_path, document))

    same(track, rows)
    assert track.part.tolist() == [0] * 20 + [1] * 40


@pytest.mark.parametrize("eastward", [True, False])
def test_a_line_cut_at_the_antimeridian_is_one_line(tmp_path, eastward):
    """RFC 7946, 3.1.9: the cut adds a point at 180 degrees on either side, which no recorder logged."""
    rows = flight(40, longitude=179.99, track_deg=60)
    rows = rows if eastward else [r.__class__(r.time, r.latitude, -r.longitude, r.altitude_ft) for r in rows]
    before = [row for row in rows if abs(row.longitude) < 180]
    after = [row for row in rows if abs(row.longitude) >= 180]
    assert before
    assert after
    side = 180.0 if eastward else -180.0
    shifted = [r.__class__(r.time, r.latitude, r.longitude - 2 * side, r.altitude_ft) for r in after]
    cut = {"lat": -17.74, "time": "2026-05-04T22:12:59.5Z"}
    document = feature(
        "MultiLineString",
        [
            [*(position(row) for row in before), [side, cut["lat"], 400]],
            [[-side, cut["lat"], 400], *(position(row) for row in shifted)],
        ],
        times=[
            [*(iso(row) for row in before), cut["time"]],
            [cut["time"], *(iso(row) for row in shifted)],
        ],
    )

    track = read_track(written(tmp_path, document))

    same(track, before + shifted)
    assert set(track.part) == {0}


def test_a_line_that_begins_where_the_one_before_ended_goes_on(tmp_path):
    rows = flight(60)
    lines = [line(part, times=[iso(row) for row in part]) for part in (rows[:20], rows[19:40], rows[41:])]

    track = read_track(written(tmp_path, collection(*lines)))

    same(track, [row for n, row in enumerate(rows) if n != 40])
    assert track.part.tolist() == [0] * 40 + [1] * 19
    assert (
        "1 part of the track begins with the very point the one before ended with: read without a break."
        in track.notes
    )


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 1), st.booleans()), min_size=1, max_size=12))
def test_pieces_against_a_slow_twin(rows):
    time_us = np.array([row[0] for row in rows])
    place = np.array([float(row[1]) for row in rows])
    part = np.cumsum([row[2] for row in rows]).astype(float)
    expected, number = [(0, 0.0)], 0.0
    for index in range(1, len(rows)):
        if part[index] != part[index - 1]:
            if time_us[index] == time_us[index - 1] and place[index] == place[index - 1]:
                continue
            number += 1
        expected.append((index, number))

    kept, new_part = without_repeated_ends(time_us, place, place, part)

    assert [(int(i), float(new_part[i])) for i in np.nonzero(kept)[0]] == expected


def test_what_has_no_times_is_left_aside_and_counted(tmp_path):
    rows = flight()
    document = collection(
        line(rows[:3]),
        feature("Point", [1, 2], name="a place"),
        feature("Point", position(rows[0]), time=iso(rows[0])),
        feature("Polygon", [[[1, 2], [3, 4], [5, 6], [1, 2]]]),
        {"type": "Feature", "properties": None, "geometry": None},
        line(rows, times=[iso(row) for row in rows]),
    )

    track = read_track(written(tmp_path, document))

    same(track, rows)
    assert track.notes[:3] == (
        "1 point with a time left aside: the line was read.",
        "1 line without times left aside.",
        "1 single point without times left aside.",
    )


def test_two_aircraft_are_told_apart(tmp_path):
    one, other = flight(), flight(latitude=-18.5)
    document = collection(*(line(rows, times=[iso(row) for row in rows]) for rows in (one, other)))

    assert "they are of different aircraft" in refused(written(tmp_path, document))


def test_odd_positions_and_times_are_left_out(tmp_path):
    rows = flight()
    document = line(rows, times=[iso(row) for row in rows])
    coordinates, times = document["geometry"]["coordinates"], document["properties"]["times"]
    coordinates[3], coordinates[4], coordinates[5] = None, ["178.4", "-17.7"], [178.5]
    times[7], times[8] = None, "soon"
    coordinates[9][2] = math.nan

    track = read_track(written(tmp_path, document))

    assert len(track) == 115
    assert np.isnan(track.altitude_ft).sum() == 1
    assert "Times that cannot be read, the first 'soon'." in track.notes
    assert "3 points without a position left out (the first in point 4)." in track.notes
    assert "2 points without a time that can be read left out (the first in point 8)." in track.notes


def test_feet_for_metres_when_asked(tmp_path):
    rows = flight()

    track = read_track(written(tmp_path, line(rows, times=[iso(row) for row in rows])), altitude_unit="ft")

    assert track.altitude_ft[0] == pytest.approx(1500 * 0.3048, abs=1e-6)


def test_times_without_a_zone_are_taken_as_utc_and_said(tmp_path):
    rows = flight()

    track = read_track(written(tmp_path, line(rows, times=[iso(row)[:-1] for row in rows])))

    same(track, rows)
    assert track.assumed[0] == "120 times without a zone taken as UTC."


def test_times_with_an_offset(tmp_path):
    rows = flight()

    track = read_track(written(tmp_path, line(rows, times=[iso(row)[:-1] + "+12:00" for row in rows])))

    assert track.epoch == datetime(2026, 5, 4, 10, 12, 7, tzinfo=UTC)


ROWS = flight(5)
TIMES = [iso(row) for row in ROWS]
DEEP = '{"type": "Feature", "properties": ' + "[" * 200_000


@pytest.mark.parametrize(
    ("document", "said"),
    [
        (line(ROWS), "it holds 1 line, but no times. Export the track with the time of each position, as a property coordTimes for example."),
        (collection(feature("Point", [1, 2])), "it holds 1 point, but no times. Export the track with the time of each position, as a property coordTimes for example."),
        ({"type": "LineString", "coordinates": [[1, 2], [3, 4]]}, "it holds 1 line, but no times. Export the track with the time of each position, as a property coordTimes for example."),
        (collection(), "it is a FeatureCollection without a line or a point. Export the log with positions and times."),
        ({"type": "FeatureCollection", "features": 7}, "it is a FeatureCollection without a line or a point. Export the log with positions and times."),
        (line(ROWS, times=TIMES[:4]), "a line has 5 positions and 4 times, so that it is not known which belong together. Export the log again."),
        (line(ROWS[:1], times=TIMES[:1]), "only one point in it. A debrief needs a track: export the whole flight."),
        (line(ROWS, times=[0, 5, 10, 15, 20]), "none of 5 points has a time. Export the log again with times."),
        (json.dumps(line(ROWS, times=TIMES))[:200], "its JSON cannot be read: "),
        (DEEP, "its JSON is nested too deeply to be a track. Export the log again."),
        (collection(line(ROWS, times=TIMES), crs={"properties": {"name": "EPSG:3857"}}), "its coordinates are not WGS84: "),
    ],
    ids=["line", "point", "bare line", "empty", "no list", "unequal", "one", "elapsed", "cut off", "deep", "crs"],
)  # fmt: skip
def test_what_holds_no_track_is_refused(tmp_path, document, said):
    text = refused(written(tmp_path, document))
    assert said in text if said.endswith(": ") else text == said


def test_the_older_name_of_wgs84_is_accepted(tmp_path):
    rows = flight()
    named = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}

    same(
        read_track(written(tmp_path, collection(line(rows, times=[iso(row) for row in rows]), crs=named))),
        rows,
    )


def test_what_is_too_large_to_be_read_as_a_whole_is_refused(tmp_path):
    path = written(tmp_path, line(ROWS, times=TIMES))
    with path.open("r+b") as file:
        file.truncate(64_000_001)

    assert refused(path) == (
        "it is larger than 64 MB, more than can be read of this format. Export the log as GPX or CSV."
    )


def test_json_of_another_kind_is_named(tmp_path):
    assert refused(written(tmp_path, '{"a": 1}')) == "this is JSON. Export the log as GPX or CSV."
