"""Where stations see the Moon and the Sun: azimuth, elevation, range, separation, many stations and times at once.

From a Sky and WGS84 positions; east-north-up axes, azimuth from true north through east, elevation without refraction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky, turn, turn_about_pole, turn_back

FloatArray = npt.NDArray[np.float64]

# WGS84: NGA.STND.0036, defining parameters.
EARTH_RADIUS_KM = 6378.137
EARTH_FLATTENING = 1 / 298.257223563


@dataclass(frozen=True)
class Sites:
    """Stations as vectors in axes that spin with the Earth: place (n, 3) in km, east-north-up axes (n, 3, 3)."""

    place_km: FloatArray
    axes: FloatArray
    height_m: FloatArray

    def take(self, index: npt.ArrayLike) -> Sites:
        """The same stations by index of any shape, no unit."""
        chosen = np.asarray(index)
        return Sites(self.place_km[chosen], self.axes[chosen], self.height_m[chosen])

    def against_times(self) -> Sites:
        """Shaped to broadcast against a row of times: results come as (stations, times)."""
        return Sites(self.place_km[:, None, :], self.axes[:, None, :, :], self.height_m[:, None])


@dataclass(frozen=True)
class Bearing:
    """A direction seen from a station: degrees, and km to it."""

    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    range_km: FloatArray

    def take(self, rows: npt.NDArray[np.int64]) -> Bearing:
        """The same at some of its rows, by index (m,)."""
        return Bearing(self.azimuth_deg[rows], self.elevation_deg[rows], self.range_km[rows])


@dataclass(frozen=True)
class Bodies:
    """Moon and Sun at some times, asked of the sky once for all that look at them; vectors (..., 3) in km.

    From the Earth's centre: of date, and in axes that spin with the Earth. `equator` (..., 3, 3) turns GCRS to the true
    equator and equinox of date, `spin_rad` (...) is the sidereal angle of each time.
    """

    moon_of_date_km: FloatArray
    sun_of_date_km: FloatArray
    moon_km: FloatArray
    sun_km: FloatArray
    equator: FloatArray
    spin_rad: FloatArray
    obliquity_deg: float

    def to_inertial(self, vectors_of_earth: FloatArray) -> FloatArray:
        """Vectors (..., 3) in spinning axes turned back to GCRS; the unit stays."""
        return turn_back(self.equator, turn_about_pole(vectors_of_earth, self.spin_rad))


@dataclass(frozen=True)
class Geocentre:
    """What the Earth's centre sees: apparent declination on the true equator of date, distance, light, phase.

    `elongation_deg` is the Moon's ecliptic longitude minus the Sun's, 0 to 360: 0 new, 90 first quarter, 180 full.
    """

    declination_deg: FloatArray
    distance_km: FloatArray
    lit_fraction: FloatArray
    elongation_deg: FloatArray

    def take(self, rows: npt.NDArray[np.int64]) -> Geocentre:
        """The same at some of its rows, by index (m,)."""
        return Geocentre(
            self.declination_deg[rows],
            self.distance_km[rows],
            self.lit_fraction[rows],
            self.elongation_deg[rows],
        )


def make_sites(sky: Sky, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike, height_m: npt.ArrayLike) -> Sites:
    """WGS84 geodetic coordinates (n,) as vectors, polar motion of the sky's period included."""
    latitude, longitude = np.radians(np.atleast_1d(latitude_deg)), np.radians(np.atleast_1d(longitude_deg))
    height = np.atleast_1d(np.asarray(height_m, dtype=float))
    sin_lat, cos_lat, sin_lon, cos_lon = np.sin(latitude), np.cos(latitude), np.sin(longitude), np.cos(longitude)
    eccentricity_squared = EARTH_FLATTENING * (2 - EARTH_FLATTENING)
    normal = EARTH_RADIUS_KM / np.sqrt(1 - eccentricity_squared * sin_lat**2)
    height_km = height / 1000.0
    place = np.stack(
        [
            (normal + height_km) * cos_lat * cos_lon,
            (normal + height_km) * cos_lat * sin_lon,
            (normal * (1 - eccentricity_squared) + height_km) * sin_lat,
        ],
        axis=-1,
    )
    zero = np.zeros_like(latitude)
    east = np.stack([-sin_lon, cos_lon, zero], axis=-1)
    north = np.stack([-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat], axis=-1)
    up = np.stack([cos_lat * cos_lon, cos_lat * sin_lon, sin_lat], axis=-1)
    # The crust is turned against the spin axis by the pole's few metres; v @ pole applies the inverse rotation.
    return Sites(place @ sky.pole, np.stack([east, north, up], axis=-2) @ sky.pole, height)


def _bearing(vector_km: FloatArray, sites: Sites) -> Bearing:
    local = np.einsum("...ij,...j->...i", sites.axes, vector_km - sites.place_km)
    distance = np.linalg.norm(local, axis=-1)
    return Bearing(
        azimuth_deg=np.degrees(np.arctan2(local[..., 0], local[..., 1])) % 360.0,
        elevation_deg=np.degrees(np.arcsin(local[..., 2] / distance)),
        range_km=distance,
    )


