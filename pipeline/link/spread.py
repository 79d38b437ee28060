"""How wide the Moon's turning smears an echo: Doppler spread from limb to limb, and its half-power width.

From the lines of sight of both ends in Moon-fixed axes (Evans and Hagfors, Radar Astronomy, 1968); the Moon's
orientation by the IAU rotation elements (Archinal and others 2011, 2018; figures from memory, checked in the tests).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky, turn_about_pole, turn_back
from pipeline.ephemeris.tracks import EARTH_RADIUS_KM, Sites
from pipeline.link.constants import MOON_MEAN_DISTANCE_KM, MOON_RADIUS_KM, SPEED_OF_LIGHT_M_S
from pipeline.link.doppler import EARTH_SPIN_RAD_PER_S

FloatArray = npt.NDArray[np.float64]

# Long enough that rounding is nothing, short enough that the lines of sight turn evenly.
DIFFERENCE_S = 60.0

# The Moon as it is on the average of its course of 18.6 years: declination swings by the ecliptic's tilt; it rocks by
# so many degrees in longitude and in latitude, in so many days (Meeus, chapters 50 to 53, from memory).
MEAN_SWING_DEG = 23.44
ROCKING_DEG, ROCKING_DAYS = np.array([6.29, 6.68]), np.array([27.5546, 27.2122])
ORBIT_RAD_PER_S = 2 * np.pi / (27.321661 * 86400)

# E1 to E13: degrees at J2000, degrees a day.
_ARGUMENTS = np.array(
    [
        (125.045, -0.0529921), (250.089, -0.1059842), (260.008, 13.0120009), (176.625, 13.3407154),
        (357.529, 0.9856003), (311.589, 26.4057084), (134.963, 13.0649930), (276.617, 0.3287146),
        (34.226, 1.7484877), (15.134, -0.1589763), (119.743, 0.0036096), (239.961, 0.1643573), (25.053, 12.9590088),
    ]
)  # fmt: skip
# Amplitudes in degrees for E1 to E13.
_POLE_RIGHT_ASCENSION = np.array([-3.8787, -0.1204, 0.0700, -0.0172, 0, 0.0072, 0, 0, 0, -0.0052, 0, 0, 0.0043])
_POLE_DECLINATION = np.array([1.5419, 0.0239, -0.0278, 0.0068, 0, -0.0029, 0.0009, 0, 0, 0.0008, 0, 0, -0.0009])
_MERIDIAN = np.array(
    [3.5610, 0.1208, -0.0642, 0.0158, 0.0252, -0.0066, -0.0047, -0.0046, 0.0028, 0.0052, 0.0040, 0.0019, -0.0044]
)


def moon_axes(day: npt.ArrayLike) -> FloatArray:
    """Matrices (..., 3, 3) from ICRS to Moon-fixed axes; `day` is TDB days since J2000."""
    days = np.asarray(day, dtype=float)
    century = days / 36525.0
    angle = np.radians(_ARGUMENTS[:, 0] + _ARGUMENTS[:, 1] * days[..., None])
    sine, cosine = np.sin(angle), np.cos(angle)
    ascension = np.radians(269.9949 + 0.0031 * century + sine @ _POLE_RIGHT_ASCENSION)
    declination = np.radians(66.5392 + 0.0130 * century + cosine @ _POLE_DECLINATION)
    meridian = np.radians(38.3213 + 13.17635815 * days - 1.4e-12 * days**2 + sine @ _MERIDIAN)
    return _turn_z(meridian) @ _turn_x(np.pi / 2 - declination) @ _turn_z(np.pi / 2 + ascension)


def turning_rates(sky: Sky, stations: Sequence[Sites], time_s: npt.ArrayLike) -> list[tuple[FloatArray, FloatArray]]:
    """Line of sight from each station to the Moon in Moon-fixed axes and its rate, rad/s, both (..., 3).

    Sites and times broadcast; of one site alone, without an axis, each instant is worked out once.
    """
    # Samples of pairs share many instants; the three of the difference stand in a first axis.
    once, place = np.unique(np.asarray(time_s, dtype=float), return_inverse=True)
    place = place.reshape(np.shape(time_s))
    time = np.stack([once + step for step in (-DIFFERENCE_S, 0.0, DIFFERENCE_S)])
    moon, axes, equator, spin = sky.moon_seen_km(time), moon_axes(sky.day(time)), sky.equator_at(time), sky.spin(time)
    rates = []
    for sites in stations:
        rows = (slice(None), place) if sites.height_m.ndim else (slice(None), slice(None))
        sight = moon[rows] - turn_back(equator[rows], turn_about_pole(sites.place_km, spin[rows]))
        sight /= np.linalg.norm(sight, axis=-1, keepdims=True)
        before, now, after = np.einsum("...ij,...j->...i", axes[rows], sight)
        rate = (after - before) / (2 * DIFFERENCE_S)
        rates.append((now, rate) if sites.height_m.ndim else (now[place], rate[place]))
    return rates


def limb_to_limb_hz(
    sky: Sky, sender: Sites, receiver: Sites, time_s: npt.ArrayLike, frequency_mhz: npt.ArrayLike
) -> FloatArray:
    """Spread between echoes from opposite limbs, Hz: 2 R (f/c) |g1 + g2| across the mean line of sight.

    For an own echo sender and receiver are the same; sites and times broadcast.
    """
    rates = turning_rates(sky, [sender] if receiver is sender else [sender, receiver], time_s)
    (sight_1, rate_1), (sight_2, rate_2) = rates[0], rates[-1]
    mean = sight_1 + sight_2
    mean /= np.linalg.norm(mean, axis=-1, keepdims=True)
    rate = rate_1 + rate_2
    across = rate - np.sum(rate * mean, axis=-1, keepdims=True) * mean
    scale = 2 * MOON_RADIUS_KM * 1e3 * np.asarray(frequency_mhz, dtype=float) * 1e6 / SPEED_OF_LIGHT_M_S
    return np.asarray(scale * np.linalg.norm(across, axis=-1))


def usual_limb_to_limb_hz(latitudes_deg: FloatArray, longitudes_deg: FloatArray, frequency_mhz: float) -> float:
    """The spread that two stations, (2,), meet on the average: a figure of their places, whatever the date.

    The mean over hour angles and declinations at which a Moon of mean distance stands above both level horizons (all of
    them where it never does), of the turn by the Earth's spin and, at right angles on the average, by the rocking of
    the Moon. Within a fifth of the mean of a month's windows.
    """
    latitude, longitude = np.radians(latitudes_deg), np.radians(longitudes_deg)
    zenith = _direction(longitude, latitude)
    swing, hour = np.radians(np.arange(15.0, 360.0, 30.0)), np.radians(np.arange(2.5, 360.0, 5.0))
    moon = _direction(hour[:, None], np.radians(MEAN_SWING_DEG) * np.sin(swing))
    both = zenith.sum(axis=0) * (EARTH_SPIN_RAD_PER_S - ORBIT_RAD_PER_S) * EARTH_RADIUS_KM / MOON_MEAN_DISTANCE_KM
    rate = np.array([-both[1], both[0], 0.0])
    along = moon @ rate
    rocking = 2 * np.radians(ROCKING_DEG) * 2 * np.pi / (ROCKING_DAYS * 86400)
    turn = np.sqrt(rate @ rate - along**2 + np.mean(rocking**2))
    risen = np.all(moon @ zenith.T > 0.0, axis=-1)
    usual = float(turn[risen].mean() if risen.any() else turn.mean())
    return 2 * MOON_RADIUS_KM * 1e3 * frequency_mhz * 1e6 / SPEED_OF_LIGHT_M_S * usual


def half_power_share(frequency_mhz: npt.ArrayLike) -> FloatArray:
    """Half-power width of the echo's spectrum (and of the lit part of the disc) as a share of limb to limb.

    0.2 at 432 MHz and below, 0.3 at 1.3 GHz, 0.5 at 10 GHz and above, linear in the logarithm between. From memory of
    published echo spectra (Evans 1962 and Pettengill 1965 give about half the disc at 3.6 cm); rough. Of any shape.
    """
    return np.asarray(np.interp(np.log(frequency_mhz), np.log([432.0, 1300.0, 10_000.0]), [0.2, 0.3, 0.5]))


def _direction(longitude_rad: FloatArray, latitude_rad: FloatArray) -> FloatArray:
    """Unit vectors (..., 3); shapes broadcast."""
    longitude, latitude = np.broadcast_arrays(longitude_rad, latitude_rad)
    cosine = np.cos(latitude)
    return np.stack([cosine * np.cos(longitude), cosine * np.sin(longitude), np.sin(latitude)], axis=-1)


def _turn_z(angle: FloatArray) -> FloatArray:
    c, s, o, i = np.cos(angle), np.sin(angle), np.zeros_like(angle), np.ones_like(angle)
    return np.stack([np.stack([c, s, o], -1), np.stack([-s, c, o], -1), np.stack([o, o, i], -1)], axis=-2)


def _turn_x(angle: FloatArray) -> FloatArray:
    c, s, o, i = np.cos(angle), np.sin(angle), np.zeros_like(angle), np.ones_like(angle)
    return np.stack([np.stack([i, o, o], -1), np.stack([o, c, s], -1), np.stack([o, -s, c], -1)], axis=-2)
