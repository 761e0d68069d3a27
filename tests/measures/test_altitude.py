"""Altitude limits of a leg: where they were passed, for how long, by how much."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from debrief.measures import Tolerance, measure
from debrief.measures.altitude import leg_breaks
from debrief.measures.scene import scene_of
from debrief.phases.model import Span
from debrief.procedures.model import Phase
from tests.measures.builders import EPOCH, NOISE, Path, attempt, flight
from tests.measures.plan import OUTBOUND_TRUE_DEG, procedure

ONE_SECOND = timedelta(seconds=1)


def seconds(moment) -> float:
    return (moment - EPOCH).total_seconds()


def heights(*levels: tuple[float, float], start_ft: float = 3500.0) -> Path:
    """Along the outbound radial: (seconds, altitude at their end) one after the other."""
    path = Path(1.2, 1.6, OUTBOUND_TRUE_DEG, 120.0, start_ft)
    for lasting_s, to_ft in levels:
        path.straight(seconds=lasting_s, to_ft=to_ft)
    return path


def breaks_of(path: Path, limit: dict, phase: str = "outbound", tolerance: Tolerance | None = None, **log):
    plan = procedure(**{phase: {"altitude": limit}})
    found = attempt([(phase, 0.0, path.now_s)])
    scene = scene_of(flight(path, plan, found, **log), found, None)
    span = Span(phase=Phase(phase), start_s=0.0, end_s=path.now_s)
    return leg_breaks(scene, span) if tolerance is None else leg_breaks(scene, span, tolerance)


def test_a_dip_below_the_minimum_has_its_times_and_depth():
    """Down 300 ft in 60 s, level for 30 s, up again in 60 s: below from 20 s to 130 s (100 ft a 20 s)."""
    path = heights((60, 3300), (30, 3300), (60, 3600), start_ft=3600.0)
    (broken,) = breaks_of(path, {"at_or_above_ft": 3500})

    assert seconds(broken.start) == pytest.approx(20.0, abs=0.01)
    assert seconds(broken.end) == pytest.approx(130.0, abs=0.01)
    assert broken.depth_ft == pytest.approx(200.0, abs=0.01)
    assert 60.0 <= seconds(broken.deepest) <= 90.0
    assert (broken.limit_ft, broken.side, broken.what) == (3500.0, "below", "altitude")


def test_a_tolerance_moves_the_ends_and_not_the_depth():
    path = heights((60, 3300), (30, 3300), (60, 3600), start_ft=3600.0)
    (broken,) = breaks_of(path, {"at_or_above_ft": 3500}, tolerance=Tolerance(below_ft=100.0))

    assert seconds(broken.start) == pytest.approx(40.0, abs=0.01)
    assert seconds(broken.end) == pytest.approx(110.0, abs=0.01)
    assert broken.depth_ft == pytest.approx(200.0, abs=0.01)


def test_within_the_tolerance_nothing_is_broken():
    path = heights((60, 3410), (60, 3410))

    assert breaks_of(path, {"at_or_above_ft": 3500}, tolerance=Tolerance(below_ft=100.0)) == ()
    assert len(breaks_of(path, {"at_or_above_ft": 3500})) == 1


def test_less_than_the_noise_is_no_break():
    path = heights((100, 3499.0), (10, 3499.0))

    assert breaks_of(path, {"at_or_above_ft": 3500}) == ()  # the smoothed altitude is good to 2 ft
    quiet = replace(NOISE, smoothed_altitude_ft=0.1)
    assert len(breaks_of(path, {"at_or_above_ft": 3500}, noise=quiet)) == 1


def test_two_dips_two_seconds_apart_are_one():
    dips = heights((10, 3440), (10, 3502), (2, 3502), (10, 3440), (10, 3600))
    (broken,) = breaks_of(dips, {"at_or_above_ft": 3500})

    assert broken.depth_ft == pytest.approx(60.0, abs=0.01)


def test_two_dips_ten_seconds_apart_are_two():
    dips = heights((10, 3440), (10, 3520), (10, 3520), (10, 3440), (10, 3600))

    assert len(breaks_of(dips, {"at_or_above_ft": 3500})) == 2


def test_coming_down_to_an_altitude_to_be_held_breaks_nothing():
    path = heights((100, 3000), (60, 3000), start_ft=4000.0)

    assert breaks_of(path, {"at_ft": 3000}) == ()
    assert breaks_of(path, {"between_ft": (2500, 3000)}) == ()


def test_leaving_an_altitude_to_be_held_breaks_it_on_that_side():
    path = heights((100, 3000), (30, 3000), (30, 3200), (30, 3000), (30, 2800), start_ft=4000.0)
    above, below = breaks_of(path, {"at_ft": 3000})

    assert (above.side, above.depth_ft) == ("above", pytest.approx(200.0, abs=0.01))
    assert seconds(above.start) == pytest.approx(130.0, abs=0.01)
    assert (below.side, below.depth_ft) == ("below", pytest.approx(200.0, abs=0.01))


def test_levelling_off_just_above_an_altitude_to_be_held_reaches_it():
    path = heights((100, 3060), (60, 3060), start_ft=4000.0)
    (broken,) = breaks_of(path, {"at_ft": 3000})

    assert broken.depth_ft < 81.0
    assert seconds(broken.start) == pytest.approx(98.0, abs=1.5)


def test_a_leg_begun_within_the_tolerance_is_held_from_its_first_moment():
    """40 ft high at first, then 360 ft, and at the altitude itself only after that."""
    path = heights((20, 3040), (20, 3360), (40, 3360), (20, 2990), (20, 2990), start_ft=3040.0)
    (broken,) = breaks_of(path, {"at_ft": 3000}, tolerance=Tolerance(below_ft=100.0, above_ft=100.0))

    assert (broken.side, broken.depth_ft) == ("above", pytest.approx(360.0, abs=0.01))
    assert seconds(broken.start) == pytest.approx(20.0 + 20.0 * 60.0 / 320.0, abs=0.01)


def test_an_altitude_that_is_never_reached_is_broken_all_along():
    path = heights((100, 3600), (60, 3600), start_ft=4000.0)
    (broken,) = breaks_of(path, {"at_ft": 3000})

    assert (seconds(broken.start), seconds(broken.end)) == (0.0, 160.0)
    assert broken.depth_ft == pytest.approx(1000.0, abs=0.01)


def test_climbing_to_the_inbound_altitude_breaks_nothing_until_it_is_reached():
    climbing = heights((100, 4000), (60, 4000), (30, 3800), start_ft=2000.0)
    (broken,) = breaks_of(climbing, {"at_or_above_ft": 4000}, phase="inbound")

    assert seconds(broken.start) == pytest.approx(160.0, abs=0.01)


def test_staying_low_inbound_is_broken_all_along():
    (broken,) = breaks_of(heights((100, 3000), start_ft=3000.0), {"at_or_above_ft": 4000}, phase="inbound")

    assert (seconds(broken.start), seconds(broken.end)) == (0.0, 100.0)


def test_beginning_a_later_leg_too_low_is_broken_at_once():
    (broken,) = breaks_of(heights((50, 3500), start_ft=3000.0), {"at_or_above_ft": 3500})

    assert seconds(broken.start) == 0.0
    assert broken.depth_ft == pytest.approx(500.0, abs=0.01)


def test_a_break_is_not_carried_across_a_gap():
    path = heights((200, 3300), start_ft=3300.0)
    before, after = breaks_of(path, {"at_or_above_ft": 3500}, gaps=[(50.0, 100.0)])

    assert seconds(before.end) <= 50.0
    assert seconds(after.start) >= 100.0


def test_a_leg_without_altitude_says_that_nothing_was_checked():
    path = heights((100, 3000), start_ft=3000.0)
    found = attempt([("outbound", 0.0, 100.0)])
    leg = measure(flight(path, procedure(), found, no_altitude=[(-1.0, 1000.0)]), found, None).outbound

    assert leg is not None
    assert leg.altitude_ft is None
    assert leg.altitude_breaks == ()
    assert any("limits could not be checked" in text for text in leg.warnings)


def test_missing_altitude_for_a_while_is_said_with_its_length():
    path = heights((100, 3500))
    found = attempt([("outbound", 0.0, 100.0)])
    leg = measure(flight(path, procedure(), found, no_altitude=[(20.0, 60.0)]), found, None).outbound

    assert leg is not None
    assert leg.altitude_ft is not None
    assert any("missing for 4" in text or "missing for 39" in text for text in leg.warnings)


@pytest.mark.parametrize(("circuit", "broken"), [(0, 1), (1, 0)])
def test_nobody_climbs_back_for_another_circuit(circuit, broken):
    """Level at 2,900 ft: below the outbound leg's 3,500, above the reversal's 2,800. Common practice."""
    path = heights((90, 2900), start_ft=2900.0)
    plan = procedure(
        outbound={"altitude": {"at_or_above_ft": 3500}},
        course_reversal={"altitude": {"at_or_above_ft": 2800}},
    )
    found = attempt([("outbound", 0.0, path.now_s, circuit)])
    scene = scene_of(flight(path, plan, found), found, None)

    breaks = leg_breaks(scene, Span(phase=Phase.OUTBOUND, start_s=0.0, end_s=path.now_s, circuit=circuit))

    assert len(breaks) == broken
