"""GPX: what is read, against gpxpy as an independent reader, and what is said about the rest."""

import hashlib
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import gpxpy
import gpxpy.gpx
import numpy as np
import pytest
import xmlschema
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.readers import read_track

FEET_PER_METRE = 1 / 0.3048
ONE_MICROSECOND_S = 1e-6
HALF_A_CENTIMETRE_FT = 0.005 / 0.3048
START = datetime(2026, 5, 4, 10, 12, 7, tzinfo=UTC)
NS10 = 'xmlns="http://www.topografix.com/GPX/1/0"'
NS11 = 'xmlns="http://www.topografix.com/GPX/1/1"'


def point(i, inside="", time=None, lat=None, lon=None):
    when = (START + timedelta(seconds=i)).strftime("%Y-%m-%dT%H:%M:%SZ") if time is None else time
    stamp = f"<time>{when}</time>" if when else ""
    lat = f"{-17.5 + i * 0.0005:.6f}" if lat is None else lat
    lon = f"{178.9 + i * 0.0001:.6f}" if lon is None else lon
    return f'<trkpt lat="{lat}" lon="{lon}"><ele>{900 + i}.5</ele>{stamp}{inside}</trkpt>'


def gpx(*segments, version="1.1", ns=NS11, before="", after="", declaration='<?xml version="1.0"?>\n'):
    inside = "\n".join("<trkseg>\n" + "\n".join(points) + "\n</trkseg>" for points in segments)
    return f'{declaration}<gpx version="{version}" creator="test" {ns}>\n{before}<trk>\n{inside}\n</trk>{after}\n</gpx>\n'


def written(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "flight.gpx"
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def same_as_gpxpy(track, text):
    """Every point of the file, as the independent reader sees it."""
    points = [p for trk in gpxpy.parse(text).tracks for segment in trk.segments for p in segment.points]
    parts = [
        n for n, s in enumerate(s for t in gpxpy.parse(text).tracks for s in t.segments) for _ in s.points
    ]
    assert len(track) == len(points)
    np.testing.assert_array_equal(track.latitude_deg, [p.latitude for p in points])
    np.testing.assert_array_equal(track.longitude_deg, [p.longitude for p in points])
    np.testing.assert_allclose(
        track.altitude_ft, [p.elevation * FEET_PER_METRE for p in points], rtol=0, atol=HALF_A_CENTIMETRE_FT
    )
    moments = [track.epoch + timedelta(seconds=float(t)) for t in track.t_s]
    for moment, p in zip(moments, points, strict=True):
        assert abs((moment - p.time).total_seconds()) <= ONE_MICROSECOND_S
    np.testing.assert_array_equal(track.part, parts)


PLAIN = gpx([point(i) for i in range(5)], [point(i) for i in range(60, 64)])


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        gpx([point(i) for i in range(5)], version="1.0", ns=NS10),
        gpx([point(i) for i in range(5)], ns=""),
        PLAIN.replace("\n", "").replace("?>", "?>\n", 1),
    ],
    ids=["1.1", "1.0", "no namespace", "on one line"],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "iso-8859-1"])
def test_points_are_those_gpxpy_reads(tmp_path, text, encoding):
    declared = encoding.replace("-sig", "").removesuffix("-be")
    whole = text.replace('<?xml version="1.0"?>', f'<?xml version="1.0" encoding="{declared}"?>')
    whole = whole.replace("<trk>", "<trk><name>Übung ±1</name>", 1)

    track = read_track(written(tmp_path, whole, encoding))

    same_as_gpxpy(track, text)
    assert track.format == "gpx"
    assert track.altitude_source == "gps"


def test_any_prefix_will_do(tmp_path):
    text = PLAIN.replace("</", "</q:").replace("<t", "<q:t").replace("<e", "<q:e").replace("<gpx", "<q:gpx")
    text = text.replace("xmlns=", "xmlns:q=")

    track = read_track(written(tmp_path, text))

    same_as_gpxpy(track, PLAIN)


