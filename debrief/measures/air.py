"""Airspeed, heading and drift along a flight: as logged, else from the ground velocity and the wind.

Owns      which source is used, and its values at the view's moments.
Not here  finding the wind (``wind``), the formulas (navigation.wind, navigation.atmosphere).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, nan

import numpy as np

from debrief.language import mark, tr
from debrief.measures import uncertainty
from debrief.measures.log_errors import Part, Parts
from debrief.measures.wind import HEADING_SIGMA_DEG
from debrief.navigation.angles import difference_deg, unwrap_deg, wrap_360
from debrief.navigation.atmosphere import calibrated_airspeed_kt, isa_temperature_c, true_airspeed_kt
from debrief.navigation.magnetism import variation
from debrief.navigation.wind import drift_deg, heading_and_airspeed
from debrief.phases.model import Flight, Floats, FoundAttempt, StationView
from debrief.procedures.model import Phase
from debrief.result import Wind
from debrief.tracks.model import Conditioned

LOGGED = mark("logged")
FROM_TRUE_AIRSPEED = mark("logged true airspeed, in standard air")
FROM_WIND = mark("ground speed and wind, in standard air")

#: Values this far apart in time (or three sample intervals) are not joined by a line. [s]
_JOINED_S = 5.0
_JOINED_SAMPLES = 3.0
#: A heading column this far off the track, in the middle, is not a heading. [deg]
_NO_HEADING_DEG = 50.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Air:
    """Along a view, one entry a moment; ``nan`` where not known."""

    kias: Floats
    kias_from: str | None  # None where unknown throughout
    kias_why: str  # the reason, where unknown
    ktas: Floats
    heading_true_deg: Floats
    heading_why: str  # the reason, where unknown throughout
    heading_logged: bool  # from the log, and not from the wind
    drift_deg: Floats  # ground track less heading, right positive
    variation_deg: float  # today's, at the station; nan where unknown
    variation_why: str
    wind_uncertainty_kt: float | None
    wind_altitude_ft: float  # that of the reversal, in whose turns a wind is measured; nan where unknown
    variation_uncertainty_deg: float

    def heading_sure_deg(self, view: StationView, part: slice) -> float:
        """Half-width at 95 % of a mean heading over a part of a view, or of a mean drift. [deg]"""
        if self.heading_logged:
            return uncertainty.COVERAGE * HEADING_SIGMA_DEG
        ktas = self.ktas[part]
        ktas = ktas[ktas > 0.0]  # a logged airspeed may stand at nothing
        if self.wind_uncertainty_kt is None or len(ktas) == 0:
            return nan
        above_ft = self._above_the_wind_ft(view.altitude_ft[part])
        return uncertainty.heading_from_wind_deg(self.wind_uncertainty_kt, above_ft, float(ktas.mean()))

    def kias_errors_kt(self, flight: Flight, airspeed_kt: float, altitude_ft: Floats) -> Parts:
        """The parts of the error of indicated airspeeds about so great, flown at those altitudes. [kt]"""
        if self.kias_from == FROM_WIND and self.wind_uncertainty_kt is not None:
            above_ft = self._above_the_wind_ft(altitude_ft)
            return uncertainty.airspeed_from_wind(flight, self.wind_uncertainty_kt, airspeed_kt, above_ft)
        return (Part(uncertainty.LOGGED_AIRSPEED_KT / uncertainty.COVERAGE, inf),)

    def _above_the_wind_ft(self, altitude_ft: Floats) -> float:
        """How far above where the wind was measured these altitudes lie on the average; ``nan`` where unknown. [ft]"""
        altitude_ft = altitude_ft[np.isfinite(altitude_ft)]
        return float(altitude_ft.mean()) - self.wind_altitude_ft if len(altitude_ft) else nan


def logged(log: Conditioned, name: str, t_s: Floats, *, bearing: bool = False) -> Floats | None:
    """A column of the log at other moments, ``nan`` far from any of its values; ``None`` where it has none.

    Of each value and its two neighbours the middle one is taken: a single wild value counts for nothing.
    """
    column = log.track.columns.get(name)
    if column is None or name in log.doubtful_columns:
        return None
    values = column[log.order]
    there = np.isfinite(values)
    if not there.any():
        return None
    at_s, values = log.t_s[there], values[there]
    if bearing:
        values = unwrap_deg(values)
    if len(values) > 2:
        middle = np.median([values[:-2], values[1:-1], values[2:]], axis=0)
        values = np.concatenate([values[:1], middle, values[-1:]])
    after = np.clip(np.searchsorted(at_s, t_s), 1, max(len(at_s) - 1, 1))
    reach_s = max(_JOINED_S, _JOINED_SAMPLES * log.median_interval_s)
    if len(at_s) == 1:
        near = np.abs(t_s - at_s[0]) <= reach_s
    else:
        near = (at_s[after] - at_s[after - 1] <= reach_s) & (t_s >= at_s[0] - reach_s)
        near &= t_s <= at_s[-1] + reach_s
    found = np.where(near, np.interp(t_s, at_s, values), np.nan)
    return wrap_360(found) if bearing else found


def air_along(flight: Flight, attempt: FoundAttempt, view: StationView, wind: Wind | None) -> Air:
    """Airspeed and heading at the moments of ``view``, from the best source there is."""
    log, station = flight.log, flight.procedure.station
    unknown = np.full(len(view), np.nan)
    today = variation(
        station.latitude, station.longitude, station.elevation_ft, log.track.time_at(attempt.start_s)
    )

    heading_by_wind, ktas_by_wind = unknown, unknown
    if wind is not None:
        heading_by_wind, ktas_by_wind = heading_and_airspeed(
            view.ground_track_true_deg, view.groundspeed_kt, wind.from_true_deg, wind.speed_kt
        )

    ktas = logged(log, "airspeed_ktas", view.t_s)
    kias = logged(log, "airspeed_kias", view.t_s)
    kias_from: str | None = LOGGED
    kias_why = ""
    if kias is None:
        true_kt, kias_from = (ktas, FROM_TRUE_AIRSPEED) if ktas is not None else (ktas_by_wind, FROM_WIND)
        kias = calibrated_airspeed_kt(true_kt, view.altitude_ft, isa_temperature_c(view.altitude_ft))
        if not np.isfinite(kias).any():
            kias_from = None
            kias_why = (
                tr("the log has no airspeed, and the wind is not known")
                if ktas is None and wind is None
                else tr("the log has no altitude, which the airspeed depends on")
            )

    heading, heading_why, heading_logged = _heading(log, view, today.variation_deg, heading_by_wind, wind)
    if ktas is None and kias_from == LOGGED:
        ktas = true_airspeed_kt(kias, view.altitude_ft, isa_temperature_c(view.altitude_ft))
    return Air(
        kias=kias,
        kias_from=kias_from,
        kias_why=kias_why,
        ktas=ktas_by_wind if ktas is None else ktas,
        heading_true_deg=heading,
        heading_why=heading_why,
        heading_logged=heading_logged,
        drift_deg=drift_deg(view.ground_track_true_deg, heading),
        variation_deg=today.variation_deg,
        variation_why=today.reason,
        wind_uncertainty_kt=None if wind is None else wind.speed_uncertainty_kt,
        wind_altitude_ft=_reversal_altitude_ft(attempt, view),
        variation_uncertainty_deg=today.uncertainty_deg,
    )


def _reversal_altitude_ft(attempt: FoundAttempt, view: StationView) -> float:
    reversal = attempt.last(Phase.COURSE_REVERSAL)
    inside = np.isfinite(view.altitude_ft)
    if reversal is not None:
        inside &= (view.t_s >= reversal.start_s) & (view.t_s <= reversal.end_s)
    return float(view.altitude_ft[inside].mean()) if inside.any() else nan


def _heading(
    log: Conditioned, view: StationView, variation_deg: float, by_wind: Floats, wind: Wind | None
) -> tuple[Floats, str, bool]:
    """True heading, the reason where it is not known, and whether it is the log's."""
    heading = logged(log, "heading_true_deg", view.t_s, bearing=True)
    if heading is None and np.isfinite(variation_deg):
        magnetic = logged(log, "heading_mag_deg", view.t_s, bearing=True)
        heading = None if magnetic is None else wrap_360(magnetic + variation_deg)
    if heading is not None and np.isfinite(heading).any():
        off_deg = np.abs(difference_deg(heading, view.ground_track_true_deg))
        off_deg = off_deg[np.isfinite(off_deg)]
        if len(off_deg) == 0 or np.median(off_deg) <= _NO_HEADING_DEG:
            return heading, "", True
        if wind is None:
            return (
                np.full(len(view), np.nan),
                tr("the log's heading does not agree with its positions"),
                False,
            )
    return by_wind, "" if wind is not None else tr("the log has no heading, and the wind is not known"), False
