"""KML: tracks and placemarks with times, against fastkml as an independent reader, and what is said about the rest."""

import math
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import fastkml
import numpy as np
import pytest

from debrief.errors import TrackError
from debrief.tracks.readers import read_track

from .flight import flight, iso
from .test_read_gpx import MEASURE

FEET_PER_METRE = 1 / 0.3048
GX = 'xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"'
PLAIN_23 = 'xmlns="http://www.opengis.net/kml/2.3"'
ABSOLUTE = "<altitudeMode>absolute</altitudeMode>"


def coordinates(row, mark=" "):
    return f"{row.longitude:.7f}{mark}{row.latitude:.7f}{mark}{row.altitude_ft * 0.3048:.2f}"


def track(rows, mode=ABSOLUTE, interleaved=False, prefix="gx:"):
    whens = [f"<when>{iso(row)}</when>" for row in rows]
    coords = [f"<{prefix}coord>{coordinates(row)}</{prefix}coord>" for row in rows]
    if interleaved:
        inside = "\n".join(f"{when}{coord}" for when, coord in zip(whens, coords, strict=True))
    else:
        inside = "\n".join(whens + coords)
    return f"<{prefix}Track>\n{mode}\n{inside}\n</{prefix}Track>"


def placemark(row, mode=ABSOLUTE, time="<TimeStamp><when>{}</when></TimeStamp>"):
    return (
        f"<Placemark>{time.format(iso(row))}<Point>{mode}<coordinates>{coordinates(row, ',')}</coordinates></Point>"
        "</Placemark>"
    )


def kml(*placemarks, ns=GX):
    inside = "\n".join(placemarks)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<kml {ns}>\n<Document>\n{inside}\n</Document>\n</kml>\n'


def placed(*tracks):
    return "<Placemark>" + "\n".join(tracks) + "</Placemark>"


