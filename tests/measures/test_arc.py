"""A DME arc with a lead radial, against simulated flights: its distance, the turn inbound, and what follows."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from pyproj import Geod

from debrief.grading import load_standard
from debrief.pipeline import debrief
from debrief.procedures import load_procedure
from debrief.procedures.model import Arc, Phase
from debrief.result import Attempt as Flown
from debrief.simulation import Attempt, Faults, FlightPlan, SimulatedFlight, Wind, fly
from debrief.simulation.sensor import Sensor, record

GANNETSTONE = load_procedure("gannetstone-vor-12")
DISTANCE_NM, RADIAL_DEG = 0.05, 1.0
FT_PER_NM = 1852.0 / 0.3048
TURN_BEGINS_S = 4.0


def anticlockwise():
    """The same approach, by the arc from the other side."""
    arc = Arc.model_validate({"dme_nm": 10.0, "direction": "anticlockwise", "lead_radial_deg": 312})
    return GANNETSTONE.model_copy(update={"arc": arc})


@cache
def flight(
    off_nm: float = 0.0, late_deg: float = 0.0, lower_ft: float = 0.0, *, mirrored: bool = False
) -> SimulatedFlight:
    procedure = anticlockwise() if mirrored else GANNETSTONE
    if lower_ft and procedure.arc is not None and procedure.arc.altitude is not None:
        low = procedure.arc.altitude.model_copy(update={"at_or_above_ft": 2600.0 - lower_ft})
        procedure = procedure.model_copy(update={"arc": procedure.arc.model_copy(update={"altitude": low})})
    attempt = Attempt(via_arc=True, faults=Faults(arc_off_nm=off_nm, arc_turn_late_deg=late_deg))
    return fly(
        procedure,
        FlightPlan(
            start_bearing_true_deg=25.0 if mirrored else 200.0,
            start_distance_nm=16.0,
            attempts=(attempt,),
            wind=Wind(from_true_deg=240.0, speed_kt=25.0),
        ),
    )


def debriefed(one: SimulatedFlight, *, mirrored: bool = False) -> Flown:
    result = debrief(record(one, Sensor(), 1), anticlockwise() if mirrored else GANNETSTONE, load_standard())
    assert len(result.attempts) == 1
    return result.attempts[0]


def truth(one: SimulatedFlight) -> tuple[np.ndarray, float]:
    """DME distances from a minute after the arc was joined to the turn off it, and the radial of that turn."""
    station = GANNETSTONE.station
    began_s, ended_s = (next(e.t_s for e in one.events if e.what == w) for w in ("arc", "turn off the arc"))
    bearing, _, metres = Geod(ellps="WGS84").inv(
        np.full(len(one), station.longitude),
        np.full(len(one), station.latitude),
        one.longitude_deg.copy(),
        one.latitude_deg.copy(),
    )
    dme = np.hypot(np.asarray(metres) / 1852.0, (one.altitude_ft - station.elevation_ft) / FT_PER_NM)
    part = (one.t_s >= began_s + 60.0) & (one.t_s <= ended_s)
    return dme[part], float(np.asarray(bearing)[part][-1] - station.declination_deg) % 360.0


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("off_nm", "late_deg"), [(0.0, 0.0), (0.6, 4.0), (-1.4, 0.0), (1.4, -5.0)])
def test_distance_and_lead_radial_are_those_that_were_flown(
    off_nm: float, late_deg: float, mirrored: bool
) -> None:
    one = flight(off_nm, late_deg, mirrored=mirrored)
    attempt = debriefed(one, mirrored=mirrored)

    dme_nm, radial_deg = truth(one)
    arc = attempt.measures.arc
    assert arc is not None
    assert arc.off_nm is not None
    assert arc.off_nm.mean == pytest.approx(float(np.mean(dme_nm)) - 10.0, abs=4 * DISTANCE_NM)
    assert arc.turn_in_radial_deg == pytest.approx(radial_deg, abs=RADIAL_DEG)
    assert arc.turn_in_late_deg == pytest.approx(late_deg, abs=RADIAL_DEG)
    found = [f for f in attempt.findings if f.rule == "arc"]
    assert [f.verdict for f in found] == (["exceeded"] if abs(off_nm) > 1.0 else [])
    if found:
        assert ("outside" if off_nm > 0 else "inside") in found[0].message


def test_an_approach_by_the_arc_is_straight_in_and_has_no_other_finding() -> None:
    attempt = debriefed(flight())

    assert [span.phase for span in attempt.phases] == [
        Phase.INBOUND, Phase.STATION_PASSAGE, Phase.FINAL, Phase.MISSED_APPROACH,
    ]  # fmt: skip
    assert attempt.findings == ()
    assert [i.result for i in attempt.grade.items if i.rule == "arc"] == ["satisfactory", "satisfactory"]


def test_below_the_altitude_of_the_arc_is_a_finding() -> None:
    attempt = debriefed(flight(lower_ft=400.0))

    found = next(f for f in attempt.findings if f.rule == "arc")
    assert (found.verdict, found.unit, found.limit) == ("exceeded", "ft", 2500.0)
    assert "below the published 2,600 ft" in found.message


def test_without_an_arc_in_the_log_nothing_is_said_of_it() -> None:
    one = fly(
        GANNETSTONE,
        FlightPlan(start_bearing_true_deg=292.0, start_distance_nm=14.0, attempts=(Attempt(),)),
    )
    attempt = debriefed(one)

    assert attempt.measures.arc is None
    assert [i for i in attempt.grade.items if i.rule == "arc"] == []


def test_a_published_arc_that_was_not_flown_is_said_not_to_have_been() -> None:
    """Straight in from beyond it nothing was said of it at all; where the log begins within it, nobody knows."""
    one = fly(
        GANNETSTONE,
        FlightPlan(
            start_bearing_true_deg=300.0, start_distance_nm=16.0, attempts=(Attempt(straight_in=True),)
        ),
    )
    begins_inside = one.cropped(one.t_s[0] + 240.0, one.t_s[-1])

    found = [debriefed(flown).measures for flown in (flight(), one, begins_inside)]
    assert [m.arrival.by_arc for m in found if m.arrival is not None] == [True, False, None]
    said = [" ".join(m.inbound.warnings) for m in found if m.inbound is not None]
    assert "arc" not in said[0]
    assert "The published arc at 10.0 DME was not flown" in said[1]
    assert "The way in from the published arc at 10.0 DME was not observed" in said[2]
