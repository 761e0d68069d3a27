"""The example reports are held against the sample tracks."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from debrief.reports import examples
from debrief.reports.examples import difference, main, make, same_text, stale
from debrief.reports.result_json import Json

ROOT = Path(__file__).parents[2]
ONE = "lantern-no-approach.gpx"


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A project of one sample track, with its report."""
    (tmp_path / "sample_tracks").mkdir()
    shutil.copy(ROOT / "sample_tracks" / ONE, tmp_path / "sample_tracks")
    monkeypatch.setattr(examples, "EXAMPLES", ((ONE, "lantern-vor-22"),))
    make(tmp_path)
    return tmp_path


def test_a_report_that_was_just_made_is_current_until_it_is_changed(project: Path) -> None:
    assert stale(project) == []

    path = project / "reports" / "lantern-no-approach.json"
    path.write_text(path.read_text().replace("No approach was found", "An approach was found"))
    (project / "reports" / "lantern-no-approach.pdf").write_bytes(
        (ROOT / "reports" / "sallow-two-attempts.pdf").read_bytes()
    )
    said = stale(project)
    assert said[0] == ("lantern-no-approach.json: differs at warnings[0]")
    assert "lantern-no-approach.pdf: " in said[1]
    assert "pages" in said[1]

    path.unlink()
    assert stale(project) == ["lantern-no-approach.json: missing"]


def test_the_command_refuses_what_it_does_not_know(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--chek"]) == 2
    assert "--chek: unknown" in capsys.readouterr().err


def test_the_command_says_where_a_track_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)

    assert main(["--check"]) == 2
    assert "ember-altitude-bust.gpx" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ({"a": [1, {"b": 2.0}]}, {"a": [1, {"b": 2.0 + 1e-9}]}, None),
        ({"a": [1, {"b": 2.0}]}, {"a": [1, {"b": 2.1}]}, "a[1].b"),
        ({"a": 1}, {"a": 1, "b": 2}, ""),
        ({"a": [1]}, {"a": [1, 2]}, "a"),
        ({"a": None}, {"a": 0}, "a"),
        ({"a": True}, {"a": 1}, "a"),
        ({"a": "x"}, {"a": "y"}, "a"),
    ],
)
def test_the_first_difference_is_named(old: Json, new: Json, place: str | None) -> None:
    assert difference(old, new) == place


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("620 ft at 19:05:52", "620 ft at 19:05:53", True),
        ("620 ft", "640 ft", False),
        ("0.41 NM", "0.42 NM", True),
        ("0.41 NM", "0.43 NM", False),
        ("Satisfactory", "Unsatisfactory", False),
    ],
)
def test_text_may_differ_in_the_last_digit_only(old: str, new: str, same: bool) -> None:
    assert same_text(old, new) is same
