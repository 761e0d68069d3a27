"""Gaps so long that they hide a leg or two, and logs that begin after them.

The approach is one all the same, of what was seen before and after.
"""

from __future__ import annotations

import pytest

from debrief.phases.model import FoundAttempt
from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.phases.pilots import (
    MAKERS,
    Flown,
    down_to_the_minimum,
    inbound_at,
    true_deg,
)


def moment(case: Flown, phase: str, *, end: bool = False, last: bool = False) -> float:
    spans = [span for span in case.phases if span[0] == phase]
    return spans[-1 if last else 0][2 if end else 1]


def found(case: Flown, gap_s: tuple[float, float]) -> FoundAttempt:
    (attempt,) = look(case.plane.log(case.procedure, gap_s=gap_s), case.procedure).attempts
    return attempt


def seen(attempt: FoundAttempt) -> list[str]:
    return [str(span.phase) for span in attempt.spans]


def why(attempt: FoundAttempt) -> dict[Phase, str]:
    return {missing.phase: missing.why for missing in attempt.not_seen}


@pytest.mark.parametrize("name", list(MAKERS))
def test_from_before_the_station_into_the_turn_back(name):
    """The passage and the outbound leg are hidden; no arrival along the inbound course is seen after it."""
    case = MAKERS[name]()
    end_s = moment(case, "course_reversal", end=True)
    attempt = found(case, (moment(case, "station_passage") - 20.0, end_s - 25.0))

    assert why(attempt)[Phase.OUTBOUND] == "not observed"
    assert seen(attempt)[:2] == ["inbound", "course_reversal"]
    assert attempt.established_s == pytest.approx(end_s, abs=2.0)
    assert not attempt.straight_in


@pytest.mark.parametrize("name", list(MAKERS))
def test_from_the_turn_at_the_station_into_the_turn_back(name):
    """The passage is seen, and a part of the turn there; then nothing until the reversal is nearly ended."""
    case = MAKERS[name]()
    begin_s = moment(case, "station_passage", end=True) + 8.0
    attempt = found(case, (begin_s, moment(case, "course_reversal", end=True) - 25.0))

    assert seen(attempt)[:4] == ["inbound", "station_passage", "outbound", "course_reversal"]
    outbound = attempt.last(Phase.OUTBOUND)
    assert outbound is not None
    assert outbound.end_s == pytest.approx(begin_s, abs=2.0)
    assert attempt.turn_off_s is None


@pytest.mark.parametrize("name", list(MAKERS))
def test_from_the_turn_at_the_station_onto_the_course_back(name):
    """Nothing of the leg out and back is seen but that turn; near the station again, it is not seen farther out."""
    case = MAKERS[name]()
    phase = "intermediate" if case.procedure.has_intermediate else "final"
    begin_s, resumes_s = moment(case, "station_passage", end=True) + 8.0, moment(case, phase, end=True) - 30.0
    attempt = found(case, (begin_s, resumes_s))

    assert seen(attempt)[:4] == ["inbound", "station_passage", "outbound", phase]
    assert why(attempt)[Phase.COURSE_REVERSAL] == "not observed"
    assert attempt.spans[3].start_s == pytest.approx(resumes_s, abs=2.0)


@pytest.mark.parametrize("name", ["45/180", "80/260"])
def test_from_the_turn_at_the_station_onto_the_final(name):
    """The gap holds the outbound leg as well, and with it so much time that nobody flew on straight in."""
    case = MAKERS[name]()
    begin_s = moment(case, "station_passage", end=True) + 8.0
    attempt = found(case, (begin_s, moment(case, "final") + 20.0))

    assert seen(attempt) == ["inbound", "station_passage", "outbound", "final", "missed_approach"]
    assert why(attempt)[Phase.COURSE_REVERSAL] == "not observed"


@pytest.mark.parametrize("name", ["45/180", "80/260", "racetrack"])
def test_from_the_outbound_leg_onto_the_final(name):
    """The reversal and the second passage are hidden, and neither is said not to have been flown."""
    case = MAKERS[name]()
    begin_s = moment(case, "course_reversal") - 15.0
    attempt = found(case, (begin_s, moment(case, "final") + 20.0))

    assert seen(attempt) == ["inbound", "station_passage", "outbound", "final", "missed_approach"]
    assert why(attempt)[Phase.COURSE_REVERSAL] == "not observed"
    assert why(attempt)[Phase.INTERMEDIATE] == "not observed"
    assert why(attempt)[Phase.STATION_PASSAGE] == "not observed"
    outbound = attempt.last(Phase.OUTBOUND)
    assert outbound is not None
    assert outbound.end_s == pytest.approx(begin_s, abs=2.0)


@pytest.mark.parametrize(("altitude_ft", "first"), [(2100.0, "course_reversal"), (2600.0, "inbound")])
def test_a_log_that_begins_on_the_way_back_and_never_gets_established_tells_by_its_height(altitude_ft, first):
    """Straight at the station, 25 degrees off the course; 2,500 ft are published for arriving there."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(5.0, course_deg, beside_deg=25.0, cut_deg=25.0, altitude_ft=altitude_ft)
    plane.hold_until(lambda: plane.distance_nm() < 0.2)
    down_to_the_minimum(plane, procedure)

    (attempt,) = look(plane.log(procedure), procedure).attempts

    assert seen(attempt) == [first, "station_passage", "final", "missed_approach"]
