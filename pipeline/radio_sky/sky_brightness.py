"""Brightness of the sky over an antenna's beam: the 408 MHz survey, averaged on the sphere and scaled to the band.

From the table `radio_sky_408.npz` (Haslam and others 1982, precessed from B1950) and the spectral index of the Galaxy's
synchrotron light above the cosmic background: 2.55 up to 1 GHz (Guzman 2011), 2.70 above (Platania 2003).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SURVEY_MHZ = 408.0  # Haslam and others 1982
COSMIC_BACKGROUND_K = 2.725  # Fixsen 2009, COBE/FIRAS
SURVEY_BEAMWIDTH_DEG = 0.85  # half-power width, header of the survey file
CELL_DEG = 2.0
OBLIQUITY_DEG = 23.4392911  # of J2000, IAU 1976
# The Moon's orbit leans 5.3 degrees against the ecliptic at most.
MOON_LATITUDE_DEG = 5.3
# A kernel is cut where the Gaussian has fallen to 2e-5 of its peak.
KERNEL_REACH_SIGMAS = 4.65


@dataclass(frozen=True)
class BeamSky:
    """The whole sky at 408 MHz as one beam sees it: (90, 180) in K, rows from the south pole, columns from 0 h."""

    beamwidth_deg: float
    temperature_408_k: Array

    def at(self, right_ascension_deg: npt.ArrayLike, declination_deg: npt.ArrayLike) -> Array:
        """Beam-averaged T408, K, around directions of ICRS (J2000); bilinear between cells; shapes broadcast."""
        column = (np.asarray(right_ascension_deg, dtype=float) % 360.0) / CELL_DEG - 0.5
        rows, columns = self.temperature_408_k.shape
        row = np.clip((np.asarray(declination_deg, dtype=float) + 90.0) / CELL_DEG - 0.5, 0.0, rows - 1.0)
        west = np.floor(column).astype(int)
        south = np.minimum(np.floor(row).astype(int), rows - 2)
        east_part, north_part = column - west, row - south
        west, east = west % columns, (west + 1) % columns
        grid = self.temperature_408_k
        lower = grid[south, west] * (1.0 - east_part) + grid[south, east] * east_part
        upper = grid[south + 1, west] * (1.0 - east_part) + grid[south + 1, east] * east_part
        return np.asarray(lower * (1.0 - north_part) + upper * north_part)


@lru_cache(maxsize=1)
def survey_408_k() -> Array:
    """The table as it is: mean brightness temperature at 408 MHz of each cell, K, shape (90, 180)."""
    with (files("pipeline.data") / "radio_sky_408.npz").open("rb") as file, np.load(file, allow_pickle=False) as table:
        cells = np.asarray(table["temperature_408_tenths_k"], dtype=float) / 10.0
    cells.flags.writeable = False
    return cells


@lru_cache(maxsize=64)
def beam_sky(beamwidth_deg: float) -> BeamSky:
    """The sky averaged over a Gaussian beam of that half-power width, on the sphere.

    The survey's own beam and the table's cells have smoothed it already, so only the rest of the variance is added; a
    beam narrower than both sees the table as it is. A few milliseconds, then kept.
    """
    in_sigmas = 8.0 * np.log(2.0)
    variance_deg2 = (beamwidth_deg**2 - SURVEY_BEAMWIDTH_DEG**2) / in_sigmas - CELL_DEG**2 / 12.0
    cells = survey_408_k() if variance_deg2 <= 0.0 else _smooth(survey_408_k(), float(np.sqrt(variance_deg2)))
    return BeamSky(beamwidth_deg, cells)


def _smooth(cells: Array, sigma_deg: float) -> Array:
    """Gaussian average on the sphere: exact in declination, by Fourier transform around each circle.

    The kernel of two rows is even in hour angle and the same both ways, so a quarter of it is enough.
    """
    rows, columns = cells.shape
    declination = np.radians(-90.0 + (np.arange(rows) + 0.5) * CELL_DEG)
    area = np.cos(declination)[:, None]
    half_turn = np.arange(columns // 2 + 1)
    half_sine_squared = np.sin(np.pi * half_turn / columns) ** 2
    waves = np.cos(2.0 * np.pi * np.outer(half_turn, half_turn) / columns)
    # All but the first and the last column of the half circle stand for two.
    waves[1:-1] *= 2.0

    spectrum = np.fft.rfft(cells, axis=1) * area
    total = np.zeros_like(spectrum)
    weight = np.zeros((rows, 1))
    reach = min(rows - 1, int(np.ceil(KERNEL_REACH_SIGMAS * sigma_deg / CELL_DEG)))
    for apart in range(reach + 1):
        south, north = slice(0, rows - apart), slice(apart, rows)
        # Haversine: right for small angles where the arc cosine is not.
        haversine = np.sin(np.radians(apart * CELL_DEG) / 2.0) ** 2 + area[south] * area[north] * half_sine_squared
        angle_deg = np.degrees(2.0 * np.arcsin(np.sqrt(np.minimum(haversine, 1.0))))
        kernel = np.exp(-0.5 * (angle_deg / sigma_deg) ** 2) @ waves
        total[south] += kernel * spectrum[north]
        weight[south] += kernel[:, :1] * area[north]
        if apart:
            total[north] += kernel * spectrum[south]
            weight[north] += kernel[:, :1] * area[south]
    return np.asarray(np.fft.irfft(total, n=columns, axis=1) / weight)


def scale_to_band_k(temperature_408_k: npt.ArrayLike, frequency_mhz: float) -> Array:
    """Sky temperature at the band from that at 408 MHz, K: (T408 - 2.725)(f / 408)^-beta + 2.725. Shapes broadcast."""
    beta = 2.55 if frequency_mhz <= 1000.0 else 2.70
    galaxy_k = np.asarray(temperature_408_k, dtype=float) - COSMIC_BACKGROUND_K
    return np.asarray(galaxy_k * (frequency_mhz / SURVEY_MHZ) ** -beta + COSMIC_BACKGROUND_K)


def sky_temperature_k(
    right_ascension_deg: npt.ArrayLike, declination_deg: npt.ArrayLike, beamwidth_deg: float, frequency_mhz: float
) -> Array:
    """Beam-averaged sky temperature at the band, K, around directions of ICRS (J2000); shapes broadcast."""
    return scale_to_band_k(beam_sky(beamwidth_deg).at(right_ascension_deg, declination_deg), frequency_mhz)


def mean_sky_k(frequency_mhz: float) -> float:
    """The whole sky's mean at the band, K: what side lobes see where they see everything."""
    return float(scale_to_band_k(mean_408_k(), frequency_mhz))


