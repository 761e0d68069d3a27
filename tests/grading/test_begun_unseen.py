"""What lies before the log's beginning, or in a gap, is never judged: it is said that it was not observed."""

from __future__ import annotations

from functools import cache

import pytest

from debrief.pipeline import debrief
from debrief.result import Attempt
from tests.phases.pilots import Flown, eighty_and_back, procedure_turn

SHAPE = ("reversal_missing", "reversal_side")

#: Seconds after the turn off at which the recorder is switched on: in the first turn, on the leg, in the turn back.
SWITCHED_ON = {"first turn": 10.0, "leg": 45.0, "turn back": 100.0}


@cache
def turned() -> Flown:
    return procedure_turn("lantern-vor-22", from_deg=250.0)


def judged(flown: Flown, **recorder: object) -> Attempt:
    (attempt,) = debrief(flown.plane.log(flown.procedure, **recorder), flown.procedure).attempts
    return attempt


def reasons(attempt: Attempt) -> list[str]:
    return [item.reason for item in attempt.grade.items if item.rule in SHAPE]


@pytest.mark.parametrize("part", list(SWITCHED_ON))
def test_a_log_that_begins_in_the_reversal_says_nothing_of_its_shape(part):
    flown = turned()
    attempt = judged(flown, from_s=flown.plane.marks["turn off"] + SWITCHED_ON[part])

    assert [str(phase.phase) for phase in attempt.phases] == [
        "course_reversal",
        "intermediate",
        "station_passage",
        "final",
        "missed_approach",
    ]
    assert [f.message for f in attempt.findings if f.rule in (*SHAPE, "outbound_length")] == []
    assert all("its beginning was not observed" in reason for reason in reasons(attempt))
    assert len(reasons(attempt)) == len(SHAPE)
    measured = attempt.measures.course_reversal
    assert measured is not None
    assert (measured.side, measured.pattern, measured.turn_start_distance_nm) == (None, None, None)
    assert "Side and pattern not told: the beginning of the reversal was not observed." in measured.warnings


def test_a_gap_over_the_first_turn_says_nothing_of_the_shape():
    flown = turned()
    off_s = flown.plane.marks["turn off"]

    attempt = judged(flown, gap_s=(off_s - 15.0, off_s + 40.0))

    assert [f.message for f in attempt.findings if f.rule in SHAPE] == []
    assert all("its beginning was not observed" in reason for reason in reasons(attempt))


def test_a_log_that_begins_in_the_260_of_an_80_260():
    flown = eighty_and_back("brandel-ndb-27", from_deg=240.0)

    attempt = judged(flown, from_s=flown.plane.marks["turn off"] + 60.0)

    assert str(attempt.phases[0].phase) == "course_reversal"
    assert [f.message for f in attempt.findings if f.rule in SHAPE] == []


def test_the_whole_log_tells_the_shape():
    attempt = judged(turned())

    measured = attempt.measures.course_reversal
    assert measured is not None
    assert (measured.side, measured.pattern) == ("left", "45/180")
