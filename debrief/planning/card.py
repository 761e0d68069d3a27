"""The card: everything a procedure takes at one speed in one wind, and which limits that would break.

Owns      ``plan_card`` and the model of what it gives.
Not here  the legs' rows (``legs``), the reversal (``pattern``), the turn at the station (``lead``), the final
          (``final``), the limits (``limits``), words (``words``).

Courses are magnetic by the station's alignment. A heading is magnetic by today's variation, which is what a compass
shows; the two frames can lie degrees apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.navigation.angles import wrap_360
from debrief.navigation.magnetism import variation
from debrief.planning.air import Air
from debrief.planning.conditions import Conditions
from debrief.planning.final import FinalPlan, plan_final
from debrief.planning.lead import Lead, first_course_deg, lead_from, leads
from debrief.planning.legs import Airs, LegPlan, least_rate_ft_min, leg_plans
from debrief.planning.limits import Broken, broken_limits
from debrief.planning.pattern import FlownReversal, fly_reversal
from debrief.procedures.entries import Entry, entry
from debrief.procedures.model import Procedure


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What one way of flying a procedure takes."""

    procedure: Procedure
    conditions: Conditions
    variation_deg: float | None  # today's, east positive; None where it is not known
    legs: tuple[LegPlan, ...]
    station_height_ft: float  # above the station, where it is passed; 0 where no altitude is published
    next_course_deg: float | None  # after the station, magnetic; None where no turn is made there
    entry: Entry | None  # of a racetrack, where the arrival is known
    lead: Lead | None  # where the arrival is known
    leads: tuple[Lead, ...]  # a table of changes, where it is not
    turns: Air  # radius, rate and bank: those of the reversal, else of the arrival
    reversal: FlownReversal | None  # with the wind allowed for
    as_published: FlownReversal | None  # headings and times of still air, in this wind
    reversal_ft: float  # to lose in the reversal's turns; 0 where none
    reversal_ft_min: float | None  # the least rate that does
    final: FinalPlan | None
    broken: tuple[Broken, ...]

    def magnetic_deg(self, true_deg: float) -> float:
        """A heading by the compass, in [0, 360); by the station's alignment where the variation is not known."""
        if self.variation_deg is None:
            return self.by_station_deg(true_deg)
        return float(wrap_360(true_deg - self.variation_deg))

    def by_station_deg(self, true_deg: float) -> float:
        """A direction by the station's alignment, in [0, 360)."""
        return float(wrap_360(true_deg - self.procedure.station.declination_deg))


def plan_card(procedure: Procedure, conditions: Conditions) -> Card:
    """Work out the card of a procedure for one speed in one wind.

    Raises
    ------
    PlanError
        Where the wind is more than half the airspeed: nothing sensible can be said then.
    """
    airs = Airs(procedure, conditions)
    arrival_air, outbound_air, reversal_air = (
        airs.of(phase) for phase in ("inbound", "outbound", "course_reversal")
    )
    outbound_ft = airs.altitude_ft("outbound")
    reversal, as_published = (
        fly_reversal(procedure, outbound_air, reversal_air, outbound_ft=outbound_ft, allowed=allowed)
        for allowed in (True, False)
    )
    final = plan_final(
        procedure,
        airs.of("final"),
        start_nm=_final_start_nm(procedure, reversal),
        start_ft=airs.before_final_ft(),
    )
    legs = leg_plans(procedure, airs, reversal, final)
    height_ft = max(airs.altitude_ft("inbound") - procedure.station.elevation_ft, 0.0)
    arrival_deg, speed_kias = conditions.arrival_course_deg, conditions.speed_kias
    lead = None
    if arrival_deg is not None:
        lead = lead_from(procedure, arrival_air, arrival_deg, speed_kias=speed_kias, height_ft=height_ft)
    reversal_ft = max(outbound_ft - airs.altitude_ft("course_reversal"), 0.0)
    rate_ft_min = None if reversal is None else least_rate_ft_min(reversal_ft, reversal.reversal_s)
    return Card(
        procedure=procedure,
        conditions=conditions,
        variation_deg=_variation_deg(procedure, conditions),
        legs=legs,
        station_height_ft=height_ft,
        next_course_deg=first_course_deg(procedure, arrival_deg),
        entry=None if arrival_deg is None else entry(procedure, arrival_deg),
        lead=lead,
        leads=()
        if arrival_deg is not None
        else leads(procedure, arrival_air, speed_kias=speed_kias, height_ft=height_ft),
        turns=arrival_air if reversal is None else reversal_air,
        reversal=reversal,
        as_published=as_published,
        reversal_ft=0.0 if reversal is None else reversal_ft,
        reversal_ft_min=rate_ft_min,
        final=final,
        broken=broken_limits(procedure, speed_kias, legs, reversal, rate_ft_min, final),
    )


def _final_start_nm(procedure: Procedure, reversal: FlownReversal | None) -> float | None:
    """Where the final starts along its course: at the station, or where the course to the aerodrome is joined."""
    if not procedure.station_on_aerodrome:
        return 0.0
    return None if reversal is None else -reversal.joining.along_nm


def _variation_deg(procedure: Procedure, conditions: Conditions) -> float | None:
    station = procedure.station
    known = variation(station.latitude, station.longitude, station.elevation_ft, conditions.when)
    return known.variation_deg if np.isfinite(known.variation_deg) else None
