"""Whatever is in a file: a track, or one clear line. Nothing else ever comes out of a reader."""

import json
from time import process_time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.readers import READERS, read_track

from .flight import CLIMB_FT_MIN, SPEED_KT, flight, iso, table, usual
from .test_read_geojson import line
from .test_read_gpx import gpx, point
from .test_read_igc import igc
from .test_read_kml import kml, placed, placemark, track

ROWS = flight(40)
SEEDS = (
    gpx(
        [point(i, "<speed>51</speed>" if i % 3 else "<extensions><a>1</a></extensions>") for i in range(80)],
        [point(i) for i in range(90, 120)],
    ).encode(),
    gpx([point(i) for i in range(30)]).replace("1.0", "1.0").encode("utf-16"),
    table(
        usual(
            alt=lambda r: r.altitude_ft, vs=lambda r: CLIMB_FT_MIN, speed=lambda r: SPEED_KT, hdg=lambda r: 40
        ),
        ROWS,
    ).encode(),
    table(usual(Höhe=lambda r: r.altitude_ft), ROWS, delimiter=";", decimal=",").encode("cp1252"),
    table(
        {
            "Date": lambda r: f"{r.time:%d/%m/%Y}",
            "Time": lambda r: f"{r.time:%I:%M:%S %p}",
            "Position": lambda r: f"{r.latitude:.4f},{r.longitude:.4f}",
            "Altitude (ft)": lambda r: f"{r.altitude_ft:,.0f}",
        },
        ROWS,
    ).encode(),
    table(
        {"t": lambda r: r.time.timestamp(), "lat": lambda r: 4712.3, "lon": lambda r: 812.3}, ROWS
    ).encode(),
    igc(ROWS, ("HFDTE040526", "HFPLTPILOT:X", "I023638FXA3941GSP"), more="035222").encode(),
    kml(placed(track(ROWS)), placemark(ROWS[0])).encode(),
    kml(*map(placemark, ROWS)).encode(),
    json.dumps(line(ROWS, times=[iso(row) for row in ROWS], altitude_ft=[900.0] * 40)).encode(),
)
PIECES = (
    b"\0", b"<", b">", b"&", b'"', b",", b";", b"\n", b"nan", b"inf", b"1e400", b"-", b"\xff", b"</trk>", b"<!--", b"]]>",
    b"&#0;", b"9" * 30, b"\xed\xa0\x80", b"2026-05-04T10:12:07Z", b"NULL", b"null", b"[", b"}", b"1,234.5", b"\xe2\x80\xa8",
)  # fmt: skip


def outcome(folder, content, **wishes):
    path = folder / "flight"
    path.write_bytes(content)
    try:
        track = read_track(path, **wishes)
    except TrackError as error:
        text = str(error)
        assert text.startswith(str(path))
        assert "\n" not in text
        return None
    assert len(track) >= 2
    assert np.isfinite(track.t_s).all()
    assert (np.abs(track.latitude_deg) <= 90).all()
    assert ((track.longitude_deg >= -180) & (track.longitude_deg < 180)).all()
    assert not np.isinf(track.altitude_ft).any()
    assert set(track.assumed) <= set(track.notes)
    return track


@settings(max_examples=150)
@given(
    st.binary(max_size=400),
    st.sampled_from([None, *(reader.NAME for reader in READERS)]),
    st.sampled_from([{}, {"time": "1", "latitude": "2"}]),
)
def test_random_bytes(tmp_path_factory, content, name, columns):
    outcome(tmp_path_factory.mktemp("fuzz"), content, format=name, columns=columns)


@settings(max_examples=100)
@given(st.text(st.sampled_from('time,lon;lat\t0123456789.-:"\n NSEW'), max_size=200))
def test_random_tables(tmp_path_factory, rows):
    outcome(tmp_path_factory.mktemp("fuzz"), ("time,lat,lon,alt,gs,date\n" + rows).encode())


@settings(max_examples=150)
@given(seed=st.sampled_from(SEEDS), share=st.floats(0, 1))
def test_cut_off_anywhere(tmp_path_factory, seed, share):
    outcome(tmp_path_factory.mktemp("fuzz"), seed[: int(len(seed) * share)])


@settings(max_examples=300)
@given(
    seed=st.sampled_from(SEEDS),
    changes=st.lists(
        st.tuples(
            st.floats(0, 1), st.integers(0, 40), st.one_of(st.sampled_from(PIECES), st.binary(max_size=6))
        ),
        max_size=6,
    ),
)
def test_damaged_anywhere(tmp_path_factory, seed, changes):
    content = bytearray(seed)
    for share, width, piece in changes:
        at = int(len(content) * share)
        content[at : at + width] = piece

    outcome(tmp_path_factory.mktemp("fuzz"), bytes(content))


@settings(max_examples=100)
@given(
    cells=st.lists(
        st.tuples(
            *[st.one_of(st.text(max_size=12), st.floats().map(str), st.sampled_from(["", "-", "N", "1,5"]))]
            * 4
        ),
        min_size=1,
        max_size=8,
    ),
    headings=st.permutations(["time", "latitude", "longitude", "altitude"]),
)
def test_any_cells_under_known_headings(tmp_path_factory, cells, headings):
    rows = "\n".join('"' + '","'.join(cell.replace('"', "") for cell in row) + '"' for row in cells)

    outcome(
        tmp_path_factory.mktemp("fuzz"), (",".join(headings) + "\n" + rows).encode("utf-8", "surrogatepass")
    )


@pytest.mark.parametrize(
    "content",
    [
        "<!-- -->" * 5000 + "<x",
        "<?a?>" * 5000,
        "time,lat,lon\n" + "1" * 100_000 + "x,1,1\n",
        "time,lat,lon\n" + "1" + " " * 100_000 + "x,1,1\n",
        'time,lat,lon\n2026-05-04T10:12:07Z,"1' + " " * 100_000 + 'x","1' + ":1" * 40_000 + '"\n',
        "time,position\n2026-05-04T10:12:07Z,N1" + " " * 90_000 + "E\n",
        ",".join(f"column {i}" for i in range(1_000)) + "\n1,2,3\n",
        "ABCD" + "\nHFDT" * 30_000,
        ("9" * 70 + ".") * 2000,
        "lat;lon;time\n" + "(" * 100_000,
    ],
    ids=[
        "comments",
        "instructions",
        "digits",
        "blanks",
        "colons",
        "letters",
        "headings",
        "lines",
        "points",
        "brackets",
    ],
)
def test_nothing_takes_long(tmp_path, content):
    """Texts made to send a careless expression round in circles: a second is ten times what they need."""
    start = process_time()

    outcome(tmp_path, content.encode())

    assert process_time() - start < 1.0
