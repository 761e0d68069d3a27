"""Files that are no logs, or not there: one clear line each, told from the content."""

import io
import tarfile

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from debrief.errors import TrackError
from debrief.tracks.readers import READERS, read_track
from debrief.tracks.readers.sniff import HEAD_BYTES, encoding_of, xml_root

from .flight import table, usual
from .test_read_gpx import PLAIN

LOG = table(usual())


def refused(path, **wishes):
    with pytest.raises(TrackError) as error:
        read_track(path, **wishes)
    text = str(error.value)
    assert "\n" not in text
    return text


def tar_of(text: str) -> bytes:
    """An archive with one file in it, as it is."""
    content, about = io.BytesIO(), tarfile.TarInfo("flight.csv")
    about.size = len(text.encode())
    with tarfile.open(fileobj=content, mode="w") as archive:
        archive.addfile(about, io.BytesIO(text.encode()))
    return content.getvalue()


@pytest.mark.parametrize("suffix", [".gpx", ".csv", ""])
@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty. Export the log again."),
        (b"\xef\xbb\xbf \n\n", "this is blank. Export the log again."),
        (b"\0" * 5000, "this is blank. Export the log again."),
        (
            b"<!DOCTYPE html>\n<html><head><title>Sign in</title></head></html>",
            "this is a web page. Download the log itself: the page may have asked to sign in.",
        ),
        (
            b"  <HTML><BODY>time,lat,lon</BODY></HTML>",
            "this is a web page. Download the log itself: the page may have asked to sign in.",
        ),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "this is a PNG image. Give the log itself."),
        (tar_of(LOG), "this is a tar archive. Unpack it and give the log inside."),
        (b"\xff\xd8\xff\xe0\0\x10JFIF" + bytes(range(256)), "this is a JPEG image. Give the log itself."),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3", "this is a PDF document. Give the log itself."),
        (
            b'<?xml version="1.0"?><svg xmlns="k"><g/></svg>',
            "this is an XML document whose root is <svg>, not <gpx>. Export the log as GPX or CSV.",
        ),
        (b'{"type": "Holiday", "time": [1, 2, 3]}', "this is JSON. Export the log as GPX or CSV."),
        (
            b"$GPRMC,101207,A,4712.3,N,00812.3,E,100,40,040526,,*00\n",
            "this is a stream of receiver sentences. Convert it to GPX.",
        ),
        (bytes(range(256)) * 8, "this is binary data, not text. Export the log as GPX or CSV."),
        (b"Dear instructor\nhere is my flight\n", "this is text without columns. Export the log as GPX or CSV."),
    ],
    ids=lambda value: value[:12].hex() if isinstance(value, bytes) else "",
)  # fmt: skip
def test_what_is_no_log_is_named(tmp_path, content, said, suffix):
    path = tmp_path / f"flight{suffix}"
    path.write_bytes(content)

    assert refused(path) == f"{path}: {said}"


def test_no_such_file(tmp_path):
    path = tmp_path / "flihgt.gpx"

    assert refused(path) == f"{path}: there is no such file. Check the name."
    assert refused("a\0b.gpx").endswith(": there is no such file. Check the name.")
    assert "cannot be read" in refused(tmp_path / ("x" * 400))


