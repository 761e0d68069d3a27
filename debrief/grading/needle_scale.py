"""The needle of a leg in its own unit: a station's degrees, a localiser's degrees, a satellite course's miles.

Owns      ``NeedleScale``: a limit, a value and its uncertainty on the full scale in force, and their words.
Not here  where the needle stood (``measures.tracking``), the verdict (``rules_tracking``).

A standard's limit is a share of full scale (or degrees of a station's needle, of which 10 are full scale): the same
share holds for every needle.
"""

from __future__ import annotations

from dataclasses import dataclass

from debrief.grading.case import Case
from debrief.grading.standard import Tolerance
from debrief.grading.words import degrees, nautical_miles, told_apart
from debrief.measures.tracking import needle_sure_deg
from debrief.phases.model import Floats, StationView
from debrief.procedures.guidance import Guidance, guidance_in, guidance_of
from debrief.procedures.model import Phase, Procedure


@dataclass(frozen=True, slots=True)
class NeedleScale:
    """Turns degrees of a station's needle into the unit of the one that was flown by."""

    guidance: Guidance | None = None

    @property
    def unit(self) -> str:
        """Of values and limits."""
        return "deg" if self.guidance is None else self.guidance.unit

    def of(self, station_deg: float) -> float:
        """What so many degrees of a station's needle are, as the same share of full scale."""
        return station_deg if self.guidance is None else self.guidance.limit(station_deg)

    def tolerance(self, tolerance: Tolerance) -> Tolerance:
        """The tolerance with its steps of seriousness in this unit."""
        if self.guidance is None:
            return tolerance
        return tolerance.model_copy(update={"serious": self.of(tolerance.serious)})

    def sure_deg(self, case: Case, view: StationView) -> Floats:
        """How sure the needle is, half-width at 95 %, in degrees of a station's needle."""
        return needle_sure_deg(case.scene.flight, self.guidance, view)

    def words(self, station_deg: float) -> str:
        """A limit."""
        limit, by_miles = self.of(station_deg), self.unit == "NM"
        return nautical_miles(limit, exact=True) if by_miles else degrees(limit, exact=True)

    def value_words(self, station_deg: float, limit_deg: float) -> str:
        """A value, told apart from its limit."""
        if self.guidance is None:
            return told_apart(max(station_deg, 0.1), limit_deg, self.finely, _hundredth)
        return self.finely(station_deg)

    def never_words(self, station_deg: float, limit_deg: float) -> str:
        """A value that may lie near its limit, as it is."""
        if self.guidance is None:
            return told_apart(station_deg, limit_deg, degrees, _hundredth)
        return self.finely(station_deg)

    def finely(self, station_deg: float) -> str:
        """A value, or how sure it is, as finely as it can be said."""
        if self.guidance is None:
            return degrees(max(station_deg, 0.1))
        value = self.of(station_deg)
        if self.guidance.unit == "NM":
            return nautical_miles(max(value, 0.01))
        return degrees(max(value, 0.1))


def _hundredth(angle_deg: float) -> str:
    return degrees(angle_deg, nearest=0.01)


def by_pointer(procedure: Procedure, phase: str | None) -> bool:
    """Whether a leg is flown by the pointer of an NDB, which has no centre, no stop and no flag."""
    return procedure.station.is_ndb and (phase is None or guidance_in(procedure, phase) is None)


def scale_of(case: Case, phase: Phase) -> NeedleScale:
    """The scale of a leg: another than a station's only on a final with guidance of its own."""
    return NeedleScale(guidance_of(case.procedure) if phase is Phase.FINAL else None)


def inbound_scale(case: Case) -> NeedleScale:
    """The scale of the course joined after the reversal: the final's, where that begins there."""
    return NeedleScale(None if case.procedure.has_intermediate else guidance_of(case.procedure))
