"""Which published altitudes a picture shows along a flight."""

from __future__ import annotations

import pytest

from debrief import debrief, load_procedure
from debrief.procedures.model import Phase
from debrief.reports.limits import limit_stretches
from debrief.reports.scene import scenes
from debrief.simulation import Attempt, FlightPlan, fly
from debrief.simulation.sensor import Sensor, record

LANTERN = load_procedure("lantern-vor-22")


@pytest.mark.parametrize("seen", [True, False])
def test_straight_in_the_altitude_of_the_way_back_holds_on_the_way_in_also_where_a_gap_hides_the_arrival(
    seen: bool,
):
    """Nothing is published for the way in. Of whom the last minute before the station is hidden was held to nothing."""
    procedure = LANTERN.model_copy(
        update={"leg": tuple(leg for leg in LANTERN.leg if leg.phase != Phase.INBOUND)}
    )
    plan = FlightPlan(
        start_bearing_true_deg=40.0, start_distance_nm=12.0, attempts=(Attempt(straight_in=True),)
    )
    flight = fly(procedure, plan)
    station_s = next(event.t_s for event in flight.events if event.what == "final")
    gaps = () if seen else ((station_s - 60.0, station_s - 10.0),)
    result = debrief(record(flight, Sensor(gaps=gaps), 3), procedure)
    assert result.flight is not None
    (scene,) = scenes(result.flight, result.attempts)
    (back,) = [leg for leg in procedure.leg if leg.phase == Phase.INTERMEDIATE]

    assert (scene.attempt.measures.arrival is not None) == seen
    assert back.altitude is not None
    assert [limit.altitude_ft for limit in limit_stretches(scene) if limit.phase == Phase.INBOUND] == [
        back.altitude.low_ft
    ]
