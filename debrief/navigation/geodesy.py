"""The Earth: distances and bearings on WGS84, and the plane centred on the station.

Owns      every distance and bearing between positions; the order of latitude and longitude.
Not here  radials and cross-track (``radials``: plane geometry), magnetic directions (``magnetism``).
Imports   pyproj, inside functions: importing it costs more than all of ours.
Source    C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013) 43-55, as in PROJ. Mark:
          memory; his GeodTest, which the tests hold it against: seen.

Latitude comes before longitude in every signature here; pyproj's own order (longitude first) is met in this
module only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from debrief.navigation.angles import wrap_360
from debrief.navigation.units import METRES_PER_NM, F, Floats, plain

if TYPE_CHECKING:
    from pyproj import Geod

_NORTH_POLE_DEG = 90.0
#: Distances on WGS84 and on a sphere differ by less than a hundredth: its radii of curvature are 6,336 to 6,400 km.
_ELLIPSOID_TO_SPHERE = 1.02


@cache
def _wgs84() -> Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")


def _together(*values: float | Floats) -> tuple[Floats, ...]:
    """Writable float arrays of one shape: what pyproj takes (it writes into them)."""
    return tuple(np.array(value, dtype=np.float64) for value in np.broadcast_arrays(*values))


def _on_earth(latitude_deg: Floats, longitude_deg: Floats) -> Floats:
    """``nan`` for a latitude that no place has, or a position that is not finite."""
    known = np.isfinite(longitude_deg) & (np.abs(latitude_deg) <= _NORTH_POLE_DEG)
    return np.where(known, latitude_deg, np.nan)


def _wrapped_longitude(longitude_deg: Floats) -> Floats:
    return np.asarray(wrap_360(longitude_deg + 180.0) - 180.0)


def inverse(
    latitude_1_deg: F, longitude_1_deg: F, latitude_2_deg: F | float, longitude_2_deg: F | float
) -> tuple[F, F]:
    """Distance, and bearing at the first point, of the geodesic from point 1 to point 2.

    Parameters
    ----------
    latitude_1_deg, longitude_1_deg, latitude_2_deg, longitude_2_deg : floats or arrays that broadcast. [deg]

    Returns
    -------
    distance_nm : on the ellipsoid, never negative. [NM]
    bearing_true_deg : at point 1, in [0, 360); between two equal points its value means nothing. [deg]

    Both are ``nan`` where a coordinate is not finite or a latitude lies beyond a pole.

    >>> distance_nm, bearing_true_deg = inverse(0.0, 0.0, 0.0, 1.0)
    >>> print(f"{distance_nm:.4f} {bearing_true_deg:.1f}")
    60.1077 90.0
    """
    lat_1, lon_1, lat_2, lon_2 = _together(latitude_1_deg, longitude_1_deg, latitude_2_deg, longitude_2_deg)
    lat_1, lat_2 = _on_earth(lat_1, lon_1), _on_earth(lat_2, lon_2)
    known = np.isfinite(lat_1) & np.isfinite(lat_2)
    bearing, _, distance_m = _wgs84().inv(
        np.where(known, lon_1, 0.0),
        np.where(known, lat_1, 0.0),
        np.where(known, lon_2, 0.0),
        np.where(known, lat_2, 0.0),
    )
    distance_nm: F = plain(np.where(known, np.asarray(distance_m) / METRES_PER_NM, np.nan))
    bearing_true_deg: F = plain(wrap_360(np.where(known, bearing, np.nan)))
    return distance_nm, bearing_true_deg


def direct(
    latitude_deg: F, longitude_deg: F, bearing_true_deg: F | float, distance_nm: F | float
) -> tuple[F, F]:
    """Point reached from another along a geodesic.

    Parameters
    ----------
    latitude_deg, longitude_deg, bearing_true_deg, distance_nm : floats or arrays that broadcast.
        The bearing is that at the start; a negative distance goes backwards. [deg, deg, deg, NM]

    Returns
    -------
    latitude_deg, longitude_deg : longitude in [-180, 180). [deg]

    Both are ``nan`` where an argument is not finite or the latitude lies beyond a pole.
    """
    lat, lon, bearing, distance = _together(latitude_deg, longitude_deg, bearing_true_deg, distance_nm)
    lat = _on_earth(lat, lon)
    known = np.isfinite(lat) & np.isfinite(bearing) & np.isfinite(distance)
    lon_2, lat_2, _ = _wgs84().fwd(
        np.where(known, lon, 0.0),
        np.where(known, lat, 0.0),
        np.where(known, bearing, 0.0),
        np.where(known, distance * METRES_PER_NM, 0.0),
    )
    end_latitude_deg: F = plain(np.where(known, lat_2, np.nan))
    end_longitude_deg: F = plain(np.where(known, _wrapped_longitude(np.asarray(lon_2)), np.nan))
    return end_latitude_deg, end_longitude_deg


@dataclass(frozen=True, slots=True, kw_only=True)
class StationPlane:
    """The azimuthal equidistant plane of WGS84 centred on a station: x east, y north [NM].

    A straight line through the centre is a geodesic and distances from the centre are exact, so radials,
    distances and cross-track are plane geometry. Between two points off the centre a distance is wrong by
    less than 0.1 m within 15 NM of the station and less than 1 m within 30 NM.
    """

    latitude_deg: float
    longitude_deg: float

    def to_plane(self, latitude_deg: F, longitude_deg: F) -> tuple[F, F]:
        """East and north of the station. [NM] ``nan`` where the position is not one on Earth.

        >>> east_nm, north_nm = StationPlane(latitude_deg=0.0, longitude_deg=179.5).to_plane(0.0, -179.5)
        >>> print(f"{east_nm:.4f} {abs(north_nm):.4f}")
        60.1077 0.0000
        """
        distance_nm, bearing_true_deg = inverse(
            plain(self.latitude_deg), plain(self.longitude_deg), latitude_deg, longitude_deg
        )
        bearing_rad = np.radians(bearing_true_deg)
        east_nm: F = plain(distance_nm * np.sin(bearing_rad))
        north_nm: F = plain(distance_nm * np.cos(bearing_rad))
        return east_nm, north_nm

    def to_geographic(self, east_nm: F, north_nm: F) -> tuple[F, F]:
        """Latitude and longitude of a point of the plane [deg], longitude in [-180, 180).

        ``nan`` where a coordinate is not finite.
        """
        distance_nm = np.hypot(east_nm, north_nm)
        bearing_true_deg = np.degrees(np.arctan2(east_nm, north_nm))
        latitude_deg: F
        longitude_deg: F
        latitude_deg, longitude_deg = direct(
            plain(self.latitude_deg), plain(self.longitude_deg), bearing_true_deg, distance_nm
        )
        return latitude_deg, longitude_deg

    def nearest_nm(self, latitude_deg: Floats, longitude_deg: Floats) -> float:
        """Least distance from the station of some positions, one at least [NM]; ``nan`` where one is not on Earth.

        As exact as ``to_plane`` but fast: asked on the ellipsoid are only those that may be nearest by a sphere.
        """
        angle = _great_circle_rad(self.latitude_deg, self.longitude_deg, latitude_deg, longitude_deg)
        may_be = ~(angle > _ELLIPSOID_TO_SPHERE * np.min(angle))
        return float(np.min(np.hypot(*self.to_plane(latitude_deg[may_be], longitude_deg[may_be]))))


def _great_circle_rad(
    latitude_1_deg: float, longitude_1_deg: float, latitude_2_deg: Floats, longitude_2_deg: Floats
) -> Floats:
    """Angle between a point and others on a sphere, by the haversine, which is exact for small angles too."""
    lat_1, lat_2 = np.radians(latitude_1_deg), np.radians(_on_earth(latitude_2_deg, longitude_2_deg))
    with np.errstate(invalid="ignore"):
        half_rad = np.radians(longitude_2_deg - longitude_1_deg) / 2
        across = np.cos(lat_1) * np.cos(lat_2) * np.sin(half_rad) ** 2
    return np.asarray(2 * np.arcsin(np.sqrt(np.clip(np.sin((lat_2 - lat_1) / 2) ** 2 + across, 0.0, 1.0))))