def written(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "flight.kml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def refused(path, **wishes):
    with pytest.raises(TrackError) as error:
        read_track(path, **wishes)
    assert "\n" not in str(error.value)
    return str(error.value).removeprefix(f"{path}: ")


def same(read, rows, altitudes=True):
    assert [read.epoch + timedelta(seconds=float(t)) for t in read.t_s] == [row.time for row in rows]
    np.testing.assert_allclose(read.latitude_deg, [r.latitude for r in rows], rtol=0, atol=1e-7)
    np.testing.assert_allclose(read.longitude_deg, [r.longitude for r in rows], rtol=0, atol=1e-7)
    if altitudes:
        np.testing.assert_allclose(read.altitude_ft, [r.altitude_ft for r in rows], rtol=0, atol=0.02)
    else:
        assert np.isnan(read.altitude_ft).all()


@pytest.mark.parametrize("interleaved", [False, True])
@pytest.mark.parametrize(("ns", "prefix"), [(GX, "gx:"), (PLAIN_23, "")], ids=["2.2", "2.3"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_a_track_comes_back(tmp_path, interleaved, ns, prefix, encoding):
    rows = flight()
    text = kml(placed("<name>Übung</name>", track(rows, interleaved=interleaved, prefix=prefix)), ns=ns)

    read = read_track(
        written(tmp_path, text.replace('"UTF-8"', f'"{encoding.removesuffix("-sig")}"'), encoding)
    )

    same(read, rows)
    assert (read.format, read.altitude_source, read.notes) == ("kml", "unknown", ())


def test_a_track_is_the_one_that_fastkml_reads(tmp_path):
    text = kml(placed(track(flight(40))))
    steps = next(iter(fastkml.KML.from_string(text.encode()).features)).features[0].kml_geometry.track_items

    read = read_track(written(tmp_path, text))

    moments = [read.epoch + timedelta(seconds=float(t)) for t in read.t_s]
    assert moments == [step.when.dt for step in steps]
    np.testing.assert_array_equal(read.longitude_deg, [step.coord.x for step in steps])
    np.testing.assert_array_equal(read.latitude_deg, [step.coord.y for step in steps])
    np.testing.assert_allclose(read.altitude_ft * 0.3048, [step.coord.z for step in steps], rtol=0, atol=1e-6)


def test_the_tracks_of_a_multi_track_are_parts(tmp_path):
    rows = flight(60)
    multi = f"<gx:MultiTrack>{track(rows[:30])}{track(rows[30:])}</gx:MultiTrack>"

    read = read_track(written(tmp_path, kml(placed(multi))))

    same(read, rows)
    assert read.part.tolist() == [0] * 30 + [1] * 30
    assert read.notes == ()


def test_several_tracks_are_read_in_the_order_of_the_file(tmp_path):
    rows = flight(60)

    read = read_track(written(tmp_path, kml(placed(track(rows[:30])), placed(track(rows[30:])))))

    same(read, rows)
    assert read.notes == ("The file holds 2 tracks; all were read, in the file's order.",)


def test_two_aircraft_are_told_apart(tmp_path):
    path = written(tmp_path, kml(placed(track(flight())), placed(track(flight(latitude=-18.5)))))

    assert "they are of different aircraft" in refused(path)


@pytest.mark.parametrize(
    "time",
    [
        "<TimeStamp><when>{}</when></TimeStamp>",
        "<TimeSpan><begin>{}</begin><end>2026-05-05T00:00:00Z</end></TimeSpan>",
    ],
)
def test_placemarks_with_times_are_a_track(tmp_path, time):
    rows = flight()
    view = "<LookAt><gx:TimeStamp><when>1999-01-01T00:00:00Z</when></gx:TimeStamp></LookAt>"
    marks = [placemark(row, time=time).replace("<Placemark>", f"<Placemark>{view}") for row in rows]

    read = read_track(written(tmp_path, kml("<Folder>", *marks, "</Folder>")))

    same(read, rows)
    assert read.notes == ()


def test_the_track_is_taken_where_there_are_placemarks_too(tmp_path):
    rows = flight()
    plain = "<Placemark><Point><coordinates>178.4,-17.7</coordinates></Point></Placemark>"
    line = "<Placemark><LineString><coordinates>178,-17 179,-17</coordinates></LineString></Placemark>"
    text = kml(placemark(rows[7]), plain, line, line, placed(track(rows)))

    read = read_track(written(tmp_path, text))

    same(read, rows)
    assert read.notes == (
        "1 placemark with a time left aside: the track was read.",
        "2 lines without times left aside.",
        "1 placemark without times left aside.",
    )


@pytest.mark.parametrize(
    "mode", ["", "<altitudeMode>clampToGround</altitudeMode>", "<altitudeMode>odd</altitudeMode>"]
)
def test_altitudes_that_the_file_does_not_mean_are_no_altitudes(tmp_path, mode):
    rows = flight()
    path = written(tmp_path, kml(placed(track(rows, mode))))

    read = read_track(path)

    same(read, rows, altitudes=False)
    assert read.notes[0] == (
        "120 altitudes left out, which the file itself says to pass over (altitudeMode clampToGround): "
        "--units-altitude m takes them as metres above the sea."
    )
    same(read_track(path, altitude_unit="m"), rows)


@pytest.mark.parametrize("mode", ["<altitudeMode>relativeToGround</altitudeMode>", "<gx:altitudeMode>relativeToSeaFloor</gx:altitudeMode>"])  # fmt: skip
def test_heights_above_the_ground_are_never_altitudes(tmp_path, mode):
    rows = flight()
    path = written(tmp_path, kml(placed(track(rows, mode))))

    read = read_track(path, altitude_unit="m")

    same(read, rows, altitudes=False)
    assert read.notes[0] == "120 heights above the ground left out: no altitude follows from them."


def test_feet_for_metres_when_asked(tmp_path):
    read = read_track(written(tmp_path, kml(placed(track(flight())))), altitude_unit="ft")

    assert read.altitude_ft[0] == pytest.approx(1500 * 0.3048, abs=0.01)


def test_positions_that_are_not_there_are_left_out(tmp_path):
    rows = flight()
    text = kml(placed(track(rows)))
    text = text.replace(coordinates(rows[5]), "").replace(coordinates(rows[9]), "178.5 x 3")

    read = read_track(written(tmp_path, text))

    same(read, [row for n, row in enumerate(rows) if n not in (5, 9)])
    assert read.notes == ("2 points without a position left out (the first in point 6).",)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("178.5 -17.5 300", (178.5, -17.5, 300)),
        ("178.5,-17.5,300", (178.5, -17.5, 300)),
        ("178,5 -17,5 300,0", (178.5, -17.5, 300)),
        (" 178.5\n-17.5 ", (178.5, -17.5, math.nan)),
    ],
)
def test_the_ways_to_write_a_position(tmp_path, text, place):
    rows = flight(2)
    whole = kml(placed(track(rows)))
    for row in rows:
        whole = whole.replace(coordinates(row), text)

    read = read_track(written(tmp_path, whole))

    found = (read.longitude_deg[0], read.latitude_deg[0], read.altitude_ft[0] * 0.3048)
    assert found == pytest.approx(place, abs=1e-6, nan_ok=True)


@pytest.mark.parametrize("interleaved", [False, True])
def test_a_file_cut_off_after_a_minute_is_used_as_far_as_it_goes(tmp_path, interleaved):
    rows = flight()
    text = kml(placed(track(rows, interleaved=interleaved)))
    cut = text[: text.index(coordinates(rows[80])) + 5]

    read = read_track(written(tmp_path, cut))

    same(read, rows[:80])
    assert read.notes[0].startswith("The file breaks off in line ")
    assert ": only the 80 points before that were read" in read.notes[0]


def test_bytes_in_another_encoding_than_declared(tmp_path):
    rows = flight()
    text = kml("<name>Übung</name>", placed(track(rows)))

    read = read_track(written(tmp_path, text, "cp1252"))

    same(read, rows)
    assert read.notes == ("The file is not in the encoding it declares; names may be misspelt.",)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (kml(), "it holds no track. Export the track with its times."),
        (
            kml("<Placemark><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark>"),
            "it holds 1 line, but no times. Export the track with its times: a drawn line has none.",
        ),
        (
            kml(*["<Placemark><Point><coordinates>1,2</coordinates></Point></Placemark>"] * 2),
            "it holds 2 placemarks, but no times. Export the track with its times: a drawn line has none.",
        ),
        (
            kml(placed(track(flight(9)).replace(f"<when>{iso(flight()[3])}</when>", ""))),
            "a track has 8 times and 9 positions, so that it is not known which belong together. Export the log again.",
        ),
        (
            kml(placed(track(flight(3)).replace("2026-05-04T", "2026-05 "))),
            "none of 3 points has a time that can be read; the first reads '2026-05 22:12:07Z'. Export the log with the time of each point.",
        ),
        (kml(placed(track(flight(1)))), "only one point in it. A debrief needs a track: export the whole flight."),
        (
            kml(placed(track(flight(9)))).replace("<kml", "<!DOCTYPE kml [<!ENTITY a '1'>]><kml"),
            "it declares a document type or entities, which a log has no need of and which is not read. Remove the <!DOCTYPE ...> from the file, or export the log again.",
        ),
    ],
    ids=["empty", "line", "points", "unequal", "odd times", "one", "entity"],
)  # fmt: skip
def test_what_holds_no_track_is_refused(tmp_path, text, said):
    assert refused(written(tmp_path, text)) == said


