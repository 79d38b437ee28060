"""Which place lies at an azimuth and a distance of a station, and the other way about, on WGS84.

A station's azimuth is that of the vertical plane through it, as a dish is turned: points are laid out in that plane and
brought back to latitude and longitude (Bowring 1976, one step).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

EARTH_RADIUS_M = 6_371_000.0
SEMI_MAJOR_M, FLATTENING = 6_378_137.0, 1.0 / 298.257223563
ECCENTRICITY_2 = FLATTENING * (2.0 - FLATTENING)


@dataclass(frozen=True)
class Frame:
    """A station's place and its east, north and up, (3,) each, in Earth-fixed metres."""

    origin: Array
    axes: Array
    latitude_deg: float

    @classmethod
    def at(cls, latitude_deg: float, longitude_deg: float) -> Frame:
        """The frame of a place, degrees, at sea level."""
        axes = _axes(latitude_deg, longitude_deg)
        return cls(_earth_fixed(np.array(latitude_deg), np.array(longitude_deg)), axes, latitude_deg)

    def places(self, azimuth_deg: Array, distance_m: Array) -> tuple[Array, Array]:
        """Latitude and longitude, degrees, of places so far along the ground; shapes broadcast."""
        azimuth = np.radians(azimuth_deg)
        radius = self._radius_m(azimuth)
        turn = distance_m / radius
        along, fallen = radius * np.sin(turn), 2.0 * radius * np.sin(turn / 2.0) ** 2
        east, north, up = self.axes
        point = [
            self.origin[axis]
            + along * (np.sin(azimuth) * east[axis] + np.cos(azimuth) * north[axis])
            - fallen * up[axis]
            for axis in range(3)
        ]
        return _geodetic(*point)

    def azimuths(self, latitude_deg: Array, longitude_deg: Array) -> Array:
        """Azimuths of places of one shape, degrees from true north."""
        away = np.moveaxis(_earth_fixed(latitude_deg, longitude_deg), 0, -1) - self.origin
        east, north, _ = self.axes
        return np.asarray(np.degrees(np.arctan2(away @ east, away @ north)) % 360.0)

    def _radius_m(self, azimuth: Array) -> Array:
        """Radius of the Earth's curvature along azimuths, radians (Euler)."""
        shape = 1.0 - ECCENTRICITY_2 * np.sin(np.radians(self.latitude_deg)) ** 2
        across = SEMI_MAJOR_M / np.sqrt(shape)
        along = across * (1.0 - ECCENTRICITY_2) / shape
        return np.asarray(1.0 / (np.cos(azimuth) ** 2 / along + np.sin(azimuth) ** 2 / across))


def great_circle_m(latitude_deg: Array, longitude_deg: Array, other_lat_deg: Array, other_lon_deg: Array) -> Array:
    """Distance on the sphere, m; shapes broadcast, degrees. Good to half a percent."""
    one, other = np.radians(latitude_deg), np.radians(other_lat_deg)
    half = np.radians(other_lon_deg - longitude_deg) / 2.0
    chord = np.sin((other - one) / 2.0) ** 2 + np.cos(one) * np.cos(other) * np.sin(half) ** 2
    return np.asarray(2.0 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.minimum(chord, 1.0))))


def _axes(latitude_deg: float, longitude_deg: float) -> Array:
    lat, lon = np.radians(latitude_deg), np.radians(longitude_deg)
    east = [-np.sin(lon), np.cos(lon), 0.0]
    north = [-np.sin(lat) * np.cos(lon), -np.sin(lat) * np.sin(lon), np.cos(lat)]
    up = [np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)]
    return np.array([east, north, up])


def _earth_fixed(latitude_deg: Array, longitude_deg: Array) -> Array:
    """Places at sea level, (3, ...), m."""
    lat, lon = np.radians(latitude_deg), np.radians(longitude_deg)
    across = SEMI_MAJOR_M / np.sqrt(1.0 - ECCENTRICITY_2 * np.sin(lat) ** 2)
    flat = across * np.cos(lat)
    return np.stack([flat * np.cos(lon), flat * np.sin(lon), across * (1.0 - ECCENTRICITY_2) * np.sin(lat)])


def _geodetic(x: Array, y: Array, z: Array) -> tuple[Array, Array]:
    semi_minor = SEMI_MAJOR_M * (1.0 - FLATTENING)
    flat = np.hypot(x, y)
    reduced = np.arctan2(z * SEMI_MAJOR_M, flat * semi_minor)
    second = ECCENTRICITY_2 / (1.0 - ECCENTRICITY_2)
    lat = np.arctan2(
        z + second * semi_minor * np.sin(reduced) ** 3, flat - ECCENTRICITY_2 * SEMI_MAJOR_M * np.cos(reduced) ** 3
    )
    return np.degrees(lat), np.degrees(np.arctan2(y, x))
