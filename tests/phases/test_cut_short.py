"""Logs that a gap, their beginning or their end cuts where an approach would have told itself."""

from __future__ import annotations

import pytest

from debrief.phases.model import FoundAttempt
from debrief.pipeline import look
from debrief.procedures import Procedure, load_procedure
from debrief.procedures.model import Phase
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    Flown,
    arriving,
    base_turn,
    down_to_the_minimum,
    inbound_and_down,
    outbound,
    racetrack,
    true_deg,
)

NO_WIND = (0.0, 0.0)
NO_GAP_S = (0.0, 0.0)


def moment(case: Flown, phase: str, *, end: bool = False) -> float:
    span = [span for span in case.phases if span[0] == phase][-1]
    return span[2 if end else 1]


def attempts(
    plane: Aeroplane,
    procedure: Procedure,
    gap_s: tuple[float, float] = NO_GAP_S,
    *,
    from_s: float = 0.0,
    until_s: float | None = None,
) -> tuple[FoundAttempt, ...]:
    end_s = plane.t_s if until_s is None else until_s
    cut = Aeroplane(**{**vars(plane), "flown": [state for state in plane.flown if state[0] <= end_s]})
    return look(cut.log(procedure, from_s=from_s, gap_s=gap_s), procedure).attempts


def phases(found: tuple[FoundAttempt, ...]) -> list[list[str]]:
    return [[str(span.phase) for span in attempt.spans] for attempt in found]


def test_the_way_down_may_lie_in_the_gap_that_hides_the_passage():
    """Straight in, and at its minimum already where it is seen again."""
    procedure = load_procedure("marrow-vor-31")
    from_deg = true_deg(procedure, procedure.inbound_course_deg) + 180.0 + 25.0
    plane = arriving(procedure, from_deg=from_deg, tas_kt=100.0, wind=NO_WIND)
    down_to_the_minimum(plane, procedure)
    lowest_ft = min(state[3] for state in plane.flown)
    at_minimum_s = next(state[0] for state in plane.flown if state[3] == lowest_ft)

    found = attempts(plane, procedure, (plane.marks["station"] - 40.0, at_minimum_s + 5.0))

    assert phases(found) == [["inbound", "final", "missed_approach"]]


def test_a_leg_out_and_back_may_lie_in_a_gap_between_two_passages_close_by():
    """Seen on either side of it the aircraft is never farther than a turn at the station leads."""
    case = racetrack("marrow-vor-31", from_deg=120.0)
    gap_s = (moment(case, "outbound") + 45.0, moment(case, "station_passage") - 30.0)

    (found,) = attempts(case.plane, case.procedure, gap_s)

    assert [round(p.t_s) for p in found.passages] == pytest.approx([round(t) for t in case.passages_s], abs=1)
    assert found.last(Phase.FINAL) is not None


def test_a_log_that_ends_over_the_station_leaves_no_final_to_ask_for():
    """Turned round at once, where two turns are published: what has come down on the way out and back is no hold."""
    procedure = load_procedure("lantern-vor-22")
    plane = arriving(procedure, from_deg=250.0, tas_kt=105.0, wind=NO_WIND)
    outbound(plane, procedure, 5.0)
    plane.turn(210.0)
    inbound_and_down(plane, procedure)

    (found,) = attempts(plane, procedure, until_s=plane.marks["back at the station"] + 5.0)

    assert [str(span.phase) for span in found.spans][:5] == [
        "inbound",
        "station_passage",
        "outbound",
        "course_reversal",
        "intermediate",
    ]


def test_a_reversal_that_leads_into_a_gap_was_not_broken_off():
    """The gap lasts until after the landing or the climb away; at one height up to there it may be an approach."""
    case = base_turn("kestrey-ndb-09", from_deg=110.0)
    level_ft = case.plane.flown[0][3]
    level = [(t_s, east_nm, north_nm, level_ft) for t_s, east_nm, north_nm, _ in case.plane.flown]
    plane = Aeroplane(**{**vars(case.plane), "flown": level})

    (found,) = attempts(
        plane, case.procedure, (moment(case, "final") - 8.0, moment(case, "final", end=True) + 60.0)
    )

    assert found.ending == "gap"
    assert [str(span.phase) for span in found.spans][-1] == "course_reversal"


def test_a_small_circuit_parts_a_passage_from_one_that_a_gap_hides():
    """Round a hold that goes no farther than a turn at the station does; the approach begins after it."""
    procedure = load_procedure("lantern-vor-22")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=80.0, wind=NO_WIND)
    plane.turn(180.0)
    plane.hold(30.0)
    plane.turn(180.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) >= -0.5)
    near_s = plane.t_s
    plane.hold_until(lambda: plane.along_nm(course_deg) >= 0.0)
    outbound(plane, procedure, 5.0)
    plane.turn(-45.0)
    plane.hold(60.0)
    plane.turn(180.0)
    inbound_and_down(plane, procedure)

    (found,) = attempts(plane, procedure, (near_s, plane.marks["turn off"] - 60.0))

    assert plane.marks["station"] < found.start_s < near_s
