"""The minimum and the steps on final, and the descent that may pass them."""

from __future__ import annotations

import math

import pytest

from debrief.measures import measure
from debrief.measures.minimum import judged_until_s, visual_descent
from debrief.measures.scene import scene_of
from tests.measures.builders import EPOCH, Path, attempt, flight, passage
from tests.measures.plan import INBOUND_TRUE_DEG, RUNWAY_FT, procedure

MINIMUM_FT = 980.0


def seconds(moment) -> float:
    return (moment - EPOCH).total_seconds()


def final_from(along_nm: float, altitude_ft: float, groundspeed_kt: float = 90.0) -> Path:
    """On the final course, from ``along_nm`` past the station."""
    course = math.radians(INBOUND_TRUE_DEG)
    return Path(
        along_nm * math.sin(course),
        along_nm * math.cos(course),
        INBOUND_TRUE_DEG,
        groundspeed_kt,
        altitude_ft,
    )


def built(path: Path, ending: str, plan=None, **log):
    spans = [("final", 0.0, path.marks.get("end", path.now_s))]
    if ending == "landing":
        spans.append(("landing", path.marks["end"], path.now_s))
    found = attempt(spans, passages=[passage(-10.0)], ending=ending)
    return flight(path, plan or procedure(), found, **log), found


def breaks_on(path: Path, ending: str, plan=None, **log):
    here, found = built(path, ending, plan, **log)
    final = measure(here, found, None).final
    assert final is not None
    return final.altitude_breaks


def to_landing(path: Path) -> Path:
    """From where the path is, straight to the threshold and along the runway."""
    to_go_nm = 5.2 - path.distance_nm(path.now_s)
    path.straight(to_go_nm + 0.05, to_ft=RUNWAY_FT).mark("end")
    return path.straight(0.5)


def test_a_stable_descent_through_the_minimum_to_the_runway_is_no_break():
    path = final_from(0.6, 1900.0).straight(seconds=30, to_ft=1750.0)
    path.straight(1.0, to_ft=1710.0)

    assert breaks_on(to_landing(path), "landing") == ()


def test_after_levelling_off_at_the_minimum_the_descent_to_the_runway_is_none_either():
    path = final_from(2.2, 1500.0).straight(1.0, to_ft=MINIMUM_FT).straight(0.4)

    assert breaks_on(to_landing(path), "landing") == ()


def test_a_long_landing_is_judged_by_the_way_to_its_touchdown():
    """980 ft 0.6 NM before the threshold is 12 degrees to it, but 5.5 degrees to a touchdown 0.7 NM beyond."""
    path = final_from(3.9, 1200.0).straight(0.7, to_ft=980.0).straight(1.3, to_ft=RUNWAY_FT).mark("end")
    path.speed(40.0).straight(seconds=20.0)

    assert breaks_on(path, "landing") == ()


def test_a_log_that_reads_low_all_along_makes_no_break_of_a_landing():
    """By 600 ft, as a pressure altitude without its QNH: 1.4 degrees to the runway, but 2.6 to what it read there."""
    touchdown_ft = RUNWAY_FT - 600.0
    path = final_from(0.05, touchdown_ft + 5.2 * 276.0).straight(5.2, to_ft=touchdown_ft).mark("end")
    path.straight(0.5)

    assert "minimum_descent_altitude" not in {found.what for found in breaks_on(path, "landing")}


def test_levelling_off_below_the_minimum_is_a_break_even_before_a_landing():
    path = final_from(2.2, 1300.0).straight(1.0, to_ft=780.0).mark("level").straight(0.6).mark("down")
    (broken,) = breaks_on(to_landing(path), "landing")

    below_s = path.marks["level"] * (1300.0 - MINIMUM_FT) / 520.0
    assert broken.what == "minimum_descent_altitude"
    assert seconds(broken.start) == pytest.approx(below_s, abs=0.1)
    assert seconds(broken.end) == pytest.approx(path.marks["down"], abs=1.5)
    assert broken.depth_ft == pytest.approx(200.0, abs=15.0)


def test_a_dip_that_comes_back_up_is_a_break():
    path = final_from(2.2, 1100.0).straight(0.6, to_ft=900.0).straight(0.4, to_ft=1000.0).straight(0.4)
    (broken,) = breaks_on(to_landing(path), "landing")

    assert broken.depth_ft == pytest.approx(80.0, abs=0.5)
    assert seconds(broken.end) < 60.0


def test_below_the_minimum_and_then_a_missed_approach_is_a_break():
    path = (
        final_from(2.2, 1100.0)
        .straight(1.2, to_ft=800.0)
        .straight(0.9)
        .mark("end")
        .straight(1.0, to_ft=1800.0)
    )
    (broken,) = breaks_on(path, "missed approach")

    assert broken.limit_ft == MINIMUM_FT
    assert broken.depth_ft == pytest.approx(180.0, abs=0.5)


