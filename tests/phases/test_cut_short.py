"""Logs that a gap, their beginning or their end cuts where an approach would have told itself."""

from __future__ import annotations

import math

import pytest

from debrief.phases.model import FoundAttempt
from debrief.pipeline import look
from debrief.procedures import Procedure, load_procedure
from debrief.procedures.model import Extent, Phase
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import (
    WHOLE,
    Flown,
    arriving,
    base_turn,
    down_to_the_minimum,
    inbound_and_down,
    inbound_at,
    level_of,
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


def straight_in_only(name: str) -> Procedure:
    """A bundled procedure with its station on the aerodrome, less its reversal."""
    procedure = load_procedure(name)
    legs = [leg for leg in procedure.leg if leg.phase in ("inbound", "final")]
    return procedure.model_copy(update={"leg": tuple(legs)})


def on_the_way_in(procedure: Procedure, *, beside_deg: float = 15.0) -> Aeroplane:
    """Eight miles out beside the final course, and turned onto it at six."""
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(8.0, course_deg, beside_deg=beside_deg, cut_deg=40.0, altitude_ft=2000.0)
    plane.join(course_deg)
    return plane


def when(plane: Aeroplane, course_deg: float, along_nm: float) -> float:
    course = math.radians(course_deg)
    return next(
        t_s
        for t_s, east_nm, north_nm, _ in plane.flown
        if east_nm * math.sin(course) + north_nm * math.cos(course) >= along_nm
    )


@pytest.mark.parametrize(
    ("gap_nm", "from_nm", "until_nm", "seen"),
    [
        ((-7.0, -2.0), None, None, ["inbound", "final", "missed_approach"]),
        (None, -2.0, None, ["final", "missed_approach"]),
        (None, None, -3.0, ["inbound", "final"]),
    ],
)
def test_a_straight_in_final_need_not_be_seen_from_its_beginning_to_its_end(gap_nm, from_nm, until_nm, seen):
    """A circuit of the aerodrome is told by its height and its length, which a cut does not lessen."""
    procedure = straight_in_only("kestrey-ndb-09")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = on_the_way_in(procedure)
    down_to_the_minimum(plane, procedure)
    gap_s = NO_GAP_S if gap_nm is None else tuple(when(plane, course_deg, nm) for nm in gap_nm)

    found = attempts(
        plane,
        procedure,
        (gap_s[0], gap_s[1]),
        from_s=0.0 if from_nm is None else when(plane, course_deg, from_nm),
        until_s=None if until_nm is None else when(plane, course_deg, until_nm),
    )

    assert phases(found) == [seen]


def test_a_climb_away_that_levels_off_early_does_not_go_on_into_the_next_approach():
    """Nine hundred feet above the lowest, and down again: it ended where that was reached."""
    procedure = straight_in_only("kestrey-ndb-09")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = on_the_way_in(procedure)
    plane.to_ft = 780.0
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= -0.3)
    plane.to_ft = 1680.0
    plane.hold(120.0)
    level_s = plane.t_s
    plane.turn(180.0)
    plane.hold_until(lambda: plane.along_nm(course_deg) <= -7.0)
    plane.turn(180.0)
    plane.join(course_deg)
    down_to_the_minimum(plane, procedure)

    one, other = attempts(plane, procedure)

    assert one.ending == other.ending == "missed approach"
    assert one.end_s < level_s


def test_a_gap_may_hide_the_turn_back_up_to_the_passage():
    """The reversal was begun, and a final follows."""
    case = racetrack("marrow-vor-31", from_deg=120.0)
    begin_s, passage_s = moment(case, "course_reversal") + 15.0, moment(case, "station_passage")

    found = attempts(case.plane, case.procedure, (begin_s, passage_s - 3.0))

    assert phases(found)[0][1:4] == ["station_passage", "outbound", "course_reversal"]
    assert phases(found)[0][-3:] == ["station_passage", "final", "missed_approach"]