def test_a_prefix_that_is_not_declared_is_tolerated_to_the_end_of_a_long_file(tmp_path):
    """Some writers put in vendor elements and forget to declare their prefix."""
    points = [point(i, "<extensions><v:hr>61</v:hr></extensions>") for i in range(2000)]

    track = read_track(written(tmp_path, gpx(points)))

    assert len(track) == 2000
    assert track.notes == ()


def degrees(limit):
    """To a millionth, which gpxpy writes in full; never 0, which a recorder without a position writes."""
    return st.integers(-limit * 10**6 + 1, limit * 10**6 - 1).filter(bool).map(lambda n: n / 10**6)


@given(
    rows=st.lists(
        st.tuples(degrees(90), degrees(180), st.floats(-400, 12_000), st.integers(0, 86_400_000)),
        min_size=2,
        max_size=30,
    )
)
def test_what_gpxpy_writes_comes_back(tmp_path_factory, rows):
    segment = gpxpy.gpx.GPXTrackSegment()
    for lat, lon, ele, ms in rows:
        time = START + timedelta(milliseconds=ms)
        segment.points.append(gpxpy.gpx.GPXTrackPoint(lat, lon, elevation=ele, time=time))
    trk = gpxpy.gpx.GPXTrack()
    trk.segments.append(segment)
    whole = gpxpy.gpx.GPX()
    whole.tracks.append(trk)
    text = whole.to_xml()

    track = read_track(written(tmp_path_factory.mktemp("gpx"), text))

    same_as_gpxpy(track, text)


def test_lines_are_those_of_the_file_even_beyond_65535(tmp_path):
    track = read_track(written(tmp_path, gpx([point(0), "\n" * 70000, point(1)])))

    assert track.line.tolist() == [5, 70_007]


def test_points_are_counted_where_everything_is_on_one_line(tmp_path):
    track = read_track(written(tmp_path, PLAIN.replace("\n", "")))

    assert track.line.tolist() == list(range(1, 10))


def test_segments_and_tracks_are_parts(tmp_path):
    text = gpx(
        [point(0), point(1)], [], [point(5)], after=f"<trk><trkseg>{point(9)}{point(10)}</trkseg></trk>"
    )

    track = read_track(written(tmp_path, text))

    assert track.part.tolist() == [0, 0, 1, 2, 2]
    assert track.notes == ("The file holds 2 tracks; all were read, in the file's order.",)


def test_routes_and_waypoints_are_left_aside_and_said(tmp_path):
    text = gpx(
        [point(0), point(1)],
        before='<wpt lat="1" lon="2"><time>2026-05-04T00:00:00Z</time></wpt>\n'
        '<rte><rtept lat="3" lon="4"/><rtept lat="5" lon="6"/></rte>\n',
    )

    track = read_track(written(tmp_path, text))

    assert len(track) == 2
    assert track.notes == ("1 waypoint left aside.", "2 route points left aside.")


@pytest.mark.parametrize(
    ("time", "expected"),
    [
        ("2026-05-04T10:12:07.25Z", "2026-05-04T10:12:07.250000+00:00"),
        ("2026-05-04T10:12:07.123456789Z", "2026-05-04T10:12:07.123456+00:00"),
        ("2026-05-04T12:12:07+02:00", "2026-05-04T10:12:07+00:00"),
        ("2026-05-03T23:42:07-10:30", "2026-05-04T10:12:07+00:00"),
        ("2026-05-04 10:12:07Z", "2026-05-04T10:12:07+00:00"),
        (" 2026-05-04T10:12:07Z\n", "2026-05-04T10:12:07+00:00"),
        ("20260504T101207Z", "2026-05-04T10:12:07+00:00"),
        ("2016-12-31T23:59:60Z", "2017-01-01T00:00:00+00:00"),  # a leap second is the one after it
        ("2026-05-04T24:00:00Z", "2026-05-05T00:00:00+00:00"),
    ],
)
def test_times(tmp_path, time, expected):
    track = read_track(written(tmp_path, gpx([point(0, time=time), point(20)])))

    assert track.epoch.isoformat() == expected
    assert track.notes == ()


