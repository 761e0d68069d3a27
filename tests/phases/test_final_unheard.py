"""Finals of logs without altitudes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from tests.phases.pilots import base_turn, inbound_at, true_deg


def test_without_altitudes_a_final_ends_over_the_threshold():
    """The aircraft flies on along the runway and away; nothing tells when it climbed."""
    flown = base_turn("kestrey-ndb-09", from_deg=110.0)
    track = flown.plane.log(flown.procedure)
    track = replace(track, altitude_ft=np.full(len(track.t_s), np.nan))

    (found,) = look(track, flown.procedure).attempts

    final_s = next(start_s for phase, start_s, _ in flown.phases if phase == "final")
    runway = flown.procedure.runway
    assert runway is not None
    past = np.cos(np.radians(runway.course_true_deg)) * (track.latitude_deg - runway.latitude) + np.sin(
        np.radians(runway.course_true_deg)
    ) * (track.longitude_deg - runway.longitude) * np.cos(np.radians(runway.latitude))
    over_s = float(track.t_s[np.flatnonzero((past > 0.0) & (track.t_s > final_s))[0]])
    assert str(found.spans[-1].phase) == "final"
    assert found.spans[-1].end_s == pytest.approx(over_s, abs=2.0)
    assert found.ending == "broken off"


@pytest.mark.parametrize("straight", [True, False])
def test_without_altitudes_a_straight_in_final_ends_over_the_threshold_before_a_turn_away(straight):
    """Joined from the side; a mile past the runway the aircraft turns back, or it flies on."""
    procedure = load_procedure("kestrey-ndb-09")
    course_deg = true_deg(procedure, procedure.inbound_course_deg)
    plane = inbound_at(11.0, course_deg, beside_deg=15.0, cut_deg=30.0, altitude_ft=3040.0)
    plane.join(course_deg)
    plane.follow(course_deg, lambda: plane.along_nm(course_deg) >= 1.0)
    if straight:
        plane.hold(150.0)
    else:
        plane.turn_to(course_deg + 180.0, "right")
        plane.hold(60.0)
    track = plane.log(procedure, noise_m=2.0)
    track = replace(track, altitude_ft=np.full(len(track.t_s), np.nan))

    (found,) = look(track, procedure).attempts

    assert [str(span.phase) for span in found.spans] == ["inbound", "final"]
    runway = procedure.runway
    assert runway is not None
    north = np.radians(runway.course_true_deg)
    along = np.cos(north) * (track.latitude_deg - runway.latitude) + np.sin(north) * np.cos(
        np.radians(runway.latitude)
    ) * (track.longitude_deg - runway.longitude)
    assert found.spans[-1].end_s == pytest.approx(float(track.t_s[np.argmax(along > 0.0)]), abs=2.0)