def never_established() -> Aeroplane:
    """Out on a racetrack, and round straight at the station, 25 degrees off the course."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = arriving(procedure, from_deg=course_deg + 180.0, tas_kt=100.0, wind=NO_WIND)
    plane.turn_to(course_deg + 180.0 - 15.0, "right")
    plane.hold(120.0)
    plane.mark("turn off")
    plane.turn_to(math.degrees(math.atan2(-plane.east_nm, -plane.north_nm)) + 6.0, "right")
    plane.hold_until(lambda: plane.along_nm(course_deg) >= -0.05)
    down_to_the_minimum(plane, procedure)
    return plane


def test_a_turn_back_seen_after_a_gap_need_not_get_established():
    """The gap hides the first passage and the outbound leg; the turn back leads to the station, and down from there."""
    plane = never_established()

    found = attempts(
        plane,
        load_procedure("marrow-vor-31"),
        (plane.marks["station"] - 30.0, plane.marks["turn off"] + 20.0),
    )

    assert phases(found) == [
        ["inbound", "course_reversal", "station_passage", "final", "missed_approach"],
    ]


@pytest.mark.parametrize("seen_again_s", [56.0, 90.0])
def test_far_out_and_low_after_a_gap_is_no_circuit_of_the_aerodrome(seen_again_s):
    """Seen again on the intermediate leg at its altitude, which is no higher than a circuit.

    Later, two miles before the station, it is near that, but the aerodrome is where its runway is: four miles beyond it.
    """
    flown = racetrack("marrow-vor-31", from_deg=120.0)
    runway = flown.procedure.runway
    assert runway is not None
    procedure = flown.procedure.model_copy(
        update={"runway": runway.model_copy(update={"elevation_ft": 300.0})}
    )
    begin_s, resumes_s = moment(flown, "outbound") + 8.0, moment(flown, "intermediate") + seen_again_s

    (found,) = attempts(flown.plane, procedure, (begin_s, resumes_s))

    assert found.last(Phase.INTERMEDIATE) is not None
    assert not found.straight_in


def test_a_log_that_begins_below_the_altitude_of_arriving_is_no_arrival():
    """Along the inbound course at first, and round the racetrack once more: the station was crossed before."""
    procedure = load_procedure("marrow-vor-31")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(5.0, course_deg, beside_deg=8.0, cut_deg=30.0, altitude_ft=2040.0)
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 0.0)
    plane.turn(180.0)
    plane.hold_until(lambda: plane.distance_nm() >= 5.0)
    plane.turn_to(course_deg - 25.0, "right")
    inbound_and_down(plane, procedure)

    assert phases(attempts(plane, procedure))[0][:3] == ["course_reversal", "intermediate", "station_passage"]


@pytest.mark.parametrize(("down_ft", "found"), [(160.0, 1), (0.0, 0)])
def test_an_aircraft_that_comes_down_while_it_crosses_the_station_begins_its_outbound_leg(down_ft, found):
    """Straight over it, where level flight on is no approach: it is down before the leg begins."""
    procedure = load_procedure("marrow-vor-31")
    out_true_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=out_true_deg + 180.0 - 15.0, tas_kt=90.0, wind=NO_WIND, up_to_nm=0.6)
    plane.to_ft = plane.altitude_ft - down_ft
    plane.hold_until(lambda: plane.along_nm(out_true_deg) >= 0.0)
    plane.turn_to(out_true_deg)
    plane.hold(120.0)

    assert len(attempts(plane, procedure)) == found


def test_a_short_leg_outbound_was_begun_where_it_was_turned_onto_and_flown_down():
    """Half round over the station, still beside the radial and two of its seven miles out where the log ends."""
    procedure = load_procedure("lantern-vor-22")
    legs = [
        leg.model_copy(update={"length": Extent(dme_nm=7.0)}) if leg.phase == "outbound" else leg
        for leg in procedure.leg
    ]
    procedure = procedure.model_copy(update={"leg": tuple(legs)})
    out_true_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=out_true_deg, tas_kt=100.0, wind=NO_WIND)
    plane.turn(170.0)
    plane.to_ft = plane.altitude_ft - 400.0
    plane.hold(58.0)

    assert phases(attempts(plane, procedure)) == [["inbound", "station_passage", "outbound"]]


def test_a_shallow_turn_off_onto_a_leg_is_no_hold():
    """In a crosswind 31 degrees of heading are 20 over the ground, and the log ends before a final could tell."""
    procedure = load_procedure("lantern-vor-22")
    out_true_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=250.0, tas_kt=105.0, wind=NO_WIND)
    outbound(plane, procedure, 4.8)
    plane.to_ft = None
    plane.turn_to(out_true_deg - 22.0)
    plane.hold(60.0)
    plane.turn(190.0)
    plane.hold(60.0)
    level = [(*state[:3], plane.altitude_ft) for state in plane.flown]
    plane = Aeroplane(**{**vars(plane), "flown": level})

    assert phases(attempts(plane, procedure))[0][:4] == [
        "inbound",
        "station_passage",
        "outbound",
        "course_reversal",
    ]


def test_a_gap_from_the_outbound_leg_past_a_station_on_the_aerodrome_hides_the_rest():
    """What is seen after it, on the final's course and low, shows that the approach went on."""
    case = base_turn("kestrey-ndb-09", from_deg=110.0)
    end_s = moment(case, "final", end=True)

    (found,) = attempts(case.plane, case.procedure, (moment(case, "course_reversal") - 15.0, end_s + 20.0))

    assert found.ending == "missed approach"
    assert [str(span.phase) for span in found.spans] == [
        "inbound",
        "station_passage",
        "outbound",
        "missed_approach",
    ]
    assert {missing.phase: missing.why for missing in found.not_seen} == {
        Phase.COURSE_REVERSAL: "not observed",
        Phase.FINAL: "not observed",
    }


