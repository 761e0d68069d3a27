"""The final: rates and times against printed tables, the path against its limits."""

from __future__ import annotations

import math

import pytest

from debrief.planning.final import FinalPlan, plan_final
from debrief.procedures import Procedure, load_procedure
from tests.planning.practice import air, procedure

ONE_FOOT = 1.0
HALF_A_FT_MIN = 0.5
HALF_A_SECOND = 0.5

#: ft/min by ground speed and angle, as a table prints them. Computed apart from this program.
RATES = {
    (90, 2.5): 398,
    (90, 3.0): 478,
    (100, 3.25): 575,
    (120, 3.0): 637,
    (120, 3.5): 743,
    (140, 3.0): 743,
    (150, 4.0): 1062,
    (180, 3.0): 955,
    (180, 3.5): 1115,
}

#: Minutes and seconds from the final fix by distance and ground speed. Computed apart from this program.
TIMES = {(5.0, 90): "3:20", (5.0, 120): "2:30", (4.5, 100): "2:42", (6.0, 140): "2:34", (3.5, 180): "1:10"}


def plan(planned: Procedure, tas_kt: float = 120.0, *, start_nm: float | None = 0.0) -> FinalPlan:
    final = plan_final(planned, air(tas_kt), start_nm=start_nm, start_ft=2000.0)
    assert final is not None
    return final


def with_angle(angle_deg: float | None, **keys: object) -> Procedure:
    """A runway 5 NM past the station (straight south), its threshold 50 ft above the sea."""
    final = {"missed_approach_point": {"dme_nm": 4.8}, "altitude": {"at_or_above_ft": 500.0}, **keys}
    if angle_deg is not None:
        final["descent_angle_deg"] = angle_deg
    runway = {
        "ident": "18",
        "latitude": 47.0 - 5.0 / 60.0,
        "longitude": -31.0,
        "elevation_ft": 50,
        "course_true_deg": 180,
    }
    return procedure(outbound_deg=0.0, inbound_deg=180.0, final=final, runway=runway)


@pytest.mark.parametrize(("row", "rate_ft_min"), RATES.items(), ids=str)
def test_rates_of_descent(row: tuple[int, float], rate_ft_min: int) -> None:
    groundspeed_kt, angle_deg = row
    final = plan_final(with_angle(angle_deg), air(groundspeed_kt), start_nm=0.0, start_ft=None)

    assert final is not None
    assert final.rate_ft_min == pytest.approx(rate_ft_min, abs=HALF_A_FT_MIN)
    assert final.rule_rate_ft_min == 5.0 * round(groundspeed_kt)  # common practice


@pytest.mark.parametrize(("row", "time"), TIMES.items(), ids=str)
def test_times_to_the_missed_approach_point(row: tuple[float, int], time: str) -> None:
    distance_nm, groundspeed_kt = row
    minutes, seconds = time.split(":")
    final = plan(with_angle(3.0, missed_approach_point={"dme_nm": distance_nm}), groundspeed_kt)

    # the DME reads the slant: 500 ft above the station it is 0.001 NM at 4 NM
    assert final.to_end_s == pytest.approx(int(minutes) * 60 + int(seconds), abs=HALF_A_SECOND)


def test_the_path_comes_down_to_50_ft_over_the_threshold() -> None:
    """Doc 8168 Vol II, I-4-5, 5.5.1: seen. 3 degrees are 318.4 ft/NM: computed apart from this program."""
    final = plan_final(with_angle(3.0), air(120.0), start_nm=0.0, start_ft=1600.0)
    threshold_nm = 5.0 * 1852.9 / 1852.0  # a minute of latitude at 47 N on WGS84 is 1,852.9 m: computed

    assert final is not None
    assert final.angle_published
    assert final.rows
    for row in final.rows:
        expected_ft = 100.0 + 318.44 * (threshold_nm - row.distance_nm)
        assert row.altitude_ft == pytest.approx(expected_ft, abs=4 * ONE_FOOT)
        assert row.dme_nm == pytest.approx(math.hypot(row.distance_nm, row.altitude_ft / 6076.115), abs=0.001)
        assert row.seconds == pytest.approx(row.distance_nm * 30.0, abs=HALF_A_SECOND)


