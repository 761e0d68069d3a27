"""GeoJSON, KML and GPX against their specifications, by libraries and schemas that are not ours."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import fastkml
import gpxpy
import numpy as np
import pytest
import xmlschema
from geojson_pydantic import FeatureCollection
from lxml import etree

from debrief.errors import DebriefError
from debrief.reports.annotated import annotated_files
from debrief.reports.annotated.flown import flown
from debrief.result import Result
from tests.reports.annotated.flights import FLIGHTS, altitudes_of, flight_of, result_of

GPX_SCHEMA = Path(__file__).parents[2] / "vectors" / "gpx" / "gpx_1_1_from_memory.xsd"
KML = "{http://www.opengis.net/kml/2.2}"
GX = "{http://www.google.com/kml/ext/2.2}"
PHASES = ["inbound", "station_passage", "outbound", "course_reversal", "intermediate", "final", "missed_approach", "landing"]  # fmt: skip


def content(name: str, format_: str, result: Result | None = None) -> bytes:
    ((_, text),) = annotated_files(result or result_of(name), [format_]).items()  # type: ignore[list-item]
    return text


def features(name: str, kind: str) -> list[dict]:
    return [f for f in json.loads(content(name, "geojson"))["features"] if f["properties"]["kind"] == kind]


def with_odd_names(result: Result) -> Result:
    """A procedure's name with what XML marks up, and what it cannot hold."""
    procedure = replace(result.procedure, name="Übung <1> & \x07\ud7ff\ufffe \U0001f6eb")
    return replace(result, procedure=procedure)


# GeoJSON


@pytest.mark.parametrize("name", FLIGHTS)
def test_geojson_is_valid(name: str) -> None:
    text = content(name, "geojson")

    collection = FeatureCollection.model_validate_json(text)

    assert len(collection.features) == len(json.loads(text)["features"])


@pytest.mark.parametrize("name", FLIGHTS)
def test_no_line_crosses_the_antimeridian(name: str) -> None:
    """RFC 7946, 3.1.9."""
    lines = [
        line
        for feature in json.loads(content(name, "geojson"))["features"]
        if feature["geometry"] and "Line" in feature["geometry"]["type"]
        for line in (
            [feature["geometry"]["coordinates"]]
            if feature["geometry"]["type"] == "LineString"
            else feature["geometry"]["coordinates"]
        )
    ]

    assert all(len(line) >= 2 for line in lines)
    assert all(len(position) == 2 for line in lines for position in line)
    steps = np.concatenate([np.diff(np.array(line)[:, 0]) for line in lines])
    assert np.abs(steps).max() < 1


def test_a_crossing_is_cut_where_the_straight_step_crosses() -> None:
    pieces = [f for f in features("antimeridian", "track") if f["geometry"]["type"] == "MultiLineString"]
    assert pieces

    for piece in pieces:
        lines, times = piece["geometry"]["coordinates"], piece["properties"]["coordTimes"]
        heights = piece["properties"]["altitude_ft"]
        assert (
            [len(line) for line in lines] == [len(part) for part in times] == [len(part) for part in heights]
        )
        for before, behind, early, late in zip(lines, lines[1:], times, times[1:], strict=False):
            (lon_0, lat_0), (lon_1, lat_1) = before[-2], behind[1]
            assert abs(before[-1][0]) == 180
            assert behind[0][0] == -before[-1][0]
            assert (before[-1][1], early[-1]) == (behind[0][1], late[0])
            share = (180 - abs(lon_0)) / (360 - abs(lon_0) - abs(lon_1))
            assert before[-1][1] == pytest.approx(lat_0 + share * (lat_1 - lat_0), abs=1e-7)
            start, there, end = (datetime.fromisoformat(text) for text in (early[-2], early[-1], late[1]))
            assert abs(there - start - share * (end - start)) <= timedelta(milliseconds=0.5)


def test_geojson_has_the_phases_in_their_order() -> None:
    result = result_of("two attempts")

    pieces = features("two attempts", "track")

    for attempt in result.attempts:
        flown_phases = [
            p["properties"]["phase"] for p in pieces if p["properties"]["attempt"] == attempt.number
        ]
        assert flown_phases == [span.phase for span in attempt.phases if span.duration_s >= 2]
    starts = [piece["properties"]["start"] for piece in pieces]
    assert starts == sorted(starts)
    assert pieces[2]["properties"]["title"] == "Attempt 1: outbound"


