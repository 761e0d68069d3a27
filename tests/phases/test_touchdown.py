"""Touchdown by the braking that follows it. Flown by the second generator over Kestrey."""

from __future__ import annotations

import pytest

from debrief.pipeline import look
from debrief.procedures import load_procedure
from debrief.procedures.model import Phase
from tests.phases.aeroplane import STEP_S, Aeroplane
from tests.phases.pilots import true_deg

KESTREY = load_procedure("kestrey-ndb-09")
COURSE_DEG = true_deg(KESTREY, KESTREY.inbound_course_deg)
TWO_SECONDS = 2.0


def on_the_runway() -> Aeroplane:
    """Down the final course, with the wheels just on the runway at 80 kt."""
    plane = Aeroplane(east_nm=-13.0, north_nm=0.0, heading_deg=110.0, altitude_ft=2040.0)
    plane.join(COURSE_DEG)
    plane.follow(COURSE_DEG, lambda: plane.along_nm(COURSE_DEG) >= -3.6)
    plane.tas_kt, plane.to_ft = 80.0, 50.0
    plane.follow(COURSE_DEG, lambda: plane.altitude_ft == plane.to_ft)
    return plane


def touchdown_found_s(plane: Aeroplane) -> float:
    (attempt,) = look(plane.log(KESTREY), KESTREY).attempts
    landing = attempt.last(Phase.LANDING)
    assert landing is not None
    return landing.start_s


def brake(plane: Aeroplane, to_kt: float, kt_s: float) -> None:
    while plane.tas_kt > to_kt:
        plane.tas_kt -= kt_s * STEP_S
        plane.step()


def test_a_run_in_which_the_braking_eases_begins_at_the_wheels():
    """5 kt/s of braking, let go for two seconds at 40 kt, and 4.5 kt/s again."""
    plane = on_the_runway()
    touchdown_s = plane.t_s
    brake(plane, 40.0, 5.0)
    plane.hold(2.0)
    brake(plane, 3.0, 4.5)
    plane.hold(30.0)

    assert touchdown_found_s(plane) == pytest.approx(touchdown_s, abs=TWO_SECONDS)


def test_a_run_in_which_the_braking_only_weakens_begins_at_the_wheels():
    """As noise has it seem to: 5 kt/s, 3.3 for three seconds, and 5.6."""
    plane = on_the_runway()
    touchdown_s = plane.t_s
    brake(plane, 68.0, 5.0)
    brake(plane, 57.0, 3.3)
    brake(plane, 3.0, 5.6)
    plane.hold(30.0)

    assert touchdown_found_s(plane) == pytest.approx(touchdown_s, abs=TWO_SECONDS)
