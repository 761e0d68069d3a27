"""Today's magnetic variation, by the World Magnetic Model, with its uncertainty.

Owns      variation at a place, a height and a date; saying where the model does not reach.
Not here  a station's declination: that is its alignment, part of the procedure, and can be degrees away.
Imports   pygeomag, inside functions.
Source    World Magnetic Model 2010 to 2025, NOAA NCEI and British Geological Survey, as in pygeomag.
          Mark: seen (the test values of 2025).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from debrief.navigation.units import METRES_PER_FT

if TYPE_CHECKING:
    from pygeomag import GeoMag

#: The models at hand begin and end with these years; each holds for five.
FIRST_YEAR = 2010
LAST_YEAR = 2030
_MODEL_YEARS = 5
_ERROR_MODEL_SINCE = 2015  # the uncertainty of the older model is not published in this form

_NORTH_POLE_DEG = 90.0
_LOWEST_KM, _HIGHEST_KM = -1.0, 850.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """Magnetic variation, east positive, or the reason why there is none [deg]."""

    variation_deg: float  # nan where unknown
    uncertainty_deg: float  # half-width at 95 %; nan where the model publishes none
    reason: str  # "" where the variation is known, else why it is not, in plain words


def decimal_year(when: datetime) -> float:
    """Year with its fraction, in UTC.

    >>> decimal_year(datetime(2025, 7, 2, 12, tzinfo=UTC))
    2025.5
    """
    if when.tzinfo is None:
        raise ValueError("a date for the magnetic model needs a time zone (UTC)")
    when = when.astimezone(UTC)
    start, end = datetime(when.year, 1, 1, tzinfo=UTC), datetime(when.year + 1, 1, 1, tzinfo=UTC)
    return when.year + (when - start) / (end - start)


@cache
def _model(first_year: int) -> GeoMag:
    from pygeomag import GeoMag

    return GeoMag(base_year=first_year)


def _unknown(reason: str) -> Variation:
    return Variation(variation_deg=float("nan"), uncertainty_deg=float("nan"), reason=reason)


@lru_cache(maxsize=64)
def variation(latitude_deg: float, longitude_deg: float, altitude_ft: float, when: datetime) -> Variation:
    """Variation at a place and date, with its uncertainty, or the reason why it is not known.

    Parameters
    ----------
    latitude_deg, longitude_deg : WGS84. [deg]
    altitude_ft : above the sea; it hardly matters (less than 0.03 deg in the first 10,000 ft). [ft]
    when : with its time zone.

    Notes
    -----
    Unknown before 2010, from 2030 on, and where the horizontal field is too weak for a compass (2,000 nT).
    The model's published uncertainty is one standard deviation (mark: memory); it is doubled here.
    """
    position = (latitude_deg, longitude_deg, altitude_ft)
    altitude_km = altitude_ft * METRES_PER_FT / 1000.0
    if not all(np.isfinite(position)) or abs(latitude_deg) > _NORTH_POLE_DEG:
        return _unknown("the position is not known")
    if not _LOWEST_KM <= altitude_km <= _HIGHEST_KM:
        return _unknown("the magnetic model holds from 1 km below the sea to 850 km above it")
    year = decimal_year(when)
    if not FIRST_YEAR <= year < LAST_YEAR:
        return _unknown(
            f"the magnetic models at hand hold from {FIRST_YEAR} to {LAST_YEAR - 1}; the log is of {int(year)}"
        )
    first_year = int(year) - int(year) % _MODEL_YEARS
    field = _model(first_year).calculate(glat=latitude_deg, glon=longitude_deg, alt=altitude_km, time=year)
    if field.in_blackout_zone:
        return _unknown("this near a magnetic pole a compass is of no use")
    one_sigma = field.calculate_uncertainty().d if first_year >= _ERROR_MODEL_SINCE else float("nan")
    return Variation(variation_deg=float(field.d), uncertainty_deg=2.0 * float(one_sigma), reason="")


def variation_deg(latitude_deg: float, longitude_deg: float, altitude_ft: float, when: datetime) -> float:
    """Variation at a place and date, east positive. [deg] ``nan`` where unknown; ``variation`` says why.

    >>> print(f"{variation_deg(47.6205, -122.3493, 0.0, datetime(2025, 4, 2, tzinfo=UTC)):.1f}")
    15.1
    """
    return variation(latitude_deg, longitude_deg, altitude_ft, when).variation_deg