def test_going_round_from_the_runway_is_no_break():
    """A touch and go: the runway was reached."""
    path = to_landing(final_from(2.2, 1300.0).straight(0.8, to_ft=MINIMUM_FT))
    path.straight(1.0, to_ft=1500.0)

    assert breaks_on(path, "missed approach") == ()


def test_a_dive_at_nothing_is_a_break():
    """Three miles before the runway down to 400 ft: no path to it is so flat."""
    path = final_from(1.0, 1800.0).straight(0.8, to_ft=420.0).straight(1.0)
    found = breaks_on(path.mark("end"), "end of log")

    assert {b.what for b in found} == {"minimum_descent_altitude", "step_down"}


def test_a_log_that_ends_on_a_stable_path_is_taken_as_a_landing_and_says_so():
    path = final_from(2.8, 1100.0).straight(1.8, to_ft=500.0)
    here, found = built(path, "end of log")
    final = measure(here, found, None).final

    assert final is not None
    assert final.altitude_breaks == ()
    assert any("taken as a landing" in text for text in final.warnings)


def test_with_the_runway_to_the_side_it_is_none():
    path = final_from(2.8, 1100.0).turn(80.0).straight(1.0, to_ft=600.0)

    assert len(breaks_on(path, "end of log")) == 1


def test_without_a_runway_the_minimum_holds_to_the_missed_approach_point():
    plan = procedure(runway=None)
    path = final_from(3.0, 1000.0).straight(1.0).mark("low").straight(1.5, to_ft=400.0)
    (broken,) = breaks_on(path, "end of log", plan)

    # 20 ft above it, down by 400 ft a mile: passed after 0.05 NM; 4.6 DME follows half a mile later
    assert seconds(broken.start) == pytest.approx(42.0, abs=0.5)
    assert seconds(broken.end) == pytest.approx(64.0, abs=1.2)


def test_a_step_holds_until_its_dme_and_not_beyond():
    path = final_from(0.6, 1900.0).straight(0.9, to_ft=1600.0).straight(1.5, to_ft=1000.0).straight(1.0)
    (broken,) = breaks_on(path, "missed approach")

    # 1,700 ft are passed 0.6 NM on, at 90 kt; 2 DME is reached 1.99 NM from the station
    assert (broken.what, broken.limit_ft) == ("step_down", 1700.0)
    assert seconds(broken.start) == pytest.approx(0.6 / 90 * 3600, abs=0.1)
    assert seconds(broken.end) == pytest.approx((1.988 - 0.6) / 90 * 3600, abs=1.0)


def test_a_step_on_the_way_to_the_station_holds_until_its_dme_counts_down():
    plan = procedure(
        intermediate=None,
        final={
            "step_down": [{"until_dme_nm": 3.0, "at_or_above_ft": 1700}],
            "missed_approach_point": {"dme_nm": 0.5},
        },
        runway=None,
    )
    path = final_from(-6.0, 1800.0).straight(1.0, to_ft=1500.0).straight(4.0)
    (broken,) = breaks_on(path, "missed approach", plan)

    assert seconds(broken.start) == pytest.approx(1 / 3 / 90 * 3600, abs=0.1)
    assert seconds(broken.end) == pytest.approx((6.0 - 2.993) / 90 * 3600, abs=1.0)


def test_the_needle_is_judged_until_the_descent_to_the_runway():
    path = to_landing(
        final_from(2.2, 1300.0).straight(0.8, to_ft=MINIMUM_FT).mark("minimum").straight(0.4).mark("down")
    )
    here, found = built(path, "landing")
    scene = scene_of(here, found, None)
    descent = visual_descent(scene)

    assert descent is not None
    assert descent.start_s == pytest.approx(path.marks["down"], abs=1.0)
    assert judged_until_s(scene) == descent.start_s


def test_without_one_the_needle_is_judged_to_the_missed_approach_point():
    path = (
        final_from(2.2, 1300.0)
        .straight(0.8, to_ft=1000.0)
        .straight(1.8)
        .mark("end")
        .straight(1.0, to_ft=1800.0)
    )
    here, found = built(path, "missed approach")

    # 4.6 DME at 700 ft above the station: 4.599 NM
    assert judged_until_s(scene_of(here, found, None)) == pytest.approx((4.599 - 2.2) / 90 * 3600, abs=0.2)


def test_a_descent_to_the_runway_that_goes_on_behind_a_gap_began_before_it():
    """Below the minimum when the log breaks off, and lower still when it goes on: no break of the minimum before."""
    path = final_from(2.2, 1300.0).straight(1.0, to_ft=MINIMUM_FT).mark("down")
    path = to_landing(path.straight(0.4))
    gap_s = (path.marks["down"] + 25.0, path.marks["down"] + 50.0)

    assert breaks_on(path, "landing", gaps=[gap_s]) == ()
