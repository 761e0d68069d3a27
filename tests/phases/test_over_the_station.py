"""A racetrack blown back over its station: the turn inbound is not ended where the station is passed again."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.pipeline import debrief, look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.phases.aeroplane import Aeroplane
from tests.phases.pilots import Exact, arriving, down_to_the_minimum, level_of, true_deg

MARROW = load_procedure("marrow-vor-31")
SIDE = 1.0 if MARROW.reversal is not None and MARROW.reversal.side == "right" else -1.0
WAY = (MARROW.reversal.side if MARROW.reversal is not None else None) or "right"
COURSE_DEG = true_deg(MARROW, MARROW.inbound_course_deg)
FLOWN = ["inbound", "station_passage", "outbound", "course_reversal", "station_passage", "final"]


def blown_back(*, out_s: float, wind_kt: float, beyond_deg: float) -> Aeroplane:
    """Along the course to the station, round beyond the outbound heading, against the wind, and round again."""
    plane = arriving(
        MARROW, from_deg=COURSE_DEG + 180.0, nm=12.0, tas_kt=105.0, wind=(COURSE_DEG + 180.0, wind_kt)
    )
    plane.turn_to(COURSE_DEG + 180.0 + SIDE * beyond_deg, WAY)
    plane.to_ft = level_of(MARROW, "outbound")
    plane.hold(out_s)
    plane.mark("turn off")
    plane.turn_to(COURSE_DEG, WAY)
    plane.mark("inbound")
    return plane


@pytest.mark.parametrize(
    ("out_s", "wind_kt", "beyond_deg"),
    [
        pytest.param(60.0, 20.0, 45.0, id="drift allowed for three times"),
        pytest.param(24.0, 20.0, 30.0, id="inbound just before the station"),
        pytest.param(30.0, 35.0, 0.0, id="abeam of the station still on the way out"),
    ],
)
@pytest.mark.parametrize("interval_s", [1.0, 5.0])
def test_it_is_an_approach_all_the_same(out_s, wind_kt, beyond_deg, interval_s):
    """Before it came to the station the aircraft never flew inbound: so there was no attempt, or one straight in."""
    plane = blown_back(out_s=out_s, wind_kt=wind_kt, beyond_deg=beyond_deg)
    plane.follow(COURSE_DEG, lambda: plane.along_nm(COURSE_DEG) >= 1.0)
    down_to_the_minimum(plane, MARROW)
    exact = Exact(plane, MARROW)
    log = plane.log(MARROW, interval_s)

    (attempt,) = look(log, MARROW).attempts

    assert [str(span.phase) for span in attempt.spans] == [*FLOWN, "missed_approach"]
    assert not attempt.straight_in
    reversal = attempt.last(Phase.COURSE_REVERSAL)
    assert reversal is not None
    assert reversal.start_s == pytest.approx(exact.turn_s(plane.marks["turn off"]), abs=2.0 + interval_s / 2)
    turned_s = plane.marks["inbound"]
    again_s, entry_s, _ = exact.passage(turned_s - 25.0, turned_s + 40.0)
    in_cone = exact.in_cone[np.searchsorted(exact.t_s, again_s)]
    assert reversal.end_s == pytest.approx(entry_s if in_cone else again_s, abs=1.0)
    assert attempt.passages[-1].t_s == pytest.approx(again_s, abs=1.0)
    findings = {finding.rule for finding in debrief(log, MARROW).attempts[0].findings}
    assert "not_established" in findings
    assert "reversal_missing" not in findings


def test_circling_over_the_station_with_no_way_down_is_none():
    plane = blown_back(out_s=30.0, wind_kt=35.0, beyond_deg=0.0)
    plane.to_ft = None
    plane.hold(400.0)

    assert look(plane.log(MARROW), MARROW).attempts == ()