def test_lines_of_one_flight_meet_and_a_gap_parts_them() -> None:
    def ends(name: str) -> list[bool]:
        pieces = [piece["geometry"]["coordinates"] for piece in features(name, "track")]
        return [one[-1] == other[0] for one, other in pairwise(pieces)]

    assert all(ends("two attempts"))
    gaps = int((np.diff(flight_of(result_of("gap")).log.segment) != 0).sum())
    assert gaps == 1
    assert ends("gap").count(False) == gaps


def test_findings_stand_where_they_happened() -> None:
    result = result_of("two attempts")
    flight = flight_of(result)

    found = features("two attempts", "finding")

    assert len(found) == sum(len(attempt.findings) for attempt in result.attempts)
    for feature, finding in zip(found, (f for a in result.attempts for f in a.findings), strict=True):
        assert feature["properties"]["rule"] == finding.rule
        assert feature["properties"]["description"] == f"{finding.message} {finding.advice}"
        moment = np.datetime64(feature["properties"]["at"][:-1])
        t_s = (moment - np.datetime64(flight.log.track.epoch.replace(tzinfo=None))) / np.timedelta64(1, "s")
        nearest = int(np.argmin(np.abs(flight.log.t_s - t_s)))
        lon, lat = feature["geometry"]["coordinates"]
        row = flight.log.order[nearest]
        assert lat == pytest.approx(flight.log.track.latitude_deg[row], abs=0.002)
        assert lon == pytest.approx(flight.log.track.longitude_deg[row], abs=0.002)


def test_a_finding_without_a_place_has_no_geometry_and_is_named() -> None:
    result = result_of("two attempts")
    attempt = result.attempts[0]
    nowhere = replace(
        attempt.findings[0], rule="log_quality", latitude_deg=None, longitude_deg=None, start=None
    )
    changed = replace(result, attempts=(replace(attempt, findings=(nowhere,)), result.attempts[1]))

    document = json.loads(content("", "geojson", changed))
    kml = content("", "kml", changed).decode()
    gpx = gpxpy.parse(content("", "gpx", changed).decode())

    assert next(f["geometry"] for f in document["features"] if f["properties"]["kind"] == "finding") is None
    assert "1.1 Quality of the log: exceeded" in document["description"]
    assert "1.1 Quality of the log: exceeded" in kml
    assert "1.1 Quality of the log: exceeded" in gpx.description


def test_the_procedure_lies_under_the_track() -> None:
    """The station's mark, and lines that begin or end there."""
    station = flight_of(result_of("gap")).procedure.station

    points, lines = features("gap", "procedure point"), features("gap", "procedure")

    assert points[0]["properties"]["title"] == f"{station.ident} {station.kind}"
    at_station = pytest.approx([station.longitude, station.latitude], abs=1e-6)
    assert points[0]["geometry"]["coordinates"] == at_station
    assert [line["properties"]["title"].removeprefix("Procedure: ") for line in lines] == [
        "outbound",
        "course reversal",
        "intermediate",
        "final",
        "runway",
    ]
    assert lines[0]["geometry"]["coordinates"][0] == at_station
    assert lines[2]["geometry"]["coordinates"][-1] == at_station


# KML


@pytest.mark.parametrize("name", FLIGHTS)
def test_kml_is_valid(name: str) -> None:
    """The schemas of the Open Geospatial Consortium and of the gx extension, as a library ships them."""
    schema = etree.XMLSchema(file=str(Path(fastkml.__file__).parent / "schema" / "kml22gx.xsd"))

    for result in (result_of(name), with_odd_names(result_of(name))):
        document = etree.fromstring(content(name, "kml", result))
        schema.assertValid(document)
        assert all(
            document.find(f".//{KML}Style[@id='{url.text[1:]}']") is not None
            for url in document.iter(f"{KML}styleUrl")
        )