def moon_over_ground(sky: Sky, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The Moon as the Earth's centre sees it in axes that spin with the Earth: km, and km/s over the ground, (n, 3).

    The rate leaves out the light time's own change and the slow turn of the equator: 5 mm/s of 28 km/s.
    """
    place, rate = sky.moon_seen_with_rate_km(time_s)
    equator, spin = sky.equator_at(time_s), sky.spin(time_s)
    fixed, moving = (turn_about_pole(turn(equator, vector), -spin) for vector in (place, rate))
    moving[:, 0] += sky.spin_rad_per_s * fixed[:, 1]
    moving[:, 1] -= sky.spin_rad_per_s * fixed[:, 0]
    return fixed, moving


def moon_from_centre_km(sky: Sky, time_s: npt.ArrayLike) -> FloatArray:
    """The Moon as the Earth's centre sees it in axes that spin with the Earth, km, shape (..., 3)."""
    return sky.to_earth(sky.to_date(sky.moon_seen_km(time_s), time_s), time_s)


def see_moon(sky: Sky, sites: Sites, time_s: npt.ArrayLike) -> Bearing:
    """The Moon's centre from each station; sites and times broadcast. Range: station to Moon, one light time ago."""
    return _bearing(moon_from_centre_km(sky, time_s), sites)


def see_sun(sky: Sky, sites: Sites, time_s: npt.ArrayLike) -> Bearing:
    """The Sun's centre from each station; sites and times broadcast."""
    return _bearing(sky.to_earth(sky.to_date(sky.sun_seen_km(time_s), time_s), time_s), sites)


def bodies_at(sky: Sky, time_s: npt.ArrayLike) -> Bodies:
    """Moon and Sun at times of any shape, s of the sky."""
    equator, spin = sky.equator_at(time_s), sky.spin(time_s)
    moon, sun = (turn(equator, seen) for seen in (sky.moon_seen_km(time_s), sky.sun_seen_km(time_s)))
    return Bodies(
        moon_of_date_km=moon,
        sun_of_date_km=sun,
        moon_km=turn_about_pole(moon, -spin),
        sun_km=turn_about_pole(sun, -spin),
        equator=equator,
        spin_rad=spin,
        obliquity_deg=sky.obliquity_deg,
    )


def bearings(bodies: Bodies, sites: Sites) -> tuple[Bearing, Bearing]:
    """Moon and Sun from each station, degrees and km; sites and times broadcast, as `see_moon` and `see_sun`."""
    return _bearing(bodies.moon_km, sites), _bearing(bodies.sun_km, sites)


def separation_deg(first: Bearing, second: Bearing) -> FloatArray:
    """Angle between two directions from one station, degrees; exact for small angles too (haversine form).

    Shapes broadcast.
    """
    elevation_1, elevation_2 = np.radians(first.elevation_deg), np.radians(second.elevation_deg)
    half_azimuth = np.radians(first.azimuth_deg - second.azimuth_deg) / 2
    square = (
        np.sin((elevation_1 - elevation_2) / 2) ** 2
        + np.cos(elevation_1) * np.cos(elevation_2) * np.sin(half_azimuth) ** 2
    )
    return np.degrees(2 * np.arcsin(np.sqrt(np.clip(square, 0.0, 1.0))))


def see_from_centre(bodies: Bodies) -> Geocentre:
    """Declination, distance and light of the Moon for the Earth's centre, at each time; shape of the times."""
    moon, sun = bodies.moon_of_date_km, bodies.sun_of_date_km
    distance = np.linalg.norm(moon, axis=-1)
    to_sun = sun - moon
    # Phase angle at the Moon, between the Sun and the Earth: lit share of the disc = (1 + cos) / 2 (Meeus, chapter 48).
    cosine = -np.sum(moon * to_sun, axis=-1) / (distance * np.linalg.norm(to_sun, axis=-1))
    return Geocentre(
        declination_deg=np.degrees(np.arcsin(moon[..., 2] / distance)),
        distance_km=distance,
        lit_fraction=(1 + cosine) / 2,
        elongation_deg=(
            _ecliptic_longitude_deg(moon, bodies.obliquity_deg) - _ecliptic_longitude_deg(sun, bodies.obliquity_deg)
        )
        % 360.0,
    )


def _ecliptic_longitude_deg(vector: FloatArray, obliquity_deg: float) -> FloatArray:
    tilt = np.radians(obliquity_deg)
    y = np.cos(tilt) * vector[..., 1] + np.sin(tilt) * vector[..., 2]
    return np.degrees(np.arctan2(y, vector[..., 0]))


def moon_direction_icrs(bodies: Bodies, sites: Sites) -> tuple[FloatArray, FloatArray]:
    """Right ascension and declination of the topocentric Moon, degrees, in axes of J2000 (for maps of the sky).

    Sites and times broadcast.
    """
    inertial = bodies.to_inertial(bodies.moon_km - sites.place_km)
    distance = np.linalg.norm(inertial, axis=-1)
    return (
        np.degrees(np.arctan2(inertial[..., 1], inertial[..., 0])) % 360.0,
        np.degrees(np.arcsin(inertial[..., 2] / distance)),
    )