def test_the_way_back_to_the_outbound_radial_is_no_other_course():
    """Past the station, round, and across at 50 degrees to the radial, where the log ends before it is reached."""
    procedure = load_procedure("kestrey-ndb-09")
    out_true_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=out_true_deg, tas_kt=130.0, wind=NO_WIND)
    plane.hold(15.0)
    plane.to_ft = plane.altitude_ft - 400.0
    plane.turn_to(out_true_deg - 20.0, "right")
    plane.hold(20.0)
    plane.turn_to(out_true_deg + 50.0, "right")
    plane.hold(50.0)

    assert phases(attempts(plane, procedure)) == [["inbound", "station_passage", "outbound"]]


def test_a_log_that_ends_on_the_leg_off_a_radial_that_was_hardly_flown_ends_in_the_reversal():
    """Cut at from one side, and left to the other by one turn: the leg off it counted as the way outbound.

    So far out it was none, and the approach was lost.
    """
    procedure = load_procedure("tarnwick-vor-27")
    course_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=course_deg - 80.0, tas_kt=120.0, wind=NO_WIND)
    plane.hold(25.0)
    plane.turn_to(course_deg - 42.0)
    plane.to_ft = level_of(procedure, "outbound")
    plane.hold_until(lambda: plane.across_nm(course_deg) <= 0.1)
    off_s = plane.t_s
    plane.turn_to(course_deg + 42.0)
    plane.hold(150.0)

    (found,) = attempts(plane, procedure)

    assert [str(span.phase) for span in found.spans] == WHOLE[:4]
    assert found.turn_off_s == pytest.approx(off_s, abs=4.0)


@pytest.mark.parametrize("climbed_s", [-3.0, 30.0])
def test_a_climb_away_through_a_gap_ends_where_it_would_have(climbed_s):
    """It was made to last as long as the gap, which may be minutes more."""
    case = racetrack("marrow-vor-31", from_deg=120.0)
    away_s, climbed_away_s = moment(case, "missed_approach"), moment(case, "missed_approach", end=True)

    (found,) = attempts(case.plane, case.procedure, (away_s + climbed_s, climbed_away_s + 50.0))

    climb = found.last(Phase.MISSED_APPROACH)
    assert climb is not None
    assert climb.end_s == pytest.approx(climbed_away_s, abs=20.0)