def test_kml_has_a_folder_for_each_attempt() -> None:
    document = etree.fromstring(content("two attempts", "kml"))
    folders = {
        folder.findtext(f"{KML}name"): [p.findtext(f"{KML}name") for p in folder.iter(f"{KML}Placemark")]
        for folder in document.iter(f"{KML}Folder")
    }

    first, second = (f"Attempt {a.number}: {a.grade.result}" for a in result_of("two attempts").attempts)
    assert [*folders] == ["Procedure", first, "Before and after", second, "Findings"]
    assert folders[first][:3] == ["Attempt 1: inbound", "Attempt 1: station passage", "Attempt 1: outbound"]


def test_a_kml_track_has_as_many_times_as_places_and_only_real_altitudes() -> None:
    flight = flight_of(result_of("noisy recorder"))
    missing = int(np.isnan(altitudes_of(flight)).sum())
    assert missing

    document = etree.fromstring(content("noisy recorder", "kml"))

    for track in document.iter(f"{GX}Track"):
        places = [coord.text.split() for coord in track.iter(f"{GX}coord")]
        assert len(places) == len(list(track.iter(f"{KML}when")))
        width = 3 if track.findtext(f"{KML}altitudeMode") == "absolute" else 2
        assert all(len(place) == width for place in places)
    assert f"{missing} of them have no altitude and are left out here." in document.findtext(
        f".//{KML}description"
    )


def test_without_altitudes_the_track_lies_on_the_ground() -> None:
    result = result_of("gap")
    flight = flight_of(result)
    log = replace(flight.log, altitude_used=np.zeros(len(flight.log.order), dtype=bool))
    bare = replace(result, flight=replace(flight, log=log))

    document = etree.fromstring(content("", "kml", bare))

    tracks = list(document.iter(f"{GX}Track"))
    assert {track.findtext(f"{KML}altitudeMode") for track in tracks} == {"clampToGround"}
    assert {len(coord.text.split()) for coord in document.iter(f"{GX}coord")} == {2}


# GPX


@pytest.mark.parametrize("name", FLIGHTS)
def test_gpx_is_valid(name: str) -> None:
    schema = xmlschema.XMLSchema(GPX_SCHEMA)

    schema.validate(content(name, "gpx").decode())
    schema.validate(content(name, "gpx", with_odd_names(result_of(name))).decode())


def test_gpx_as_another_reader_sees_it() -> None:
    result = result_of("two attempts")
    pieces = flown(result).pieces

    document = gpxpy.parse(content("two attempts", "gpx").decode())

    assert [track.name for track in document.tracks] == [piece.name for piece in pieces]
    assert {len(track.segments) for track in document.tracks} == {1}
    kinds = [waypoint.type for waypoint in document.waypoints]
    assert kinds.count("finding") == sum(len(attempt.findings) for attempt in result.attempts)
    assert [route.type for route in document.routes] == ["procedure"] * len(document.routes)
    assert "Not for navigation" in document.description


@pytest.mark.parametrize("name", FLIGHTS)
def test_longitudes_are_those_that_gpx_allows(name: str) -> None:
    for track in gpxpy.parse(content(name, "gpx").decode()).tracks:
        assert all(-180 <= point.longitude < 180 for segment in track.segments for point in segment.points)


# All of them


@pytest.mark.parametrize("format_", ["geojson", "kml", "gpx"])
def test_the_same_result_gives_the_same_bytes(format_: str) -> None:
    assert content("gap", format_) == content("gap", format_)


@pytest.mark.parametrize("format_", ["geojson", "kml", "gpx", "csv", "parquet"])
def test_a_result_from_a_file_holds_no_samples(format_: str) -> None:
    with pytest.raises(DebriefError, match="holds no samples"):
        content("", format_, replace(result_of("gap"), flight=None))


@pytest.mark.parametrize("name", FLIGHTS)
def test_pieces_are_of_the_phase_that_the_result_gives(name: str) -> None:
    result = result_of(name)
    spans = [(span, attempt.number) for attempt in result.attempts for span in attempt.phases]

    for piece in flown(result).pieces:
        for moment in piece.moments[:-1]:  # the last is the next piece's first
            there = [(s.phase, number) for s, number in spans if s.start <= moment < s.end]
            assert there in ([(piece.phase, piece.attempt)], []) if piece.phase else there == []