def test_a_time_without_zone_is_utc_and_said(tmp_path):
    points = [point(i, time=f"2026-05-04T10:12:0{i}") for i in range(3)]

    track = read_track(written(tmp_path, gpx(points)))

    assert track.epoch == datetime(2026, 5, 4, 10, 12, tzinfo=UTC)
    assert track.assumed == ("3 times without a zone taken as UTC, as GPX asks for.",)
    assert set(track.assumed) <= set(track.notes)


def test_points_that_cannot_be_used_are_counted(tmp_path):
    points = [
        point(0),
        point(1, time=""),
        point(2, time="around noon"),
        point(3, lat="91.0"),
        point(4, lon="east"),
        point(5, lat=""),
        point(6),
    ]

    track = read_track(written(tmp_path, gpx(points)))

    assert track.t_s.tolist() == [0, 6]
    assert track.line.tolist() == [5, 11]
    assert track.notes == (
        "Times that cannot be read, the first 'around noon'.",
        "2 points without a position left out (the first in line 9).",
        "1 point with a position that is not on the Earth left out (the one in line 8).",
        "2 points without a time that can be read left out (the first in line 6).",
    )


def test_longitudes_are_brought_into_range(tmp_path):
    points = [point(0, lon="180"), point(1, lon="181.5"), point(2, lon="-180")]

    track = read_track(written(tmp_path, gpx(points)))

    assert track.longitude_deg.tolist() == [-180, -178.5, -180]
    assert track.notes == ("Longitudes beyond 180 degrees were taken as west of Greenwich.",)


def test_gpx_1_0_speed_is_metres_a_second_and_course_is_true(tmp_path):
    """GPX 1.0: speed in m/s, course in degrees true. Mark: seen (2nd hand). 1 m/s = 3600 / 1852 kt."""
    points = [point(i, "<course>48.5</course><speed>51.444</speed>") for i in range(2)]

    track = read_track(written(tmp_path, gpx(points, version="1.0", ns=NS10)))

    assert track.columns["groundspeed_kt"] == pytest.approx([100.0, 100.0], abs=0.001)
    assert track.columns["ground_track_true_deg"].tolist() == [48.5, 48.5]
    assert track.notes == ()


def test_speed_outside_the_schema_of_1_1_is_an_assumption(tmp_path):
    points = [point(i, "<speed>51.444</speed>") for i in range(2)]

    track = read_track(written(tmp_path, gpx(points)))

    assert track.columns["groundspeed_kt"] == pytest.approx([100.0, 100.0], abs=0.001)
    assert track.assumed == (
        "The points have a speed outside GPX 1.1: taken as metres a second, as in GPX 1.0.",
    )


def test_extensions_count_only_where_their_schema_states_the_unit(tmp_path):
    known = "<e:speed>51.444</e:speed><e:course>48</e:course>"
    unknown = "<f:speed>100</f:speed><f:heading>48</f:heading>"
    ns = f'{NS11} xmlns:e="http://example.org/xmlschemas/TrackPointExtension/v2" xmlns:f="http://example.org/f"'
    points = [point(i, f"<extensions><e:a>{known}</e:a>{unknown}</extensions>") for i in range(2)]

    track = read_track(written(tmp_path, gpx(points, ns=ns)))

    assert track.columns["groundspeed_kt"] == pytest.approx([100.0, 100.0], abs=0.001)
    assert track.columns["ground_track_true_deg"].tolist() == [48, 48]
    assert set(track.columns) == {"groundspeed_kt", "ground_track_true_deg"}
    assert track.notes == ("Speeds or courses in extensions were left out: no schema states their units.",)


