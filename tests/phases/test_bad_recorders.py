"""Phases from logs that a recorder or a converter spoilt. Flown by the second generator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.pipeline import look
from debrief.tracks.model import Track
from tests.doctoring import drawn_out
from tests.phases.aeroplane import STEP_S
from tests.phases.test_independent import MAKERS, RIGHT, Span, flown

RECEIVED_S = (1.0, 1.0, 1.0, 2.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 11.0)  # between two reports
NOISE_M = 6.0
ON_THE_EDGE = "45/180 in 30 kt"  # stands within 0.1 degree of half scale for 20 s: established or not


def received(track: Track, seed: int) -> Track:
    """What comes in of a log of five samples a second, at uneven intervals."""
    random = np.random.default_rng(seed)
    every_s = random.choice(RECEIVED_S, int(track.t_s[-1])) + random.uniform(-0.4, 0.4, int(track.t_s[-1]))
    at = np.searchsorted(track.t_s, np.cumsum(every_s))
    return _picked(track, at[at < len(track)])


def _picked(track: Track, at: np.ndarray) -> Track:
    names = ("t_s", "latitude_deg", "longitude_deg", "altitude_ft", "part", "line")
    return replace(track, **{name: getattr(track, name)[at] for name in names})


def _labels(spans: list[Span], t_s: np.ndarray) -> np.ndarray:
    label = np.full(len(t_s), "", dtype=object)
    for phase, start_s, end_s in spans:
        label[(t_s >= start_s) & (t_s < end_s)] = phase
    return label


@pytest.mark.parametrize("step_s", [1.0, 2.0])
def test_seconds_are_in_the_right_phase_where_uneven_reports_were_drawn_out(step_s):
    """A grid of straight lines turns at its corners only: a turn fell into pieces too small to be one."""
    wrong = total = 0
    for number, name in enumerate(MAKERS):
        case = flown(name)
        log = drawn_out(received(case.plane.log(case.procedure, STEP_S, NOISE_M), number), step_s)
        found = [
            (str(s.phase), s.start_s, s.end_s) for a in look(log, case.procedure).attempts for s in a.spans
        ]
        assert [span[0] for span in found] == [span[0] for span in case.phases], name
        if name == ON_THE_EDGE:
            continue
        t_s = np.arange(log.t_s[0], log.t_s[-1], 0.5)
        wrong += int(np.sum(_labels(found, t_s) != _labels(list(case.phases), t_s)))
        total += len(t_s)

    assert 1.0 - wrong / total >= RIGHT