def test_a_file_cut_off_early_is_refused(tmp_path):
    rows = flight()
    text = kml(placed(track(rows)))

    early = refused(written(tmp_path, text[: text.index(coordinates(rows[5]))]))
    before = refused(written(tmp_path, text[: text.index(coordinates(rows[0]))]))

    assert "the XML breaks off after point 5: " in early
    assert "the XML breaks off before the first position: " in before


@pytest.mark.parametrize("name", ["lol", "file"])
def test_entities_are_never_opened(tmp_path, name):
    """A bomb of entities within entities, and one that names a file."""
    (tmp_path / "secret").write_text("178.5 -17.5 300")
    entities = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 12))
    entities = (
        f'<!ENTITY e0 "ha">{entities}' if name == "lol" else f'<!ENTITY e11 SYSTEM "{tmp_path}/secret">'
    )
    text = kml(placed(track(flight(9)).replace(coordinates(flight()[0]), "&e11;")))
    text = text.replace("<kml", f"<!DOCTYPE kml [{entities}]><kml")

    assert "which is not read" in refused(written(tmp_path, text))


def test_times_without_a_zone_are_taken_as_utc_and_said(tmp_path):
    rows = flight()

    read = read_track(written(tmp_path, kml(placed(track(rows).replace("Z</when>", "</when>")))))

    same(read, rows)
    assert read.assumed == ("120 times without a zone taken as UTC.",)


def test_times_with_an_offset(tmp_path):
    read = read_track(written(tmp_path, kml(placed(track(flight()).replace("Z</when>", "+12:00</when>")))))

    assert read.epoch == datetime(2026, 5, 4, 10, 12, 7, tzinfo=UTC)


def test_memory_does_not_grow_with_the_tree(tmp_path):
    """100,000 points are 9 MB of text and, as a tree, more than 100 MB; as numbers they are 10 MB."""
    small, large = written(tmp_path, kml(placed(track(flight(9))))), tmp_path / "large.kml"
    large.write_text(kml(placed(track(flight(100) * 1000))))

    run = subprocess.run(
        [sys.executable, "-c", MEASURE, str(small), str(large)], capture_output=True, text=True, check=True
    )

    count, grown_kb = map(int, run.stdout.split())
    assert count == 100_000
    assert grown_kb < 50_000