def test_geoid_height_and_fix_are_said_and_change_nothing(tmp_path):
    points = [point(i, "<geoidheight>57.3</geoidheight><fix>none</fix>") for i in range(2)]

    track = read_track(written(tmp_path, gpx(points)))

    assert track.altitude_ft[0] == pytest.approx(900.5 * FEET_PER_METRE, abs=HALF_A_CENTIMETRE_FT)
    assert track.notes == (
        "The file gives the geoid's height (57 m above the ellipsoid); elevations were taken as they stand.",
        "2 points marked as without a fix were kept.",
    )


def test_decimal_commas_are_understood_and_said(tmp_path):
    points = [point(i, lat="-17,25", lon="178,5").replace("900.5", "900,5") for i in range(2)]

    track = read_track(written(tmp_path, gpx(points)))

    assert track.latitude_deg.tolist() == [-17.25, -17.25]
    assert track.longitude_deg.tolist() == [178.5, 178.5]
    assert track.altitude_ft[0] == pytest.approx(900.5 * FEET_PER_METRE, abs=HALF_A_CENTIMETRE_FT)
    assert track.notes == ("5 numbers written with a decimal comma.",)


def test_elevations_in_feet_when_asked(tmp_path):
    track = read_track(written(tmp_path, PLAIN), altitude_unit="ft")

    assert track.altitude_ft[0] == 900.5
    assert track.notes == ("Elevations were taken as feet, as asked.",)


def test_no_elevations(tmp_path):
    text = gpx(['<trkpt lat="1" lon="2"><time>2026-05-04T10:12:07Z</time></trkpt>'] * 2)

    track = read_track(written(tmp_path, text))

    assert np.isnan(track.altitude_ft).all()
    assert track.altitude_source == "unknown"
    assert track.notes == ("The log has no altitudes.",)


def test_blank_lines_before_the_declaration_do_not_matter(tmp_path):
    track = read_track(written(tmp_path, "\r\n \r\n" + PLAIN))

    same_as_gpxpy(track, PLAIN)
    assert track.line[0] == 7


