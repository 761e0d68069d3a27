"""Logs in archives: the one log is read as if it were not packed; everything else is one clear line."""

import dataclasses
import gzip
import hashlib
import io
import lzma
import os
import tempfile
import tracemalloc
import zipfile

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.readers import packed, read_track

from .flight import flight, table, usual
from .test_fuzz import outcome
from .test_read_gpx import PLAIN
from .test_read_igc import igc
from .test_read_kml import kml, placed, track

LOGS = {
    "flight.gpx": PLAIN,
    "flight.csv": table(usual()),
    "flight.igc": igc(),
    "doc.kml": kml(placed(track(flight()))),
}


def zipped(files, method=zipfile.ZIP_DEFLATED):
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, text in files.items():
            entry = zipfile.ZipInfo(name)
            entry.compress_type = method
            archive.writestr(entry, text)
    return content.getvalue()


def written(tmp_path, content, name="flight.packed"):
    path = tmp_path / name
    path.write_bytes(content)
    return path


def refused(path, **wishes):
    with pytest.raises(TrackError) as error:
        read_track(path, **wishes)
    assert "\n" not in str(error.value)
    return str(error.value)


@pytest.fixture(autouse=True)
def nothing_is_left_behind(tmp_path, monkeypatch):
    """Temporary files go to a folder that must be empty in the end."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    yield
    assert os.listdir(temporary) == []


def same(one, other):
    for field in dataclasses.fields(one):
        if field.name not in ("file", "sha256", "notes", "columns"):
            np.testing.assert_array_equal(getattr(one, field.name), getattr(other, field.name))
    assert one.columns.keys() == other.columns.keys()


@pytest.mark.parametrize("name", LOGS)
@pytest.mark.parametrize("how", ["gzip", "deflated", "stored", "bzip2", "lzma"])
def test_the_log_is_read_as_if_it_were_not_packed(tmp_path, name, how):
    content = LOGS[name].encode()
    plain = read_track(written(tmp_path, content, name))
    if how == "gzip":
        archive = gzip.compress(content, mtime=0)
    else:
        method = {"deflated": 8, "stored": 0, "bzip2": 12, "lzma": 14}[how]
        archive = zipped({name: content}, method=method)
    path = written(tmp_path, archive)

    found = read_track(path)

    same(found, plain)
    assert found.file == "flight.packed"
    assert found.sha256 == hashlib.sha256(archive).hexdigest()
    note = () if how == "gzip" else (f"The log is {name} in the archive.",)
    assert found.notes == note + plain.notes


def test_the_one_log_among_other_files_is_found(tmp_path):
    files = {"readme.txt": "Dear instructor\nhere is my flight\n", "icons/": "", "icons/a.png": b"\x89PNG\r\n\x1a\n",
             "__MACOSX/._a.gpx": b"\0\5\x16\7" + bytes(80), "a.gpx": PLAIN}  # fmt: skip

    assert len(read_track(written(tmp_path, zipped(files)))) == 9


def test_names_in_an_archive_are_only_shown(tmp_path):
    """A name that would lead out of the folder, and one that would write on the terminal."""
    path = written(tmp_path, zipped({"../../up\x1b[31m.gpx": PLAIN}))

    assert read_track(path).notes[0] == "The log is ../../up [31m.gpx in the archive."
    assert sorted(os.listdir(tmp_path)) == ["flight.packed", "temporary"]


def test_wishes_reach_the_log_inside(tmp_path):
    path = written(tmp_path, gzip.compress(LOGS["flight.csv"].encode(), mtime=0))

    assert read_track(path, format="csv").format == "csv"
    assert "the XML breaks off" in refused(path, format="gpx")


def test_what_is_wrong_inside_is_told_with_both_names(tmp_path):
    rows = LOGS["flight.csv"].splitlines()[:2]
    path = written(tmp_path, zipped({"logs/a.csv": "\n".join(rows)}))
    page = written(tmp_path, gzip.compress(b"<html></html>", mtime=0), "b.gz")

    assert refused(path) == (
        f"{path}, logs/a.csv: only one row in it. A debrief needs a track: export the whole flight."
    )
    assert refused(page).startswith(f"{page}: this is a web page.")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (gzip.compress(b"", mtime=0), "the file is empty. Export the log again."),
        (zipped({}), "the archive is empty. Export the log again."),
        (zipped({"a/": ""}), "the archive is empty. Export the log again."),
        (zipped({"a.gpx": PLAIN, "b.csv": LOGS["flight.csv"]}),
         "the archive holds 2 logs: a.gpx, b.csv. Unpack it and give each by its own name."),
        (zipped({f"{n}.gpx": PLAIN for n in range(5)}),
         "the archive holds 5 logs: 0.gpx, 1.gpx, 2.gpx and 2 more. Unpack it and give each by its own name."),
        (zipped({f"{n}.gpx": "" for n in range(201)}), "the archive holds 201 files. Unpack it and give one log."),
        (zipped({"a.txt": "Dear", "b.txt": ""}),
         "none of 2 files in the archive is a log: the first, 'a.txt', is text without columns. Give the log itself."),
        (zipped({"[Content_Types].xml": "<Types/>", "xl/a.xml": "<a/>"}),
         "it is a spreadsheet or a document. Save it as CSV and give that."),
        (gzip.compress(gzip.compress(PLAIN.encode(), mtime=0), mtime=0),
         "it is packed more than once. Unpack it and give the log inside."),
        (zipped({"a.zip": zipped({"a.gpx": PLAIN})}), "it is packed more than once. Unpack it and give the log inside."),
    ],
    ids=["empty gzip", "empty zip", "folders", "two", "five", "many", "none", "sheet", "twice", "zip in zip"],
)  # fmt: skip
def test_what_is_not_exactly_one_log_is_refused(tmp_path, content, said):
    path = written(tmp_path, content)

    assert refused(path) == f"{path}: {said}"


def test_an_archive_with_a_password(tmp_path):
    """The flag is set by hand: the library writes none."""
    content = bytearray(zipped({"a.gpx": PLAIN}))
    content[6] |= 1
    content[content.index(b"PK\x01\x02") + 8] |= 1

    assert refused(written(tmp_path, bytes(content))).endswith(
        "the archive is locked with a password. Unpack it and give the log inside."
    )


@pytest.mark.parametrize("archive", [gzip.compress(PLAIN.encode(), mtime=0), zipped({"a.gpx": PLAIN})])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.9])
def test_an_archive_that_is_cut_off(tmp_path, archive, share):
    path = written(tmp_path, archive[: int(len(archive) * share)])

    text = refused(path)

    assert text.startswith(f"{path}: the archive is damaged or cut off: ")
    assert text.endswith(". Fetch it again, or give the log itself.")


BLANKS = b" " * 5_000_000


@pytest.mark.parametrize(
    "archive", [gzip.compress(BLANKS, mtime=0), zipped({"a.gpx": BLANKS})], ids=["gzip", "zip"]
)
def test_what_swells_out_of_proportion_is_refused_while_it_does(tmp_path, monkeypatch, archive):
    """Blanks shrink to a thousandth. From where on it counts is set lower than it is, for speed."""
    monkeypatch.setattr(packed, "_SWELLING_FROM_BYTES", 1_000_000)
    path = written(tmp_path, archive)

    assert refused(path).startswith(f"{path}: more than 1 MB come out of 5 kB, which is no log.")


def test_what_is_larger_than_any_log_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(packed, "_LARGEST_BYTES", 1000)

    assert "which is no log" in refused(written(tmp_path, gzip.compress(PLAIN.encode(), mtime=0)))


def test_a_log_of_the_same_line_over_and_over_is_no_bomb(tmp_path, monkeypatch):
    """Hours at the gate, all but the time the same."""
    monkeypatch.setattr(packed, "_SWELLING_FROM_BYTES", 100_000)
    rows = flight(10_000)
    rows = [dataclasses.replace(rows[0], time=row.time) for row in rows]
    text = table(usual(alt=lambda row: row.altitude_ft), rows).encode()
    archive = gzip.compress(text, mtime=0)

    assert len(text) > 20 * len(archive)
    assert len(read_track(written(tmp_path, archive))) == 10_000


def test_a_full_disk_is_told(tmp_path, monkeypatch):
    path = written(tmp_path, gzip.compress(PLAIN.encode(), mtime=0))

    def full(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(packed, "_copy", full)

    assert refused(path) == (
        f"{path}: it cannot be unpacked: No space left on device. Make room for temporary files, or unpack it and give "
        "the log inside."
    )


SEEDS = (
    gzip.compress(PLAIN.encode(), mtime=0),
    zipped({"a.gpx": PLAIN, "b.txt": "Dear"}),
    zipped({"a": PLAIN}, method=14),
)


@settings(max_examples=200)
@given(
    seed=st.sampled_from(SEEDS),
    changes=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), st.binary(max_size=6)), max_size=4),
    share=st.floats(0.5, 1),
)
def test_damaged_anywhere(tmp_path_factory, seed, changes, share):
    content = bytearray(seed[: max(int(len(seed) * share), 4)])
    for place, width, piece in changes:
        at = 4 + int((len(content) - 4) * place)
        content[at : at + width] = piece

    outcome(tmp_path_factory.mktemp("packed"), bytes(content))


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_what_two_kilobytes_swell_to_never_stands_in_memory(tmp_path, method):
    """zipfile gives all that a read of packed bytes swells to: two kilobytes of bzip2 took three gigabytes of memory.

    Both ways in: the one file of an archive is unpacked, of several each is looked at.
    """
    content = b"<gpx>" + bytes(100_000_000)
    alone = written(tmp_path, zipped({"a.gpx": content}, method), "alone.zip")
    several = written(tmp_path, zipped({"a.gpx": content, "b.gpx": content}, method), "several.zip")
    del content
    tracemalloc.start()
    try:
        assert "which is no log" in refused(alone)
        assert "the archive holds 2 logs" in refused(several)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 30_000_000


@pytest.mark.parametrize(("lc", "lp", "pb"), [(3, 0, 2), (0, 0, 0), (4, 0, 4), (0, 4, 1), (1, 3, 3)])
def test_settings_of_lzma_are_read_as_liblzma_writes_them(tmp_path, monkeypatch, lc, lp, pb):
    """The properties before what is packed, held against the library that packs."""
    chain = {"id": lzma.FILTER_LZMA1, "lc": lc, "lp": lp, "pb": pb, "dict_size": 1 << 20}
    written_so = lzma._encode_filter_properties(chain)
    real = lzma.LZMACompressor
    monkeypatch.setattr(
        zipfile.lzma, "LZMACompressor", lambda *a, **k: real(lzma.FORMAT_RAW, filters=[chain])
    )
    monkeypatch.setattr(zipfile.lzma, "_encode_filter_properties", lambda _chain: written_so)
    path = written(tmp_path, zipped({"a.gpx": PLAIN}, zipfile.ZIP_LZMA))

    assert len(read_track(path)) == 9


def test_lzma_that_asks_for_gigabytes_is_refused(tmp_path):
    content = bytearray(zipped({"a.gpx": PLAIN}, zipfile.ZIP_LZMA))
    properties = content.index(b"\x09\x04\x05\x00") + 4
    content[properties + 1 : properties + 5] = b"\xff\xff\xff\xff"

    said = refused(written(tmp_path, bytes(content)))

    assert "the archive is damaged or cut off: it asks for a dictionary of 4,295 MB" in said


def test_damage_is_told_without_the_numbers_of_a_library(tmp_path):
    content = bytearray(gzip.compress(PLAIN.encode() * 50, mtime=0))
    content[20:40] = bytes(20)

    assert "Error -" not in refused(written(tmp_path, bytes(content)))