def test_the_table_begins_with_the_descent_and_ends_at_the_minimum() -> None:
    final = plan(with_angle(3.0))

    assert final.descent_nm is not None
    assert final.minimum_at_nm is not None
    assert final.descent_nm >= 0.0
    assert final.rows[0].altitude_ft <= 2000.0
    assert final.rows[-1].altitude_ft >= 500.0
    assert [row.dme_nm for row in final.rows] == sorted(row.dme_nm or 0.0 for row in final.rows)
    assert len(final.rows) <= 8


def test_a_published_angle_that_begins_too_low_is_not_flown() -> None:
    """5 NM at 3 degrees are 1,592 ft: from 2,000 ft to 100 ft in 5 NM it takes 1,900 ft, or 3.58 degrees."""
    final = plan(with_angle(3.0))
    kept = plan_final(with_angle(3.0), air(120.0), start_nm=0.0, start_ft=1600.0)

    assert final.too_low_published is True
    assert final.angle_published is False
    assert final.angle_deg == pytest.approx(math.degrees(math.atan(1900.0 / (5.0 * 6076.115))), abs=0.01)
    assert kept is not None
    assert (kept.too_low_published, kept.angle_published) == (False, True)


def test_without_an_angle_it_takes_what_the_distance_takes() -> None:
    final = plan(with_angle(None))

    assert (final.angle_published, final.too_low_published) == (False, False)
    assert final.descent_nm == pytest.approx(0.0, abs=0.001)
    assert final.rate_ft_min == pytest.approx(1900.0 / final_minutes(5.0, 120.0), abs=5.0)


def final_minutes(distance_nm: float, groundspeed_kt: float) -> float:
    return distance_nm / groundspeed_kt * 60.0


def test_without_a_runway_it_comes_down_to_the_minimum_at_the_missed_approach_point() -> None:
    """From 2,000 to 700 ft in 5 NM at 120 kt: 2.5 minutes, 520 ft/min."""
    final = plan(procedure(final={"missed_approach_point": {"dme_nm": 5.0}}))

    assert final.rate_ft_min == pytest.approx(520.0, abs=1.0)
    assert final.minimum_at_nm == pytest.approx(final.end_nm)


def test_with_neither_there_is_no_path() -> None:
    final = plan(procedure())

    assert (final.angle_deg, final.rate_ft_min, final.rows, final.to_end_s) == (None, None, (), None)


def test_steps_are_held_against_the_path() -> None:
    """On 3 degrees at 2 NM from a threshold 5 NM away: 100 + 3 x 318.4 = 1,055 ft."""
    final = plan_final(
        with_angle(3.0, step_down=[{"until_dme_nm": 2.0, "at_or_above_ft": 1200}]),
        air(120.0),
        start_nm=0.0,
        start_ft=1600.0,
    )

    assert final is not None
    (step,) = final.steps
    assert (step.until, step.minimum_ft) == ("2.0 DME", 1200.0)
    assert step.path_ft == pytest.approx(1060.0, abs=10 * ONE_FOOT)
    lowest = {row.dme_nm: row.minimum_ft for row in final.rows}
    assert (lowest[1.0], lowest[2.0], lowest[3.0]) == (1200.0, 500.0, 500.0)


def test_a_published_time_stays_and_its_place_moves_with_the_ground_speed() -> None:
    planned = load_procedure("dateline-ndb-35")  # 1.8 minutes
    slow, fast = plan(planned, 90.0), plan(planned, 120.0)

    assert slow.published_s == fast.published_s == 108.0
    assert (slow.end_nm, fast.end_nm) == (pytest.approx(2.7), pytest.approx(3.6))
    assert [row.dme_nm for row in slow.rows] == [None] * len(slow.rows)


def test_towards_a_station_on_the_aerodrome_distances_shrink() -> None:
    planned = load_procedure("kestrey-ndb-09")
    final = plan(planned, 120.0, start_nm=-6.0)

    assert final.end_nm == pytest.approx(0.0)
    assert final.to_end_s == pytest.approx(180.0)
    distances_nm = [row.distance_nm for row in final.rows]
    assert distances_nm == sorted(distances_nm, reverse=True)
    assert all(a.altitude_ft > b.altitude_ft for a, b in zip(final.rows, final.rows[1:], strict=False))


def test_where_the_start_is_not_known_neither_is_the_time() -> None:
    final = plan(load_procedure("kestrey-ndb-09"), start_nm=None)

    assert (final.to_end_s, final.to_threshold_s) == (None, None)
