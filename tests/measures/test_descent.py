"""The descent on final: where it began, its angle and rate, levelling off, the missed approach point."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from debrief.measures import measure
from debrief.measures.descent import max_descent_rate
from tests.measures.builders import EPOCH, Path, attempt, flight, passage
from tests.measures.plan import FT_PER_NM, INBOUND_TRUE_DEG, RUNWAY_FT, THRESHOLD_NM, procedure

HUNDREDTH_DEG = 0.01
ONE_SECOND_NM = 90.0 / 3600.0


def seconds(moment) -> float:
    return (moment - EPOCH).total_seconds()


def over_fix(altitude_ft: float = 2300.0, before_nm: float = 2.0) -> Path:
    """Towards the station on the final course at 90 kt, over it after ``before_nm``."""
    course = math.radians(INBOUND_TRUE_DEG)
    return Path(
        -before_nm * math.sin(course), -before_nm * math.cos(course), INBOUND_TRUE_DEG, 90.0, altitude_ft
    )


def final_of(path: Path, fix_s: float, plan=None, ending="missed approach", **log):
    end_s = path.marks.get("climb", path.now_s)
    spans = [("intermediate", 0.0, fix_s - 10.0), ("final", fix_s + 10.0, end_s)]
    if end_s < path.now_s:
        spans.append(("missed_approach", end_s, path.now_s))
    found = attempt(spans, passages=[passage(fix_s, 0.0, fix_s - 10.0, fix_s + 10.0)], ending=ending)
    measures = measure(flight(path, plan or procedure(), found, **log), found, None)
    assert measures.final is not None
    return measures.final, measures


def down_at(angle_deg: float, length_nm: float, from_ft: float) -> float:
    return from_ft - math.tan(math.radians(angle_deg)) * length_nm * FT_PER_NM


@pytest.mark.parametrize("angle_deg", [2.0, 3.0, 4.5])
def test_the_angle_of_a_steady_descent(angle_deg):
    path = over_fix(2800.0).straight(2.7).mark("down").straight(3.0, to_ft=down_at(angle_deg, 3.0, 2800.0))
    final, _ = final_of(path, 80.0)

    assert final.descent_angle_deg == pytest.approx(angle_deg, abs=HUNDREDTH_DEG)
    assert final.descent_start_distance_nm == pytest.approx(0.7, abs=ONE_SECOND_NM)
    assert seconds(final.descent_start) == pytest.approx(path.marks["down"], abs=1.0)
    # feet a minute of an angle at 90 kt: 1.5 miles a minute
    rate = math.tan(math.radians(angle_deg)) * 1.5 * FT_PER_NM
    assert final.max_descent_rate_ft_min == pytest.approx(rate, abs=0.5)


def test_level_parts_of_a_stepped_descent_do_not_flatten_its_angle():
    path = over_fix().straight(2.7)
    path.straight(0.8, to_ft=down_at(3.5, 0.8, 2300.0)).straight(1.0).straight(
        0.8, to_ft=down_at(3.5, 1.6, 2300.0)
    )

    final, _ = final_of(path, 80.0)

    assert final.descent_angle_deg == pytest.approx(3.5, abs=0.05)


def test_a_descent_that_goes_on_over_the_fix_began_before_it():
    path = over_fix(2800.0).straight(1.2).straight(3.5, to_ft=down_at(3.0, 3.5, 2800.0))
    final, _ = final_of(path, 80.0)

    assert final.descent_start_distance_nm == pytest.approx(-0.8, abs=ONE_SECOND_NM)


def test_an_earlier_descent_that_ended_is_not_that_of_the_final():
    path = over_fix(2800.0).straight(1.0, to_ft=2300.0).straight(1.5).straight(2.0, to_ft=1700.0)
    final, _ = final_of(path, 80.0)

    assert final.descent_start_distance_nm == pytest.approx(0.5, abs=ONE_SECOND_NM)


def test_without_a_descent_there_is_none_and_a_reason():
    final, _ = final_of(over_fix().straight(6.0), 80.0)

    assert (final.descent_start, final.descent_angle_deg) == (None, None)
    assert "No descent of 100 ft and more was flown on the final." in final.warnings
    assert final.level_off is None


def test_levelling_off_at_the_minimum():
    path = over_fix(1400.0).straight(2.5).straight(1.0, to_ft=1000.0).mark("level").straight(1.0)
    path.mark("climb").straight(1.0, to_ft=2000.0)
    final, _ = final_of(path, 80.0)

    assert seconds(final.level_off) == pytest.approx(path.marks["level"], abs=1.0)
    assert final.level_off_altitude_ft == pytest.approx(1000.0, abs=3.0)
    assert final.lowest_altitude_ft == pytest.approx(1000.0, abs=0.1)


def test_passing_through_the_minimum_is_no_level_off():
    final, _ = final_of(over_fix(1600.0).straight(2.5).straight(2.5, to_ft=800.0), 80.0)

    assert final.level_off is None


def test_the_required_angle_is_the_published_one():
    final, _ = final_of(over_fix().straight(4.0, to_ft=1700.0), 80.0)

    assert final.required_angle_deg == 3.0


def test_else_it_leads_from_the_fix_to_fifty_feet_over_the_threshold():
    """From 2,300 ft over the fix, 5.2 NM to a threshold at 214 ft: (2300 - 264) / 5.2 NM."""
    plan = procedure(final={"descent_angle_deg": None})
    final, _ = final_of(over_fix().straight(6.0), 80.0, plan)

    expected = math.degrees(math.atan((2300.0 - RUNWAY_FT - 50.0) / (THRESHOLD_NM * FT_PER_NM)))
    assert final.required_angle_deg == pytest.approx(expected, abs=HUNDREDTH_DEG)


def test_without_a_runway_it_leads_to_the_minimum_at_the_missed_approach_point():
    """From 2,300 ft over the fix to 980 ft at 4.6 DME, which is 4.58 NM over the ground at 2,000 ft above it."""
    plan = procedure(runway=None, final={"descent_angle_deg": None})
    final, _ = final_of(over_fix().straight(6.0), 80.0, plan)

    expected = math.degrees(math.atan((2300.0 - 980.0) / (4.58 * FT_PER_NM)))
    assert final.required_angle_deg == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize(
    ("fix_ft", "said"),
    [(5700.0, ""), (6700.0, "Required angle: none that can be flown."), (250.0, "no descent was left")],
)
def test_an_angle_that_nobody_can_fly_is_none_to_compare_with(fix_ft: float, said: str):
    """A final joined a mile out at 2,800 ft was held beside a required angle of 16.6 degrees.

    5.2 NM before the threshold 10 degrees are 5,570 ft above 50 ft over it; at 250 ft the aircraft is below that.
    """
    plan = procedure(final={"descent_angle_deg": None})
    final, _ = final_of(over_fix(fix_ft).straight(6.0), 80.0, plan)

    assert (final.required_angle_deg is None) == bool(said)
    assert any(said and said in why for why in final.warnings) == bool(said)
    assert ("required_angle_deg" in final.uncertainties) == (not said)


def test_the_altitude_over_the_missed_approach_point():
    path = over_fix(1400.0).straight(2.5).straight(1.0, to_ft=1000.0).straight(3.5)
    final, _ = final_of(path, 80.0)

    # 4.6 DME at 700 ft above the station
    along_nm = math.sqrt(4.6**2 - (700.0 / FT_PER_NM) ** 2)
    assert seconds(final.missed_approach_point) == pytest.approx((2.0 + along_nm) * 40.0, abs=0.1)
    assert final.altitude_at_missed_approach_point_ft == pytest.approx(1000.0, abs=0.1)


def test_a_timed_missed_approach_point_counts_from_the_closest_point():
    plan = procedure(final={"missed_approach_point": {"minutes": 2.5}})
    final, _ = final_of(over_fix(1400.0).straight(6.5, to_ft=1000.0), 80.0, plan)

    assert seconds(final.missed_approach_point) == pytest.approx(80.0 + 150.0, abs=0.001)


def test_an_unpublished_missed_approach_point_is_abeam_the_threshold():
    plan = procedure(final={"missed_approach_point": None})
    final, _ = final_of(over_fix(1400.0).straight(2.0).straight(6.0, to_ft=1000.0), 80.0, plan)

    assert seconds(final.missed_approach_point) == pytest.approx((2.0 + THRESHOLD_NM) * 40.0, abs=0.1)


def test_a_missed_approach_point_not_reached_is_said():
    final, _ = final_of(over_fix(1400.0).straight(5.0, to_ft=1000.0), 80.0)

    assert final.missed_approach_point is None
    assert any("missed approach point was not reached" in text for text in final.warnings)


def test_the_greatest_rate_is_that_over_ten_seconds():
    """1,500 ft/min for 5 s within 600 ft/min: 1,050 over ten seconds."""
    path = over_fix().straight(2.5).straight(seconds=30, to_ft=2000.0).mark("dive")
    path.straight(seconds=5, to_ft=2000.0 - 125.0).straight(seconds=30, to_ft=2000.0 - 125.0 - 300.0)
    final, _ = final_of(path, 80.0)

    assert final.max_descent_rate_ft_min == pytest.approx(1050.0, abs=0.5)
    assert seconds(final.max_descent_rate_time) == pytest.approx(path.marks["dive"] + 2.5, abs=4.0)


def test_a_rate_is_not_taken_across_a_gap():
    path = over_fix(3000.0).straight(2.5).straight(seconds=60, to_ft=2600.0)
    path.straight(seconds=10, to_ft=1900.0).straight(seconds=60, to_ft=1500.0)
    start_s = path.now_s - 70.0
    final, _ = final_of(path, 80.0, gaps=[(start_s - 0.5, start_s + 10.5)])

    assert final.max_descent_rate_ft_min == pytest.approx(400.0, abs=1.0)


def test_a_short_final_has_the_rate_of_what_there_is():
    path = over_fix(1000.0).straight(seconds=4.0, to_ft=960.0)
    flown = flight(path, procedure(), attempt([("final", 0.0, 3.0)]))

    rate, _, sure = max_descent_rate(flown, flown.view)
    assert rate == pytest.approx(600.0, abs=0.5)
    assert sure is not None
    assert max_descent_rate(flown, flown.view.where(slice(0, 1))) == (None, None, None)


def test_without_altitude_nothing_of_the_descent_is_measured_but_no_error_either():
    path = over_fix(1400.0).straight(6.5, to_ft=1000.0)
    final, _ = final_of(path, 80.0, no_altitude=[(-1.0, 1e4)])

    assert (final.lowest_altitude_ft, final.descent_start, final.max_descent_rate_ft_min) == (
        None,
        None,
        None,
    )
    assert "Descent not measured: the log has no altitude there." in final.warnings


def test_a_few_wild_altitudes_do_not_turn_the_angle():
    path = over_fix(2800.0).straight(2.7).straight(3.0, to_ft=down_at(3.0, 3.0, 2800.0))
    found = attempt([("final", 90.0, path.now_s)], passages=[passage(80.0)])
    plain = flight(path, procedure(), found)

    def wild(t_s):
        view = plain.at(t_s)
        view.altitude_ft[np.isin(np.round(view.t_s), [150.0, 151.0, 190.0])] += 900.0
        return view

    final = measure(replace(plain, at=wild), found, None).final
    assert final is not None
    assert final.descent_angle_deg == pytest.approx(3.0, abs=0.1)