@pytest.mark.parametrize("turned_s", [30.0, 45.0, 60.0])
@pytest.mark.parametrize("name", ["lantern-vor-22", "kestrey-ndb-09", "marrow-vor-31"])
def test_a_log_may_end_in_the_turn_at_the_station(name, turned_s):
    """At the altitude to arrive at, and towards the outbound course: the outbound leg is begun, level or not."""
    procedure = load_procedure(name)
    out_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    plane = arriving(procedure, from_deg=out_deg + 20.0, tas_kt=100.0, wind=NO_WIND)
    plane.hold(5.0)
    plane.turn_to(out_deg)
    plane.hold(60.0)

    (found,) = attempts(plane, procedure, until_s=plane.marks["station"] + turned_s + 15.0)

    assert [str(span.phase) for span in found.spans] == ["inbound", "station_passage", "outbound"]


def test_a_log_that_ends_in_a_turn_far_above_the_station_or_away_from_the_way_out_holds_no_approach():
    procedure = load_procedure("lantern-vor-22")
    out_deg = true_deg(procedure, procedure.outbound_course_deg or 0.0)
    high = arriving(procedure, from_deg=out_deg, tas_kt=100.0, wind=NO_WIND)
    high.turn_to(out_deg)
    high.flown = [(*state[:3], state[3] + 3000.0) for state in high.flown]
    elsewhere = arriving(procedure, from_deg=out_deg + 180.0, tas_kt=100.0, wind=NO_WIND)
    elsewhere.turn_to(out_deg + 120.0)
    elsewhere.hold(20.0)

    assert attempts(high, procedure, until_s=high.marks["station"] + 60.0) == ()
    assert attempts(elsewhere, procedure) == ()


@pytest.mark.parametrize(("level_ft", "approaches"), [(900.0, 1), (2400.0, 0)])
def test_a_log_that_begins_at_the_minimum_holds_the_rest_of_a_final(level_ft, approaches):
    """Along the minimum of marrow-vor-31 (or far above it, as on a way past) to a climb away."""
    procedure = load_procedure("marrow-vor-31")
    final = procedure.leg_of("final")
    assert final is not None
    assert final.altitude is not None
    assert final.altitude.low_ft is not None
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(-2.0, course_deg, beside_deg=0.0, cut_deg=0.0, altitude_ft=0.0)
    plane.altitude_ft = final.altitude.low_ft + 60.0 if level_ft < 1000.0 else level_ft
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 4.0)
    plane.to_ft = plane.altitude_ft + 1500.0
    plane.hold(200.0)

    found = attempts(plane, procedure)

    assert phases(found) == [["final", "missed_approach"]] * approaches


def test_a_log_may_begin_on_a_final_off_its_course_that_leads_down_to_the_runway():
    """Beside the course at first, at 25 degrees to it, and from higher than a circuit of the aerodrome."""
    procedure = load_procedure("marrow-vor-31")
    runway = procedure.runway
    assert runway is not None
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(1.4, course_deg, beside_deg=-125.0, cut_deg=-25.0, altitude_ft=1900.0)
    plane.to_ft = runway.elevation_ft
    plane.hold(60.0)
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.altitude_ft == plane.to_ft)
    while plane.tas_kt > 3.0:
        plane.tas_kt -= 0.8
        plane.step()
    plane.hold(40.0)

    assert phases(attempts(plane, procedure)) == [["final", "landing"]]


def test_a_climb_after_a_gap_shows_no_approach_where_only_the_way_in_was_seen_before_it():
    case = base_turn("kestrey-ndb-09", from_deg=110.0)
    gap_s = (moment(case, "station_passage") - 20.0, moment(case, "missed_approach") + 15.0)

    assert attempts(case.plane, case.procedure, gap_s) == ()
