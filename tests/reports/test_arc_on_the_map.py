"""A DME arc on the plan view and in words: the map holds it, and the finding on it has its number there."""

from __future__ import annotations

import numpy as np
import pytest

from debrief import debrief, load_procedure
from debrief.navigation.angles import difference_deg
from debrief.reference import with_references
from debrief.reports.front import plan_entries
from debrief.reports.layout import Rect
from debrief.reports.limits import limit_stretches
from debrief.reports.page import Page
from debrief.reports.plan import draw_plan
from debrief.reports.scene import scenes
from debrief.reports.summary import attempt_sentence
from debrief.simulation import Attempt, Faults, FlightPlan, fly
from debrief.simulation.sensor import Sensor, record

GANNETSTONE = load_procedure("gannetstone-vor-12")


@pytest.mark.parametrize("by_arc", [True, False])
def test_the_map_holds_the_arc_that_was_flown_and_the_sentence_tells_of_it(by_arc: bool) -> None:
    """The map showed the last miles to the station only: arc, and the one finding, lay off it."""
    attempt = Attempt(
        via_arc=by_arc, straight_in=not by_arc, faults=Faults(arc_off_nm=1.5 if by_arc else 0.0)
    )
    plan = FlightPlan(
        start_bearing_true_deg=210.0 if by_arc else 300.0, start_distance_nm=17.0, attempts=(attempt,)
    )
    result = debrief(record(fly(GANNETSTONE, plan), Sensor(), 3), GANNETSTONE)
    assert result.flight is not None
    (scene,) = scenes(result.flight, result.attempts)

    page = Page(595.0, 500.0)
    draw_plan(page, Rect(40.0, 20.0, 555.0, 480.0), scene)

    said = {text.text for text in page.texts}
    assert ("arc 10.0 DME" in said, "1" in said) == (by_arc, by_arc)
    assert ("DME arc" in {entry.text for entry in plan_entries(scene)}) == by_arc
    first, flown = limit_stretches(scene)[0], scene.attempt.measures.arc
    assert flown is None or first.start_s >= scene.seconds(flown.end)  # the leg's own from the turn off it on
    told = "by the DME arc, from " if by_arc else "without the published DME arc"
    assert told in attempt_sentence(result.attempts[0])


def test_the_arcs_altitude_holds_on_it_where_a_gap_hides_the_turn_off() -> None:
    plan = FlightPlan(
        start_bearing_true_deg=210.0,
        start_distance_nm=17.0,
        attempts=(Attempt(via_arc=True, faults=Faults(arc_off_nm=1.5)),),
    )
    flight = fly(GANNETSTONE, plan)
    turned_s = next(event.t_s for event in flight.events if event.what == "turn off the arc")
    gap = Sensor(gaps=((turned_s - 20.0, turned_s + 40.0),))
    result = debrief(record(flight, gap, 3), GANNETSTONE)
    assert result.flight is not None
    (scene,) = scenes(result.flight, result.attempts)

    first = limit_stretches(scene)[0]
    assert GANNETSTONE.arc is not None
    assert GANNETSTONE.arc.altitude is not None
    assert first.altitude_ft == GANNETSTONE.arc.altitude.low_ft  # not yet the leg's own


@pytest.mark.parametrize("off_nm", [-1.5, 0.0, 1.5])
def test_the_flight_without_error_comes_in_on_the_course_and_not_across_from_the_arc(off_nm: float) -> None:
    """It left an arc flown inside its distance straight for the station, and met the final at 90 degrees."""
    attempt = Attempt(via_arc=True, ending="landing", faults=Faults(arc_off_nm=off_nm))
    plan = FlightPlan(start_bearing_true_deg=220.0, start_distance_nm=16.0, attempts=(attempt,))
    result = with_references(debrief(record(fly(GANNETSTONE, plan), Sensor(), 3), GANNETSTONE))
    assert result.flight is not None
    (scene,) = scenes(result.flight, result.attempts)
    assert scene.errorless is not None
    flown = scene.errorless.approach
    far_out = (flown.distance_nm > 2.0) & (flown.t_s < flown.t_s[0] + 120.0)
    inbound_from_deg = GANNETSTONE.inbound_course_deg + 180.0

    assert far_out.any()
    assert np.abs(difference_deg(flown.radial_deg[far_out], inbound_from_deg)).max() < 12.0
