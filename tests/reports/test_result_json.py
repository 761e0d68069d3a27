"""The result file: its keys as the format's description lists them, and the way back."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from debrief.errors import DebriefError
from debrief.reports import read_result, result_json
from debrief.result import Cause, Measures, Practice, Result
from tests.reports import fake

#: The keys of the result file by the place they stand at. Source: DEVELOPERS.md, "Result file". More may stand
#: beside them.
KEYS: dict[str, tuple[str, ...]] = {
    "": ("format", "track", "procedure", "standard", "attempts"),
    "track": (
        "file",
        "sha256",
        "samples",
        "start",
        "end",
        "median_interval_s",
        "gaps",
        "altitude_source",
        "warnings",
    ),
    "track.gaps[]": ("start", "end", "seconds"),
    "procedure": ("name", "file", "sha256"),
    "standard": ("name", "source"),
    "attempts[]": (
        "phases",
        "station_passages",
        "turns",
        "wind",
        "measures",
        "findings",
        "grade",
        "causes",
        "practice",
    ),
    "attempts[].causes[]": ("rule", "phase", "start", "message", "leads_to"),
    "attempts[].practice[]": ("what", "exercise", "aim"),
    "attempts[].phases[]": ("phase", "start", "end"),
    "attempts[].station_passages[]": (
        "time",
        "distance_nm",
        "altitude_ft",
        "groundspeed_kt",
        "ground_track_true_deg",
    ),
    "attempts[].turns[]": ("start", "end", "direction", "degrees"),
    "attempts[].wind": ("from_true_deg", "speed_kt", "speed_uncertainty_kt"),
    "attempts[].measures.outbound": ("cross_track_nm", "deviation_deg", "altitude_ft", "groundspeed_kt"),
    "attempts[].measures.outbound.cross_track_nm": ("mean", "rms", "max_abs"),
    "attempts[].measures.outbound.deviation_deg": ("mean", "rms", "max_abs"),
    "attempts[].measures.outbound.altitude_ft": ("min", "mean", "max"),
    "attempts[].measures.outbound.groundspeed_kt": ("min", "mean", "max"),
    "attempts[].measures.course_reversal": ("side", "pattern", "max_distance_nm", "turn_start_dme_nm"),
    "attempts[].measures.turn": ("start", "change_deg", "lead_nm", "exact_lead_nm", "rule_of_thumb_nm"),
    "attempts[].measures.intercept": ("time", "angle_deg", "overshoot_nm", "established"),
    "attempts[].findings[]": (
        "rule",
        "phase",
        "start",
        "end",
        "value",
        "limit",
        "unit",
        "verdict",
        "message",
    ),
    "attempts[].grade": ("result", "items"),
}


def at(content: object, place: str) -> list[object]:
    """Every entry of the file at a place like ``attempts[].turns[]``."""
    found = [content]
    for step in place.split(".") if place else ():
        found = [entry[step.removesuffix("[]")] for entry in found if isinstance(entry, dict)]
        if step.endswith("[]"):
            found = [entry for many in found if isinstance(many, list) for entry in many]
    return found


def with_cause() -> Result:
    """Every part of a result, a cause and an exercise with its first attempt."""
    result = fake.result(attempts=2, gap=True, best_fit=True)
    first = result.attempts[0]
    found = first.findings[1]
    cause = Cause(
        rule=found.rule,
        phase=found.phase,
        start=found.start,
        message=f"{found.message} It followed.",
        leads_to=(0, 2),
    )
    exercise = Practice(
        what="Speed", exercise="Slow down to 190 kt three times.", aim="Within 5 kt of 190 kt."
    )
    return replace(
        result, attempts=(replace(first, causes=(cause,), practice=(exercise,)), *result.attempts[1:])
    )


@pytest.fixture(scope="module")
def made() -> Result:
    return with_cause()


@pytest.mark.parametrize("place", KEYS, ids=lambda place: place or "top")
def test_every_key_of_the_format_stands_at_its_place(made: Result, place: str) -> None:
    entries = at(json.loads(result_json(made)), place)

    assert entries
    for entry in entries:
        assert isinstance(entry, dict)
        assert set(KEYS[place]) <= set(entry)


def test_reading_gives_the_same_result_back(made: Result, tmp_path: Path) -> None:
    path = tmp_path / "flight.json"
    path.write_text(result_json(made), encoding="utf-8")

    assert read_result(path) == made
    assert read_result(path).flight is None


def test_the_same_result_gives_the_same_bytes(made: Result) -> None:
    assert result_json(made) == result_json(with_cause())


def test_the_arrays_behind_the_result_are_not_written(made: Result) -> None:
    assert "flight" not in json.loads(result_json(made))


def test_times_have_fractions_and_end_in_z(made: Result) -> None:
    whole_second = datetime(2026, 5, 4, 18, 40, tzinfo=UTC)
    content = json.loads(result_json(replace(made, track=replace(made.track, start=whole_second))))

    assert content["track"]["start"] == "2026-05-04T18:40:00.000Z"
    assert content["track"]["end"].endswith(".250Z")


def test_a_result_from_before_there_were_causes_is_read(made: Result, tmp_path: Path) -> None:
    content = json.loads(result_json(made))
    for attempt in content["attempts"]:
        del attempt["causes"], attempt["practice"]
    path = tmp_path / "flight.json"
    path.write_text(json.dumps(content), encoding="utf-8")

    assert [attempt.causes for attempt in read_result(path).attempts] == [(), ()]
    assert [attempt.practice for attempt in read_result(path).attempts] == [(), ()]


def test_a_cause_names_findings_by_their_place(made: Result) -> None:
    cause = json.loads(result_json(made))["attempts"][0]["causes"][0]

    assert set(cause) == {"rule", "phase", "start", "message", "leads_to"}
    assert cause["leads_to"] == [0, 2]
    assert cause["start"].endswith("Z")


def test_what_could_not_be_measured_is_null_and_comes_back(made: Result, tmp_path: Path) -> None:
    track = replace(made.track, altitude_uncertainty_ft=float("nan"), position_noise_nm=float("inf"))
    text = result_json(replace(made, track=track))
    path = tmp_path / "flight.json"
    path.write_text(text, encoding="utf-8")

    assert json.loads(text)["track"]["altitude_uncertainty_ft"] is None
    assert json.loads(text)["track"]["position_noise_nm"] is None
    assert np.isnan(read_result(path).track.altitude_uncertainty_ft)


def test_a_phase_not_flown_is_absent(made: Result) -> None:
    attempt = replace(made.attempts[0], measures=Measures(inbound=made.attempts[0].measures.inbound))

    content = json.loads(result_json(replace(made, attempts=(attempt,))))

    assert list(content["attempts"][0]["measures"]) == ["inbound"]


def test_no_wind_is_null_and_no_approach_an_empty_list() -> None:
    assert json.loads(result_json(fake.result(wind=False)))["attempts"][0]["wind"] is None
    assert json.loads(result_json(fake.result(approach=False)))["attempts"] == []


def test_numbers_from_numpy_are_plain_numbers(made: Result, tmp_path: Path) -> None:
    wind = replace(made.attempts[0].wind, speed_kt=np.float64(17.5))  # type: ignore[type-var]
    text = result_json(replace(made, attempts=(replace(made.attempts[0], wind=wind),)))

    assert json.loads(text)["attempts"][0]["wind"]["speed_kt"] == 17.5


def test_keys_of_a_newer_version_are_passed_over(made: Result, tmp_path: Path) -> None:
    content = json.loads(result_json(made))
    content["attempts"][0]["lessons"] = [{"rule": "turn_lead"}]
    path = tmp_path / "flight.json"
    path.write_text(json.dumps(content), encoding="utf-8")

    assert read_result(path) == made


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is not JSON"),
        ("[1, 2]", "is not a result of format 1"),
        ('{"format": 2}', "is not a result of format 1"),
        ('{"format": 1, "program": 3}', "key program: is not a result"),
    ],
)
def test_a_file_that_is_no_result_is_refused_in_one_line(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "flight.json"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(DebriefError, match=said) as caught:
        read_result(path)
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)


def test_a_missing_file_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(DebriefError, match="No such file"):
        read_result(tmp_path / "none.json")
