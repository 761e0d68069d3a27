"""The sample tracks: the ones in the project are the ones this code writes, and they say they are invented."""

from __future__ import annotations

import zipfile
from pathlib import Path

import gpxpy
import pytest

from debrief.simulation import samples, submissions
from debrief.simulation.__main__ import main
from debrief.simulation.samples import SAMPLES, write_samples
from debrief.simulation.submissions import write_submissions

FOLDER = Path(__file__).parents[2] / "sample_tracks"
LARGEST_BYTES = 400_000


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("samples")
    write_samples(folder)
    return folder


def test_the_files_in_the_project_are_current(written):
    expected = {path.name: path.read_bytes() for path in written.iterdir()}
    present = {path.name: path.read_bytes() for path in FOLDER.iterdir() if path.is_file()}

    assert set(present) == set(expected)
    assert [name for name in expected if present[name] != expected[name]] == []


def test_the_submissions_in_the_project_are_current(tmp_path):
    """By what lies in the archive: another compression library may pack the same logs otherwise."""
    archive, *others = write_submissions(tmp_path)
    here = FOLDER / "checkride"
    assert sorted(path.name for path in here.iterdir()) == sorted(path.name for path in (archive, *others))
    for path in others:
        assert (here / path.name).read_bytes() == path.read_bytes()
    with zipfile.ZipFile(archive) as fresh, zipfile.ZipFile(here / archive.name) as kept:
        assert kept.namelist() == fresh.namelist()
        assert [kept.read(name) for name in kept.namelist()] == [
            fresh.read(name) for name in fresh.namelist()
        ]
        assert all(b"invented" in kept.read(name) for name in kept.namelist())


def test_there_are_enough_and_they_are_small(written):
    assert len(SAMPLES) >= 10
    assert len({sample.file for sample in SAMPLES}) == len(SAMPLES)
    assert len({sample.seed for sample in SAMPLES}) == len(SAMPLES)
    assert max(path.stat().st_size for path in written.iterdir()) < LARGEST_BYTES


def test_each_says_that_it_is_invented(written):
    for sample in SAMPLES:
        head = (written / sample.file).read_text(encoding="utf-8")[:900].lower()
        assert "invented" in head or "erfunden" in head, sample.file
        assert sample.file in (written / "README.md").read_text(encoding="utf-8")


def test_gpx_samples_read_with_an_independent_reader(written):
    for path in written.glob("*.gpx"):
        gpx = gpxpy.parse(path.read_text(encoding="utf-8"))
        points = gpx.tracks[0].segments[0].points
        assert len(points) > 300
        assert all(point.time is not None and point.elevation is not None for point in points)


def test_the_command(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(samples, "SAMPLES", SAMPLES[:1])
    monkeypatch.setattr(submissions, "_SUBMISSIONS", ())
    assert main([str(tmp_path / "out")]) == 0
    assert capsys.readouterr().out.split() == [
        str(tmp_path / "out" / name)
        for name in (
            SAMPLES[0].file,
            "README.md",
            "checkride/week.zip",
            "checkride/heron.gpx",
            "checkride/names.csv",
        )
    ]
    assert main([]) == 2
    assert "usage" in capsys.readouterr().err
