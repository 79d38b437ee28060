"""Where a landmark stands as seen from the dish: true bearing, distance, elevation, and how sure each of them is.

Geodesic on WGS84 (Karney 2013, `geographiclib`); the line of sight over an Earth of 7/6 radius, which stands for its
curvature and the usual bending of light together. A place is as good as its digits say, and no better than a receiver.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import atan, atan2, cos, degrees, hypot, radians, sin

from geographiclib.geodesic import Geodesic

# Mean radius of the Earth (IUGG), and the factor of sight over land by day (geodetic refraction coefficient 1/7).
EARTH_RADIUS_M = 6_371_008.8
SIGHT_FACTOR = 7.0 / 6.0
METRES_PER_DEGREE = 111_195.0
# A hand-held receiver's or a map's place and height, however many digits are written (common practice, no source).
LEAST_PLACE_M = 5.0
LEAST_HEIGHT_M = 5.0


@dataclass(frozen=True)
class Place:
    """A place on WGS84, degrees and metres, known to within `north_m` and `east_m` of what is written."""

    latitude_deg: float
    longitude_deg: float
    height_m: float | None
    north_m: float
    east_m: float


@dataclass(frozen=True)
class Sight:
    """A landmark from the dish; uncertainties are the most by which it may be off. Elevation None without a height."""

    bearing_deg: float
    distance_m: float
    bearing_uncertainty_deg: float
    elevation_deg: float | None
    elevation_uncertainty_deg: float | None


def decimals(value: float) -> int:
    """Digits after the point as they were written; trailing zeros are lost on the way in."""
    exponent = Decimal(repr(value)).normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def place_by_digits(latitude_deg: float, longitude_deg: float, height_m: float | None = None) -> Place:
    """A place known to half a unit of its last digit; both figures are taken to be written alike."""
    half_unit_deg = 0.5 * 10.0 ** -max(decimals(latitude_deg), decimals(longitude_deg))
    north = half_unit_deg * METRES_PER_DEGREE
    return Place(
        latitude_deg,
        longitude_deg,
        height_m,
        max(north, LEAST_PLACE_M),
        max(north * cos(radians(latitude_deg)), LEAST_PLACE_M),
    )


def sight(station: Place, landmark: Place) -> Sight:
    """The landmark from the station. At no distance the bearing is unknown: its uncertainty is 180 degrees."""
    line = Geodesic.WGS84.Inverse(
        station.latitude_deg, station.longitude_deg, landmark.latitude_deg, landmark.longitude_deg
    )
    distance, bearing = float(line["s12"]), float(line["azi1"]) % 360.0
    along, across = _offsets_m(station, landmark, bearing)
    elevation = _elevation(station, landmark, distance, along)
    return Sight(
        bearing_deg=bearing,
        distance_m=distance,
        bearing_uncertainty_deg=180.0 if distance <= along else degrees(atan2(across, distance)),
        elevation_deg=None if elevation is None else elevation[0],
        elevation_uncertainty_deg=None if elevation is None else elevation[1],
    )


def sight_elevation_deg(rise_m: float, distance_m: float) -> float:
    """Elevation of a point `rise_m` higher at a distance: the Earth of 7/6 radius falls away by d^2 / (2 k R)."""
    drop_m = distance_m**2 / (2.0 * SIGHT_FACTOR * EARTH_RADIUS_M)
    return degrees(atan2(rise_m - drop_m, distance_m))


def _offsets_m(station: Place, landmark: Place, bearing_deg: float) -> tuple[float, float]:
    """How far both ends together may be off, along the line and across it, metres."""
    north, east = station.north_m + landmark.north_m, station.east_m + landmark.east_m
    sine, cosine = abs(sin(radians(bearing_deg))), abs(cos(radians(bearing_deg)))
    return north * cosine + east * sine, north * sine + east * cosine


def _elevation(station: Place, landmark: Place, distance_m: float, along_m: float) -> tuple[float, float] | None:
    if station.height_m is None or landmark.height_m is None or distance_m <= along_m:
        return None
    rise = landmark.height_m - station.height_m
    angle = sight_elevation_deg(rise, distance_m)
    # Heights of both ends, and the slope times what the distance may be off.
    off_m = hypot(LEAST_HEIGHT_M * 2.0**0.5, rise / distance_m * along_m)
    return angle, degrees(atan(off_m / distance_m))