def test_a_folder(tmp_path):
    assert refused(tmp_path) == f"{tmp_path}: it is a folder, not a log. Give the file inside."


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    """Root may read everything, so the system's refusal is made here."""
    path = tmp_path / "flight.gpx"
    path.write_text(PLAIN)

    def no(*args, **kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", no)

    assert (
        refused(path) == f"{path}: it cannot be read: Permission denied. Check the name and who may read it."
    )


def test_a_name_with_a_line_break_stays_on_one_line(tmp_path):
    path = tmp_path / "my\nflight.gpx"
    path.write_text("<html></html>")

    assert refused(path).startswith(f"{tmp_path}/my flight.gpx: this is a web page.")


def test_headings_with_control_characters_stay_on_one_line(tmp_path):
    path = tmp_path / "flight.csv"
    path.write_text('"a\x1b[31m\nb",c,d\n1,2,3\n4,5,6\n')

    text = refused(path)

    assert text.isprintable()


def test_an_unknown_format_names_the_nearest(tmp_path):
    path = tmp_path / "flight.gpx"
    path.write_text(PLAIN)

    assert refused(path, format="gpxx") == f"{path}: there is no log format 'gpxx'. Did you mean gpx?"
    assert (
        refused(path, format="zzz")
        == f"{path}: there is no log format 'zzz'. Known are gpx, csv, igc, kml, geojson."
    )


def test_a_format_can_be_asked_for(tmp_path):
    path = tmp_path / "flight"
    path.write_text(LOG)

    assert read_track(path, format="csv").format == "csv"
    assert "the XML breaks off before the first track point" in refused(path, format="gpx")


@pytest.mark.parametrize("text", [PLAIN, LOG, "time,lat,lon\n", "<gpx/>", "a;b;c\n", "lat lon time\n1 2 3\n"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "utf-32"])
def test_exactly_one_reader_knows_its_own(text, encoding):
    head = text.encode(encoding)[:HEAD_BYTES]

    assert sum(reader.looks_like(head) for reader in READERS) == 1


@given(st.binary(max_size=300))
@example(b"")
@example(b"\xff\xfe")
@example(b"<gpx")
def test_no_two_readers_claim_one_file(head):
    assert sum(reader.looks_like(head) for reader in READERS) <= 1


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]
)
def test_encodings_are_told_from_the_bytes(encoding):
    text = "Zeit;Breite;Länge;Höhe\n" * 50

    found = encoding_of(text.encode(encoding))

    assert text.encode(encoding).decode(found).removeprefix("\ufeff") == text


@pytest.mark.parametrize(
    ("text", "root"),
    [
        ("<gpx>", "gpx"),
        ("<?xml version='1.0'?>\n<!-- <kml> -->\n<a:gpx x='1'>", "gpx"),
        ("<!DOCTYPE gpx [<!ENTITY a '<b>'>]><gpx>", "gpx"),
        ("<kml>", "kml"),
        ("gpx", None),
        ("", None),
    ],
)
def test_the_root_of_xml(text, root):
    assert xml_root(text) == root


def test_a_file_without_size_is_not_opened(tmp_path, monkeypatch):
    """Files of the system's own have none, and some, such as the kernel's log, never end a read."""
    path = tmp_path / "a.gpx"
    path.touch()
    monkeypatch.setattr(type(path), "open", lambda *_a, **_k: pytest.fail("it was opened"))

    assert refused(path) == f"{path}: the file is empty. Export the log again."


def test_a_heading_row_longer_than_any_is_told_as_that(tmp_path):
    """The number of its headings was given as that of those in its first 262,144 bytes."""
    path = tmp_path / "a.csv"
    path.write_text(",".join(f"c{n}" for n in range(100_000)) + "\n" + ",".join("1" * 100_000) + "\n")

    with pytest.raises(TrackError) as error:
        read_track(path)

    assert str(error.value) == (
        f"{path}, line 1: its first line is longer than 262,144 bytes. Write one row of the log on each line."
    )


@pytest.mark.parametrize(
    ("inside", "told"),
    [
        ("<name>A & B</name>", "an & that stands for nothing, which XML writes as &amp;"),
        ("<name>?a=1&b=2</name>", "an & that stands for nothing, which XML writes as &amp;"),
        ("<e>" * 300 + "</e>" * 300, "its elements lie more than 256 deep in one another"),
    ],
)
def test_what_a_person_can_mend_is_told_in_plain_words(tmp_path, inside, told):
    """The parser's own: xmlParseEntityRef: no name; use XML_PARSE_HUGE option."""
    path = tmp_path / "a.gpx"
    path.write_text(f"<gpx><trk>{inside}<trkseg></trkseg></trk></gpx>")

    assert refused(path) == (
        f"{path}, line 1: the XML breaks off before the first track point: {told}. Export the log again."
    )
