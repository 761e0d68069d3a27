"""Finals of logs without altitudes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.pipeline import look
from tests.phases.pilots import base_turn


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
