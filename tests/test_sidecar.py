"""People's own words: what is read, what is refused in one line, what is made harmless."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.errors import SidecarError
from debrief.result import Notes
from debrief.sidecar import notes_for, read_sidecar, shown_text

EVERY_KEY = '''
format = 1
pilot = "Robin Example"
aircraft = "trainer"
planned = """
120 kt to the station,
90 on the final"""
note = "Lost the needle."
instructor_remarks = "Brief the side."
'''


def sidecar(folder: Path, content: str, name: str = "evening.toml") -> Path:
    path = folder / name
    path.write_text(content, encoding="utf-8")
    return path


def test_every_key_is_read(tmp_path: Path) -> None:
    assert read_sidecar(sidecar(tmp_path, EVERY_KEY)) == Notes(
        pilot="Robin Example",
        aircraft="trainer",
        planned="120 kt to the station,\n90 on the final",
        note="Lost the needle.",
        instructor_remarks="Brief the side.",
        file="evening.toml",
    )


def test_the_file_beside_the_track_is_taken_and_a_note_adds_to_its_own(tmp_path: Path) -> None:
    sidecar(tmp_path, 'note = "Gusty."')

    notes = notes_for(tmp_path / "evening.gpx.gz", "evening", note="And late.")

    assert notes == Notes(note="Gusty.\nAnd late.", file="evening.toml")


def test_the_file_given_is_taken_instead(tmp_path: Path) -> None:
    sidecar(tmp_path, 'pilot = "Beside"')
    other = sidecar(tmp_path, 'pilot = "Given"', "other.toml")

    notes = notes_for(tmp_path / "evening.gpx", "evening", sidecar=other)

    assert notes == Notes(pilot="Given", file="other.toml")


def test_nothing_said_is_nothing(tmp_path: Path) -> None:
    track = tmp_path / "evening.gpx"

    assert notes_for(track, "evening") is None
    assert notes_for(track, "evening", note=" \x1b \n ") is None
    sidecar(tmp_path, 'pilot = "\\u202e"')
    assert notes_for(track, "evening") is None


@pytest.mark.parametrize("table", ["[station]", "[[leg]]", "[[rule]]"])
def test_a_procedure_or_standard_of_the_tracks_name_is_no_sidecar(tmp_path: Path, table: str) -> None:
    """A pilot may well keep evening.gpx and the procedure evening.toml side by side."""
    path = sidecar(tmp_path, f'name = "Evening"\n{table}\n')

    assert notes_for(tmp_path / "evening.gpx", "evening") is None
    with pytest.raises(SidecarError):  # given as one, it is a mistake
        notes_for(tmp_path / "evening.gpx", "evening", sidecar=path)


KEYS = "Keys here: format, pilot, aircraft, planned, note, instructor_remarks."


@pytest.mark.parametrize(
    ("content", "line"),
    [
        ('pilto = "A"', f"evening.toml, key pilto: the key is unknown. Did you mean pilot? {KEYS}"),
        ('"\\u001b[31m" = 1', f"evening.toml, key [31m: the key is unknown. {KEYS}"),
        ("pilot = 3", 'evening.toml, key pilot: 3 is not a text. Give a text in "quotes".'),
        ("[pilot]", 'evening.toml, key pilot: a table is not a text. Give a text in "quotes".'),
        ("format = 2", "evening.toml, key format: 2 is not known. Allowed: 1."),
        (
            f'pilot = "{"a" * 101}"',
            f'evening.toml, key pilot: "{"a" * 39}…" has the wrong length. Give at most 100 characters.',
        ),
        (
            "pilot = Robin",
            'evening.toml, line 1: this is not valid TOML: invalid value. A line reads key = value, a text stands in "quotes".',
        ),
    ],
    ids=["misspelt", "control", "number", "table", "format", "long", "no quotes"],
)
def test_a_mistake_is_one_clear_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: str, line: str
) -> None:
    monkeypatch.chdir(tmp_path)
    path = sidecar(Path(), content)

    with pytest.raises(SidecarError) as refused:
        read_sidecar(path)

    assert " ".join(str(refused.value).split()) == line


def test_a_note_that_is_a_book_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SidecarError) as refused:
        notes_for(tmp_path / "evening.gpx", "evening", note="a" * 10_001)

    assert str(refused.value) == "the note has 10,001 characters; it may have 10,000. Shorten it."


@given(st.text())
def test_what_is_shown_holds_nothing_that_steers(text: str) -> None:
    shown = shown_text(text)

    assert not [c for c in shown if c != "\n" and unicodedata.category(c)[0] == "C"]
    assert shown_text(shown) == shown
    assert all(line and line == line.strip() for line in shown.split("\n")) or not shown
