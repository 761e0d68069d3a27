"""Copies: minutes of the same flight in two logs, whatever was done to one of them."""

from __future__ import annotations

import random

import numpy as np
import pytest

from debrief.checkride import copies
from debrief.checkride.copies import copies_among, matches_among
from debrief.checkride.model import TO_EXAMINER, Row
from debrief.checkride.shape import Shape, shape_of
from debrief.tracks.model import Track
from tests.doctoring import COPIES
from tests.ensembles import GOOD, clean_flights

COUNT = 8
ONE_DECIMETRE_M = 0.051
MIXED = {
    "cropped and noised": ("cropped", "noised"),
    "resampled and noised, later": ("resampled", "noised", "later"),
    **{name: (name,) for name in COPIES},
}


@pytest.fixture(scope="module")
def tracks() -> list[Track]:
    return [case.track for case in clean_flights(COUNT, seed=5, sensor=GOOD) if case.track.t_s[-1] > 480.0]


def shape(track: Track) -> Shape:
    made = shape_of(track)
    assert made is not None
    return made


def test_moments_told_alike_are_found_in_portions_as_in_one_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    draw = np.random.default_rng(3)
    told = draw.uniform(0.0, 10.0, (60, 2))
    flight = draw.integers(0, 20, 60)
    moments = copies._Moments(flight, np.zeros(60), told, np.zeros((60, 1, 1), np.float32))
    near = np.hypot(*(told[:, None] - told).transpose(2, 0, 1)) <= 2.0
    expected = np.argwhere(np.triu(near & (flight[:, None] != flight), 1))

    monkeypatch.setattr(copies, "_ASKED_AT_ONCE", 7)
    monkeypatch.setattr(copies, "_AT_ONCE", 5)
    portions = list(copies._near(moments, 2.0))

    assert max(len(portion) for portion in portions) <= 5
    assert np.array_equal(np.concatenate(portions), expected)


def test_flights_of_their_own_are_no_copies(tracks: list[Track]) -> None:
    assert list(matches_among([shape(track) for track in tracks])) == []


@pytest.mark.parametrize("how", MIXED)
def test_a_copy_is_found(tracks: list[Track], how: str) -> None:
    shapes = [shape(track) for track in tracks]
    missed = []
    for number, track in enumerate(tracks):
        edited = track
        for name in MIXED[how]:
            edited = COPIES[name](edited, random.Random(f"{how} {number}"))
        found = {(a, b): match for a, b, match in matches_among([*shapes, shape(edited)])}
        match = found.pop((number, len(tracks)), None)
        assert not found, "another flight is taken for a copy"
        if match is None or match.strength < TO_EXAMINER:
            missed.append(number)

    assert len(missed) <= (1 if how == "mirrored" else 0), missed


def row(file: str, sha256: str) -> Row:
    return Row(file=file, sha256=sha256, result="satisfactory")


def test_both_files_are_flagged_and_name_each_other(tracks: list[Track]) -> None:
    later = COPIES["later"](tracks[0], random.Random(1))
    rows = [row("a.gpx", "1"), row("b.gpx", "2"), row("c.gpx", "3")]

    found = copies_among(rows, [shape(tracks[0]), shape(tracks[1]), shape(later)])

    assert [[flag.other for flag in entry.flags] for entry in found] == [["c.gpx"], [], ["a.gpx"]]
    (here,), (there,) = found[0].flags, found[2].flags
    assert here.sign == "copy"
    assert here.strength == there.strength >= TO_EXAMINER
    assert "later in the other" in here.evidence
    assert "earlier in the other" in there.evidence


def test_equal_files_are_told_without_being_compared() -> None:
    found = copies_among([row("a.gpx", "1"), row("b.gpx", "1"), row("c.gpx", "")], [None, None, None])

    assert [[(f.other, f.strength, f.evidence) for f in entry.flags] for entry in found] == [
        [("b.gpx", 1.0, "the two files are the same, byte for byte")],
        [("a.gpx", 1.0, "the two files are the same, byte for byte")],
        [],
    ]


def test_a_shape_is_kept_to_the_decimetre(tracks: list[Track]) -> None:
    made = shape(tracks[0])

    again = Shape.read(made.text())

    assert len(again) == len(made)
    assert float(np.nanmax(np.abs(again.x_m - made.x_m))) < ONE_DECIMETRE_M
    assert np.array_equal(np.isnan(again.x_m), np.isnan(made.x_m))
    assert again.start_s == pytest.approx(made.start_s, abs=0.001)


@pytest.mark.parametrize("text", ["", "1 2 3", "1 2 3 4 5 6 !!!", "1 2 3 4 5 6 aGVsbG8="])
def test_what_is_no_shape_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011  # several kinds of it
        Shape.read(text)


def test_across_the_antimeridian_a_copy_is_found(tracks: list[Track]) -> None:
    from dataclasses import replace

    east = 180.0 - float(np.median(tracks[0].longitude_deg))
    moved = replace(tracks[0], longitude_deg=(tracks[0].longitude_deg + east + 180.0) % 360.0 - 180.0)
    again = COPIES["noised"](moved, random.Random(2))

    ((first, second, match),) = matches_among([shape(moved), shape(again)])

    assert (first, second) == (0, 1)
    assert match.strength >= TO_EXAMINER
