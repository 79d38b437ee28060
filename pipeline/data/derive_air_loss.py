"""Derives `air_loss.npz`, the loss of clear air over frequency, reference atmosphere, station height and elevation.

    python -m pipeline.data.derive_air_loss

Specific attenuation line by line after ITU-R P.676-12 (as the package `itur` 0.4 computes it), integrated along the
bent ray from the station's height through the reference atmospheres of ITU-R P.835-6. The ray follows Snell's law in
spheres, with the refractivity of ITU-R P.453. itur's own slant path is not used: it takes the standard atmosphere from
sea level whatever pressure and temperature it is given. Needs itur, which nothing else in the package does.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

TABLE = Path(__file__).with_name("air_loss.npz")
EARTH_RADIUS_KM = 6371.0  # as P.676 takes it
TOP_KM = 100.0  # the reference atmospheres end there
# Every band's calling frequency; both edges where the loss bends within the band (near the lines at 22 and 60 GHz).
FREQUENCIES_MHZ = np.array(
    [50.0, 144.0, 222.0, 432.0, 902.0, 1296.0, 2304.0, 3456.0, 5760.0, 10_000.0, 10_500.0, 24_000.0, 24_250.0,
     47_000.0, 47_200.0]
)  # fmt: skip
HEIGHTS_KM = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.5])
ELEVATIONS_DEG = np.array(
    [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 17.0, 22.0, 30.0, 45.0, 60.0, 90.0]
)


@dataclass(frozen=True)
class Atmosphere:
    """Profiles over the height in km: temperature in K, total pressure in hPa, water vapour in g/m3."""

    temperature_k: Callable[[Array], Array]
    pressure_hpa: Callable[[Array], Array]
    vapor_g_m3: Callable[[Array], Array]


def reference_atmospheres() -> dict[str, Atmosphere]:
    """The mean annual atmosphere and the five of latitude and season of ITU-R P.835-6."""
    from itur.models import itu835

    # Profiles of latitude and season by a latitude inside each belt of the Recommendation.
    belts = {
        "low": (10.0, "summer"),
        "mid summer": (35.0, "summer"),
        "mid winter": (35.0, "winter"),
        "high summer": (60.0, "summer"),
        "high winter": (60.0, "winter"),
    }

    def profile(function: Callable[..., Any], *before: object, **named: object) -> Callable[[Array], Array]:
        def values(height_km: Array) -> Array:
            # The Recommendation's polynomials for vapour overflow far above the height where they are cut off.
            with np.errstate(over="ignore"):
                result = function(*before, height_km, **named)
            return np.asarray(getattr(result, "value", result))

        return values

    atmospheres = {
        "standard": Atmosphere(
            profile(itu835.standard_temperature),
            profile(itu835.standard_pressure),
            lambda height_km: 7.5 * np.exp(-height_km / 2.0),
        )
    }
    for name, (latitude, season) in belts.items():
        atmospheres[name] = Atmosphere(
            profile(itu835.temperature, latitude, season=season),
            profile(itu835.pressure, latitude, season=season),
            profile(itu835.water_vapour_density, latitude, season=season),
        )
    return atmospheres


def specific_attenuation_db_per_km(atmosphere: Atmosphere, height_km: Array, frequencies_mhz: Array) -> Array:
    """Oxygen and water vapour line by line, shape (heights, frequencies)."""
    from itur.models.itu676 import gamma0_exact, gammaw_exact

    temperature, vapor, dry = state(atmosphere, height_km)
    rates = np.empty((len(height_km), len(frequencies_mhz)))
    for column, frequency_ghz in enumerate(frequencies_mhz / 1e3):
        oxygen = gamma0_exact(frequency_ghz, dry, vapor, temperature).value
        rates[:, column] = oxygen + gammaw_exact(frequency_ghz, dry, vapor, temperature).value
    return rates


def state(atmosphere: Atmosphere, height_km: Array) -> tuple[Array, Array, Array]:
    """Temperature in K, water vapour in g/m3 and pressure of the dry air in hPa (total less the vapour's)."""
    temperature, vapor = atmosphere.temperature_k(height_km), atmosphere.vapor_g_m3(height_km)
    return temperature, vapor, atmosphere.pressure_hpa(height_km) - vapor * temperature / 216.7


def refractive_index(atmosphere: Atmosphere, height_km: Array) -> Array:
    """ITU-R P.453: N = 77.6 p_d / T + 72 e / T + 3.75e5 e / T^2."""
    temperature, vapor, dry = state(atmosphere, height_km)
    pressure = vapor * temperature / 216.7
    return np.asarray(1.0 + 1e-6 * (77.6 * dry + 72.0 * pressure + 3.75e5 * pressure / temperature) / temperature)


def loss_db(
    atmosphere: Atmosphere, station_km: float, elevations_deg: Array, levels_km: Array, log_rates: Array
) -> Array:
    """Loss along the ray that leaves at each apparent elevation, shape (frequencies, elevations).

    Layers grow from 10 cm at the station as P.676 sets them, so that a ray along the ground is still followed.
    """
    steps = np.arange(923)
    edges = station_km + 1e-4 * (np.exp(steps / 100.0) - 1.0) / (np.exp(0.01) - 1.0)
    edges = np.append(edges[edges < TOP_KM], TOP_KM)
    base, thick = edges[:-1], np.diff(edges)
    radius = EARTH_RADIUS_KM + base[:, None]
    index = refractive_index(atmosphere, edges)
    # Snell in spheres: n r cos(elevation) keeps its value along the ray.
    constant = index[0] * radius[0, 0] * np.cos(np.radians(elevations_deg))
    sine = np.sqrt(np.maximum(1.0 - (constant / (index[:-1, None] * radius)) ** 2, 0.0))
    rise = 2.0 * radius * thick[:, None] + thick[:, None] ** 2
    lengths = -radius * sine + np.sqrt((radius * sine) ** 2 + rise)
    middle = base + thick / 2.0
    rates = np.stack([np.exp(np.interp(middle, levels_km, column)) for column in log_rates.T])
    return np.asarray(rates @ lengths)


def main() -> int:
    """Writes the table beside this module."""
    # Dense near the ground, where vapour thins out fastest.
    levels_km = np.concatenate([np.arange(0.0, 20.0, 0.1), np.arange(20.0, TOP_KM, 0.5), [TOP_KM]])
    atmospheres = reference_atmospheres()
    table = np.empty((len(atmospheres), len(HEIGHTS_KM), len(FREQUENCIES_MHZ), len(ELEVATIONS_DEG)))
    for row, atmosphere in enumerate(atmospheres.values()):
        log_rates = np.log(specific_attenuation_db_per_km(atmosphere, levels_km, FREQUENCIES_MHZ))
        for column, station_km in enumerate(HEIGHTS_KM):
            table[row, column] = loss_db(atmosphere, station_km, ELEVATIONS_DEG, levels_km, log_rates)
    np.savez_compressed(
        TABLE,
        atmospheres=np.array(list(atmospheres)),
        heights_km=HEIGHTS_KM,
        frequencies_mhz=FREQUENCIES_MHZ,
        elevations_deg=ELEVATIONS_DEG,
        # Four digits are far more than the atmosphere keeps; they pack into half the bytes.
        loss_db=np.array([float(f"{value:.4g}") for value in table.ravel()], dtype=np.float32).reshape(table.shape),
    )
    print(f"{TABLE.name}: {' x '.join(map(str, table.shape))} values, {table.min():.4g} to {table.max():.4g} dB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
