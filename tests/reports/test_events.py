"""The rows of what is measured once: names, sides and signs that agree with the rest of the report."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.reports.events import event_rows
from debrief.reports.flow import Group, Row
from debrief.reports.text import text_report
from debrief.result import ArcMeasures, Attempt, Circuit, LimitBreak
from tests.reports.fake import result


def row(attempt: Attempt, name: str) -> tuple[str, ...]:
    return next(row.cells for row in event_rows(attempt) if isinstance(row, Row) and row.cells[0] == name)


@pytest.mark.parametrize(
    ("change_deg", "said"), [(-71.9, "71.9° left"), (72.0, "72.0° right"), (-211.2, "211.2° left")]
)
def test_the_change_of_track_at_the_station_is_told_with_its_side(change_deg: float, said: str) -> None:
    attempt = result().attempts[0]
    turn = attempt.measures.turn
    assert turn is not None
    measures = replace(attempt.measures, turn=replace(turn, change_deg=change_deg, uncertainties={}))
    changed = replace(attempt, measures=measures)
    assert row(changed, "change of track")[1] == said


@pytest.mark.parametrize(
    ("pointer", "name"),
    [(False, "needle off full scale, UTC"), (True, "bearing within 10° of the course, UTC")],
)
def test_an_ndb_has_no_needle_to_come_off_full_scale(name: str, *, pointer: bool) -> None:
    names = [
        row.cells[0] for row in event_rows(result().attempts[0], pointer=pointer) if isinstance(row, Row)
    ]

    assert name in names


@pytest.mark.parametrize(("late_deg", "said"), [(7.1, "7.1° late"), (-3.0, "3.0° early")])
def test_the_turn_off_the_arc_is_late_or_early_in_words(late_deg: float, said: str) -> None:
    attempt = result().attempts[0]
    arc = ArcMeasures(
        start=attempt.phases[0].start,
        end=attempt.phases[0].end,
        from_radial_deg=226.0,
        to_radial_deg=299.0,
        off_nm=None,
        turn_in_radial_deg=299.0,
        turn_in_late_deg=late_deg,
        altitude_ft=None,
    )
    flown = replace(attempt, measures=replace(attempt.measures, arc=arc))

    assert row(flown, "turn inbound began on radial")[2] == said


@pytest.mark.parametrize(("sure", "word"), [({}, "published"), ({"required_angle_deg": 0.1}, "required")])
def test_an_angle_that_is_published_is_not_called_required(sure: dict[str, float], word: str) -> None:
    """A published 3.0 stood as required beside 3.3 without error, which began over the station and not before it."""
    attempt = result().attempts[0]
    final = attempt.measures.final
    assert final is not None
    final = replace(final, descent_angle_deg=3.2, required_angle_deg=3.0, uncertainties=sure)
    flown = replace(attempt, measures=replace(attempt.measures, final=final))

    assert row(flown, "angle of the descent")[2].startswith(f"{word} 3.0")


def test_each_row_says_which_circuit_it_is_of() -> None:
    """The first passage stood beside the last circuit's legs without a word."""
    plain = result()
    attempt = plain.attempts[0]
    measures = attempt.measures
    first = Circuit(
        outbound=measures.outbound,
        course_reversal=measures.course_reversal,
        intermediate=measures.intermediate,
        intercept=measures.intercept,
    )
    twice = replace(attempt, measures=replace(measures, earlier_circuits=(first,)))
    groups = [row.title for row in event_rows(twice) if isinstance(row, Group)]
    text = text_report(replace(plain, attempts=(twice,)))

    assert "Circuit 1 of 2" in groups
    assert "Outbound, circuit 2 of 2" in groups
    assert "Course reversal, circuit 2 of 2" in groups
    assert "Station passage: before 1; Outbound: 2; Course reversal: 2" in " ".join(text.split())
    assert "circuit" not in text_report(plain).lower()


def test_a_limit_broken_in_an_earlier_circuit_is_listed_with_it() -> None:
    attempt = result().attempts[0]
    measures = attempt.measures
    assert measures.outbound is not None
    broken = LimitBreak(
        limit_ft=2800.0,
        side="below",
        what="altitude",
        start=attempt.phases[0].start,
        end=attempt.phases[0].end,
        depth_ft=210.0,
        deepest=attempt.phases[0].end,
        depth_uncertainty_ft=None,
    )
    low = Circuit(
        outbound=replace(measures.outbound, altitude_breaks=(broken,)),
        course_reversal=None,
        intermediate=None,
        intercept=None,
    )
    twice = replace(attempt, measures=replace(measures, earlier_circuits=(low,)))

    assert row(twice, "Outbound, circuit 1 of 2: leg's limit 2,800 ft")[1] == "210 ft below"
