"""The same flight gives the same grade at any sampling: no verdict turns over, and hardly an item changes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.grading import load_standard
from debrief.pipeline import debrief
from debrief.procedures import Procedure
from debrief.tracks.model import Track
from tests.ensembles import GOOD, clean_flights, faulty_flights

FLIGHTS = 4
SAME_SHARE = 0.98


def resampled(track: Track, step_s: float) -> Track:
    """On another grid of times, by straight lines, as programs do it."""
    t_s = np.arange(0.0, float(track.t_s[-1]), step_s)
    latitude, longitude, altitude = (
        np.interp(t_s, track.t_s, column)
        for column in (track.latitude_deg, np.unwrap(track.longitude_deg, period=360.0), track.altitude_ft)
    )
    return replace(
        track,
        t_s=t_s,
        latitude_deg=np.round(latitude, 6),
        longitude_deg=np.round((longitude + 180.0) % 360.0 - 180.0, 6),
        altitude_ft=np.round(altitude, 1),
        part=np.zeros(len(t_s)),
        line=np.arange(1.0, len(t_s) + 1),
        columns={},
    )


def verdicts(track: Track, procedure: Procedure) -> dict[object, str]:
    result = debrief(track, procedure, load_standard())
    return {
        (attempt.number, item.rule, item.phase, item.unit): item.result
        for attempt in result.attempts
        for item in attempt.grade.items
    }


@pytest.mark.parametrize("step_s", [0.5, 2.0, 5.0])
def test_sampling_turns_no_verdict_over(step_s: float) -> None:
    same, all_items, turned = 0, 0, []
    cases = [*clean_flights(FLIGHTS, seed=5, sensor=GOOD), *faulty_flights(FLIGHTS, seed=5, sensor=GOOD)]
    for case in cases:
        before = verdicts(case.track, case.procedure)
        after = verdicts(resampled(case.track, step_s), case.procedure)
        for key in before.keys() & after.keys():
            all_items += 1
            same += before[key] == after[key]
            if {before[key], after[key]} == {"satisfactory", "unsatisfactory"}:
                turned.append((case.name, key, before[key], after[key]))

    assert turned == []
    assert same >= SAME_SHARE * all_items, f"{same} of {all_items}"
