"""Asking for the files: on the command line, all of them or none, and what is said where one cannot be had."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.errors import OutputError
from debrief.reports import write_report
from debrief.reports.annotated import FORMATS, formats_from
from debrief.whole_files import name_of
from tests.reports.annotated.flights import SAMPLES, result_of

ALL = [
    "a.json",
    "a.pdf",
    "a.png",
    "a.samples.csv",
    "a.samples.parquet",
    "a.track.geojson",
    "a.track.gpx",
    "a.track.kml",
]


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as leaving:
        main(arguments)
    said = capsys.readouterr()
    return int(leaving.value.code or 0), said.out, said.err


@pytest.fixture
def no_drawing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pages take seconds, and are not what is looked at here."""
    monkeypatch.setattr("debrief.reports.files.build_pages", lambda *_: [None])
    monkeypatch.setattr("debrief.reports.files.pdf_bytes", lambda *_: b"%PDF")
    monkeypatch.setattr("debrief.reports.files.png_bytes", lambda *_: b"PNG")


@pytest.mark.usefixtures("no_drawing")
def test_all_files_of_a_report(tmp_path: Path) -> None:
    paths = write_report(result_of("gap"), tmp_path, name="a", also=FORMATS)

    assert sorted(path.name for path in paths) == ALL == sorted(path.name for path in tmp_path.iterdir())


@pytest.mark.usefixtures("no_drawing")
def test_no_file_where_one_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "a.track.gpx").mkdir()

    with pytest.raises(OutputError):
        write_report(result_of("gap"), tmp_path, name="a", also=FORMATS)

    assert [path.name for path in tmp_path.iterdir()] == ["a.track.gpx"]


@pytest.mark.usefixtures("no_drawing")
def test_the_option_of_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    track = str(SAMPLES / "lantern-clean.gpx")

    status, out, err = run(
        capsys,
        "report",
        track,
        "-p",
        "lantern-vor-22",
        "-o",
        str(tmp_path),
        "--also",
        "geojson,kml",
        "--also",
        "csv",
    )

    assert (status, err) == (0, "")
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "lantern-clean.json", "lantern-clean.pdf", "lantern-clean.png", "lantern-clean.samples.csv",
        "lantern-clean.track.geojson", "lantern-clean.track.kml",
    ]  # fmt: skip
    assert "lantern-clean.track.kml" in out


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("geojsn", "there is no file of the kind 'geojsn'. Did you mean geojson?"),
        ("xyz", "there is no file of the kind 'xyz'. Known are geojson, kml, gpx, csv, parquet."),
    ],
)
def test_a_kind_that_is_not_known_is_told_before_any_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], asked: str, said: str
) -> None:
    status, out, err = run(capsys, "report", "no-such.gpx", "-o", str(tmp_path / "new"), "--also", asked)

    assert (status, out, err) == (2, "", f"{said}\n")
    assert not (tmp_path / "new").exists()


def test_parquet_without_its_library(monkeypatch: pytest.MonkeyPatch) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(
        "debrief.reports.annotated.files.find_spec", lambda name: None if name == "pyarrow" else find(name)
    )

    with pytest.raises(OutputError) as error:
        formats_from(["csv,parquet"])

    assert str(error.value) == (
        "Parquet takes the library pyarrow, which is not installed. Install debrief[parquet], or ask for csv."
    )


def test_formats_are_taken_once_in_the_order_asked_for() -> None:
    assert formats_from(["KML, csv", "kml"]) == ("kml", "csv")
    assert formats_from([]) == ()


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("evening.gpx.gz", "evening"),
        ("evening.GPX.ZIP", "evening"),
        ("evening.flight.igc.gz", "evening.flight"),
        ("evening.zip", "evening"),
        ("evening.1.zip", "evening.1"),
        (".gpx.gz", "debrief"),
    ],
)
def test_the_name_of_a_packed_log(file: str, name: str) -> None:
    assert name_of(file) == name