@pytest.mark.parametrize("declared", ["utf-8", "utf-16", "us-ascii", "iso-8859-1", "klingon"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-32", "cp1252"])
def test_the_bytes_go_over_the_declared_encoding(tmp_path, encoding, declared):
    text = PLAIN.replace("?>", f' encoding="{declared}"?>', 1).replace("<trk>", "<trk><name>Übung</name>")

    track = read_track(written(tmp_path, text, encoding))

    same_as_gpxpy(track, PLAIN)
    assert track.notes in ((), ("The file is not in the encoding it declares; names may be misspelt.",))


def test_a_wrong_letter_far_into_the_file(tmp_path):
    content = gpx([point(i) for i in range(3000)]).encode().replace(b"</trk>", b"<desc>\xdcbung</desc></trk>")

    track = read_track(written(tmp_path, content))

    assert len(track) == 3000
    assert track.notes == ("The file is not in the encoding it declares; names may be misspelt.",)


def test_zeros_at_the_end_as_a_power_cut_leaves_them(tmp_path):
    track = read_track(written(tmp_path, PLAIN.encode() + b"\0" * 500))

    same_as_gpxpy(track, PLAIN)


def test_a_file_cut_off_after_a_minute_is_used_as_far_as_it_goes(tmp_path):
    """A pilot whose computer stopped has such a file, and the flight in it is still worth a debrief."""
    text = gpx([point(i) for i in range(300)])
    cut = text[: text.index(point(200)) + 30]

    track = read_track(written(tmp_path, cut))

    assert len(track) == 200
    assert track.t_s[-1] == 199
    assert track.notes[0].startswith("The file breaks off in line 205 (")
    assert track.notes[0].endswith("): only the 200 points before that were read.")


def test_damage_in_the_middle_says_how_much_was_not_read(tmp_path):
    text = gpx([point(i) for i in range(4000)]).replace(point(1000), "<trkpt lat=<<")

    track = read_track(written(tmp_path, text))

    assert len(track) == 1000
    share = int(track.notes[0].partition("; ")[2].partition("%")[0])
    assert 65 <= share <= 75  # read in pieces of 64 KB of 400 KB


def test_a_file_cut_off_at_once_is_refused(tmp_path):
    text = gpx([point(i) for i in range(300)])
    path = written(tmp_path, text[: text.index(point(28)) + 12])

    with pytest.raises(TrackError) as error:
        read_track(path)

    text = str(error.value)  # the reason in the middle is the XML library's
    assert text.startswith(f"{path}, line 33: the XML breaks off after point 28: ")
    assert text.endswith(". Export the log again.")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (gpx([]), ": it holds no track points. Export the track that was recorded, with its times."),
        (
            "<gpx><rte><rtept lat='1' lon='2'/><rtept lat='1' lon='2'/></rte><wpt lat='1' lon='2'/></gpx>",
            (
                ": it holds 2 route points and 1 waypoint but no track. "
                "Export the track that was recorded, with its times."
            ),
        ),
        (
            gpx([point(0, time=""), point(1, time="")]),
            (
                ": none of 2 track points has a time that can be read. "
                "Export the log with its times: a drawn route has none."
            ),
        ),
        (
            gpx([point(0, time="04/05/2026 10:12"), point(1, time="")]),
            (
                ": none of 2 track points has a time that can be read; the first reads '04/05/2026 10:12'. "
                "Export the log with its times: a drawn route has none."
            ),
        ),
        (gpx([point(0)]), ": only one point in it. A debrief needs a track: export the whole flight."),
        (
            gpx([point(0), point(1, time="")]),
            ": only 1 point of 2 can be used. A debrief needs a track: export the whole flight.",
        ),
        (
            gpx([point(i, lat="", lon="") for i in range(3)]),
            ": none of 3 points has a position. Export the log again with latitude and longitude.",
        ),
        (
            gpx([point(i, lat="247.5") for i in range(3)]),
            (
                ", line 5: no position is on the Earth: latitude 247.5, longitude 178.9. "
                "Positions must be degrees, latitude -90 to 90 and longitude -180 to 180."
            ),
        ),
        (
            gpx([point(i, lat="0", lon="0") for i in range(3)]),
            ": every point lies at latitude 0, longitude 0. The recorder had no position: record the flight again.",
        ),
    ],
    ids=["empty", "route", "no times", "odd times", "one point", "one usable", "no positions", "off", "zero"],
)
def test_nothing_to_use_is_one_clear_line(tmp_path, text, said):
    path = written(tmp_path, text)

    with pytest.raises(TrackError) as error:
        read_track(path)

    assert str(error.value) == f"{path}{said}"


NO_TYPES = (
    ": it declares a document type or entities, which a log has no need of and which is not read. "
    "Remove the <!DOCTYPE ...> from the file, or export the log again."
)


def laughs():
    entities = '<!ENTITY a0 "ha">' + "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 10))
    return f"<!DOCTYPE gpx [{entities}]>\n"


@pytest.mark.parametrize("where", ["attribute", "text"])
@pytest.mark.parametrize("kind", ["bomb", "external", "declared", "late"])
def test_entities_are_refused(tmp_path, kind, where):
    secret = tmp_path / "secret.txt"
    secret.write_text("2026-05-04T10:12:07Z")
    types = {
        "bomb": laughs(),
        "external": f'<!DOCTYPE gpx [<!ENTITY a9 SYSTEM "{secret.as_uri()}">]>\n',
        "declared": '<!DOCTYPE gpx SYSTEM "gpx.dtd" [<!ENTITY a9 "1">]>\n',
        "late": "<!-- " + "x" * 70_000 + " -->\n" + laughs(),
    }[kind]
    inside = point(0, lat="&a9;") if where == "attribute" else point(0, time="&a9;")
    text = gpx([inside, point(1)]).replace("?>\n", f"?>\n{types}", 1)
    path = written(tmp_path, text)

    with pytest.raises(TrackError) as error:
        read_track(path)

    assert str(error.value) == f"{path}{NO_TYPES}"