@lru_cache(maxsize=1)
def mean_408_k() -> float:
    """The whole sky's mean at 408 MHz, K: cells weighted by their area."""
    cells = survey_408_k()
    declination = np.radians(-90.0 + (np.arange(cells.shape[0]) + 0.5) * CELL_DEG)
    return float(np.average(cells.mean(axis=1), weights=np.cos(declination)))


def offset_icrs_deg(
    right_ascension_deg: npt.ArrayLike, declination_deg: npt.ArrayLike, off_deg: npt.ArrayLike, angle_deg: npt.ArrayLike
) -> tuple[Array, Array]:
    """Right ascension and declination, degrees, of places `off_deg` away at a position angle, north through east.

    Shapes broadcast.
    """
    declination, off = np.radians(np.asarray(declination_deg, float)), np.radians(np.asarray(off_deg, float))
    angle = np.radians(np.asarray(angle_deg, float))
    sine = np.sin(declination) * np.cos(off) + np.cos(declination) * np.sin(off) * np.cos(angle)
    ahead = np.cos(declination) * np.cos(off) - np.sin(declination) * np.sin(off) * np.cos(angle)
    east = np.degrees(np.arctan2(np.sin(off) * np.sin(angle), ahead))
    return np.asarray(right_ascension_deg, float) + east, np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))


def coldest_sky_k(beamwidth_deg: float, frequency_mhz: float) -> float:
    """The least beam-averaged sky temperature where the Moon can come: within 5.3 degrees of the ecliptic, K."""
    return float(scale_to_band_k(_coldest_408_k(beamwidth_deg), frequency_mhz))


@lru_cache(maxsize=64)
def _coldest_408_k(beamwidth_deg: float) -> float:
    longitude = np.arange(0.0, 360.0, 1.0)
    latitude = np.linspace(-MOON_LATITUDE_DEG, MOON_LATITUDE_DEG, 12)
    return float(beam_sky(beamwidth_deg).at(*ecliptic_to_icrs_deg(longitude[None, :], latitude[:, None])).min())


def ecliptic_to_icrs_deg(longitude_deg: npt.ArrayLike, latitude_deg: npt.ArrayLike) -> tuple[Array, Array]:
    """Right ascension and declination, degrees, of places in the ecliptic of J2000; shapes broadcast."""
    longitude, latitude = np.radians(np.asarray(longitude_deg, float)), np.radians(np.asarray(latitude_deg, float))
    tilt = np.radians(OBLIQUITY_DEG)
    x = np.cos(latitude) * np.cos(longitude)
    y = np.cos(latitude) * np.sin(longitude) * np.cos(tilt) - np.sin(latitude) * np.sin(tilt)
    z = np.cos(latitude) * np.sin(longitude) * np.sin(tilt) + np.sin(latitude) * np.cos(tilt)
    return np.degrees(np.arctan2(y, x)) % 360.0, np.degrees(np.arcsin(np.clip(z, -1.0, 1.0)))
