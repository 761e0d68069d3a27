"""The public face: what ``debrief`` offers, and that a result shows itself for none, one and two approaches."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import debrief

if TYPE_CHECKING:
    from debrief import Result

ROOT = Path(__file__).parents[1]
ABOUT_A_DOZEN = range(10, 17)


def told_to_type_checkers() -> dict[str, str]:
    """Public names and their modules under ``if TYPE_CHECKING``, read from the source."""
    tree = ast.parse((ROOT / "debrief" / "__init__.py").read_text(encoding="utf-8"))
    (block,) = (node for node in tree.body if isinstance(node, ast.If))
    return {
        alias.asname or alias.name: node.module or ""
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def test_the_names_are_about_a_dozen_and_all_importable() -> None:
    assert len(debrief.__all__) in ABOUT_A_DOZEN
    assert dir(debrief) == debrief.__all__ == sorted(set(debrief.__all__))
    assert all(hasattr(debrief, name) for name in debrief.__all__)


def test_type_checkers_see_the_same_names_from_the_same_places() -> None:
    told = told_to_type_checkers()

    assert set(told) == set(debrief.__all__)
    for name, module in told.items():
        imported = __import__(module, fromlist=[name])
        assert getattr(debrief, name) is getattr(imported, name)


def test_a_name_that_is_not_there_is_answered_with_those_that_are() -> None:
    with pytest.raises(AttributeError) as error:
        debrief.read_tracks  # noqa: B018  # looking it up is the test

    assert str(error.value) == f"debrief has no 'read_tracks'; it offers {', '.join(debrief.__all__)}"


@pytest.fixture(scope="module", params=[0, 1, 2], ids=["none", "one", "two"])
def told(request: pytest.FixtureRequest) -> tuple[int, Result]:
    """How many approaches a flight has, and its result."""
    log, procedure = {
        0: ("lantern-no-approach", "lantern-vor-22"),
        1: ("lantern-wrong-side", "lantern-vor-22"),
        2: ("sallow-two-attempts", "sallow-vor-13"),
    }[request.param]
    track = debrief.read_track(ROOT / "sample_tracks" / f"{log}.gpx")
    return request.param, debrief.debrief(track, debrief.load_procedure(procedure))


def test_a_result_gives_a_row_a_sample(told: tuple[int, Result]) -> None:
    count, result = told

    samples = result.samples()

    assert len(result.attempts) == count
    assert len(samples) == result.track.samples
    assert samples.time.is_monotonic_increasing
    assert set(samples.attempt.dropna()) == set(range(1, count + 1))
    assert samples.phase.notna().sum() == samples.attempt.notna().sum()


def test_a_result_gives_a_row_a_finding(told: tuple[int, Result]) -> None:
    _, result = told

    findings = result.findings()

    assert findings.message.tolist() == [f.message for attempt in result.attempts for f in attempt.findings]
    assert findings.attempt.tolist() == [a.number for a in result.attempts for _ in a.findings]


def test_a_result_shows_itself_in_a_notebook(told: tuple[int, Result]) -> None:
    count, result = told

    page = result._repr_html_()

    assert page.count("<h4>") == count
    assert result.procedure.name in page
    assert all(warning in page for warning in result.warnings)
    assert "not for navigation" in page.lower()


def test_a_result_read_from_its_file_is_the_same_but_for_its_samples(
    told: tuple[int, Result], tmp_path: Path
) -> None:
    from debrief.reports import result_json

    _, result = told
    path = tmp_path / "result.json"
    path.write_text(result_json(result), encoding="utf-8")

    again = debrief.read_result(path)

    assert result_json(again) == result_json(result)
    assert again.findings().equals(result.findings())
    assert again._repr_html_() == result._repr_html_()
    with pytest.raises(debrief.DebriefError, match="this result holds no samples"):
        again.samples()


TRACK = debrief.read_track(ROOT / "sample_tracks" / "lantern-clean.gpx")
PROCEDURE = debrief.load_procedure("lantern-vor-22")
SPARSE = ROOT / "sample_tracks" / "brandel-sparse.csv"


@pytest.mark.parametrize(
    ("call", "line"),
    [
        (lambda: debrief.read_track(None), "the path of a track is None. Give a text or a pathlib.Path."),
        (
            lambda: debrief.read_track(b"a.gpx"),
            "the path of a track is of the type bytes. Give a text or a pathlib.Path.",
        ),
        (
            lambda: debrief.read_track(SPARSE, columns=["latitude"]),
            'what columns asks for is of the type list. Give a mapping of texts, for example {"latitude": "Y"}.',
        ),
        (
            lambda: debrief.read_track(SPARSE, columns={"latitude": 3}),
            (
                "a name or heading in columns is of the type int. "
                'Give a mapping of texts, for example {"latitude": "Y"}.'
            ),
        ),
        (
            lambda: debrief.read_track(SPARSE, date="2026-03-05"),
            "the date is of the type str. Give a datetime.date.",
        ),
        (
            lambda: debrief.read_track(SPARSE, altitude_unit="km"),
            'the altitude\'s unit is \'km\'. Give "ft" or "m".',
        ),
        (
            lambda: debrief.read_track(SPARSE, format=5),
            "the format is of the type int. Give its name, for example gpx.",
        ),
        (
            lambda: debrief.load_procedure(5),
            "the path of a procedure is of the type int. Give a text or a pathlib.Path.",
        ),
        (
            lambda: debrief.load_standard(None),
            "the path of a standard is None. Give a text or a pathlib.Path.",
        ),
        (
            lambda: debrief.debrief("lantern-clean.gpx", PROCEDURE),
            "the track is of the type str. Give what read_track gives.",
        ),
        (
            lambda: debrief.debrief(TRACK, "lantern-vor-22"),
            "the procedure is of the type str. Give what load_procedure gives.",
        ),
        (
            lambda: debrief.debrief(TRACK, PROCEDURE, None),
            "the path of a standard is None. Give a text or a pathlib.Path.",
        ),
        (
            lambda: debrief.debrief(TRACK, PROCEDURE, altitude=1013),
            "the altitude's correction is of the type int. Give an AltitudeCorrection.",
        ),
        (
            lambda: debrief.AltitudeCorrection(qnh_hpa="1013"),
            "a QNH is of the type str. Give a number.",
        ),
        (
            lambda: debrief.debrief_best(TRACK, ["lantern-vor-22"]),
            "one of the procedures is of the type str. Give a list of what load_procedure gives.",
        ),
        (
            lambda: replace(TRACK, altitude_ft=["x"] * len(TRACK)),
            "Track.altitude_ft does not hold numbers. Give one number a sample.",
        ),
        (
            lambda: replace(TRACK, latitude_deg=TRACK.latitude_deg[:5]),
            f"Track.latitude_deg has the shape (5,), not ({len(TRACK)},). Give one number a sample.",
        ),
        (
            lambda: replace(TRACK, t_s=TRACK.t_s * float("nan")),
            "Track.t_s holds a time that is none. Give seconds from Track.epoch, and no nan.",
        ),
        (
            lambda: debrief.write_report(TRACK, "somewhere"),
            "the result is of the type Track. Give what debrief gives.",
        ),
        (lambda: debrief.read_result(5), "the path of a result is of the type int. Give a text or a pathlib.Path."),
    ],
    ids=[f"call {number}" for number in range(1, 21)],
)  # fmt: skip
def test_what_is_of_another_type_is_one_clear_line(call: Callable[[], object], line: str) -> None:
    """Whoever hands over a name for what it names is told what to give, and not where our code broke."""
    with pytest.raises(debrief.DebriefError) as error:
        call()

    assert str(error.value) == line