def test_two_aircraft_at_the_same_time_are_refused(tmp_path):
    other = "<trk><trkseg>" + "".join(point(i, lat="-16.5") for i in range(20)) + "</trkseg></trk>"
    path = written(tmp_path, gpx([point(i) for i in range(20)], after=other))

    with pytest.raises(TrackError) as error:
        read_track(path)

    # 1.0 degree less half a minute of latitude, at 60 NM a degree
    assert str(error.value) == (
        f"{path}: tracks 1 and 2 are 60 NM apart at the same time: they are of different aircraft. "
        "Keep one track in the file."
    )


def test_the_same_flight_twice_is_said(tmp_path):
    again = "<trk><trkseg>" + "".join(point(i) for i in range(20)) + "</trkseg></trk>"

    track = read_track(written(tmp_path, gpx([point(i) for i in range(20)], after=again)))

    assert len(track) == 40
    assert track.notes == (
        "The file holds 2 tracks; all were read, in the file's order.",
        "Tracks in the file overlap in time and agree: the flight is in it more than once.",
    )


def test_the_digest_is_that_of_the_files_bytes(tmp_path):
    path = written(tmp_path, PLAIN)

    assert read_track(path).sha256 == hashlib.sha256(PLAIN.encode()).hexdigest()
    assert read_track(str(path)).file == "flight.gpx"


def test_files_are_told_by_content_not_by_name(tmp_path):
    path = tmp_path / "flight.csv"
    path.write_text(PLAIN)

    assert read_track(path).format == "gpx"


VECTORS = Path(__file__).parents[2] / "vectors" / "gpx"


def schema():
    """GPX 1.1, from memory; see the head of the file."""
    return xmlschema.XMLSchema(str(VECTORS / "gpx_1_1_from_memory.xsd"))


def test_a_file_with_every_element_of_the_schema(tmp_path):
    """The file is valid against the schema, and only its track points are read. 304.8 m are 1,000 ft."""
    path = VECTORS / "every_element.gpx"
    schema().validate(str(path))

    track = read_track(path)

    assert track.latitude_deg.tolist() == [-17.7, -17.6]
    assert track.longitude_deg.tolist() == [178.3, 178.4]
    assert track.altitude_ft == pytest.approx([1000, 2000], abs=HALF_A_CENTIMETRE_FT)
    assert track.t_s.tolist() == [0, 5.5]
    assert track.part.tolist() == [0, 1]
    assert track.notes == (
        "The file gives the geoid's height (57 m above the ellipsoid); elevations were taken as they stand.",
        "1 waypoint left aside.",
        "1 route point left aside.",
    )


def test_the_tests_own_files_are_valid(tmp_path):
    schema().validate(str(written(tmp_path, PLAIN)))


MEASURE = """
import resource, sys
from debrief.tracks.readers import read_track
read_track(sys.argv[1])
before_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
track = read_track(sys.argv[2])
print(len(track), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kb)
"""


def test_memory_does_not_grow_with_the_tree(tmp_path):
    """100,000 points are 14 MB of text and, as a tree, more than 100 MB; as numbers they are 10 MB."""
    small, large = written(tmp_path, PLAIN), tmp_path / "large.gpx"
    large.write_text(gpx([point(i) for i in range(100_000)]))

    run = subprocess.run(
        [sys.executable, "-c", MEASURE, str(small), str(large)], capture_output=True, text=True, check=True
    )

    count, grown_kb = map(int, run.stdout.split())
    assert count == 100_000
    assert grown_kb < 50_000


def test_columns_asked_for_are_said_to_be_of_no_use():
    track = read_track("sample_tracks/lantern-clean.gpx", columns={"latitude": "Y"})

    assert track.notes[-1] == "The columns asked for (latitude) were not used: only a CSV has columns."
    assert not read_track("sample_tracks/lantern-clean.gpx").notes
