"""Power density in front of an antenna and the distances at which reference levels for people are met.

On the axis, after FCC OET Bulletin 65 (edition 97-01) for dishes; levels for the whole body after ICNIRP 2020. A
caution for the crew, never a statement of compliance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from pipeline.link.antenna import wavelength_m

Array = npt.NDArray[np.float64]
Group = Literal["general public", "occupational"]

LOWEST_LEVEL_MHZ = 30.0  # ICNIRP 2020: below it fields are limited, not power density


@dataclass(frozen=True)
class Radiator:
    """What sends: power at the feed in watts and gain in dBi; for a dish its diameter and aperture efficiency too."""

    power_w: float
    gain_dbi: float
    frequency_mhz: float
    dish_diameter_m: float | None = None
    aperture_efficiency: float = 0.55

    @property
    def near_limit_m(self) -> float:
        """End of a dish's near field, D^2 / (4 lambda); 0 without a dish."""
        return 0.25 * self._square_over_wavelength_m

    @property
    def far_limit_m(self) -> float:
        """Beginning of a dish's far field, 0.6 D^2 / lambda; 0 without a dish."""
        return 0.6 * self._square_over_wavelength_m

    @property
    def near_density_w_m2(self) -> float:
        """Largest density on the axis of a dish's near field, 16 eta P / (pi D^2); without a dish there is no bound."""
        if self.dish_diameter_m is None:
            return float("inf")
        return 16.0 * self.aperture_efficiency * self.power_w / (np.pi * self.dish_diameter_m**2)

    @property
    def border_density_w_m2(self) -> float:
        """Density at the end of the transition; the far-field formula starts 2.8 % above it, which is cut off."""
        if self.dish_diameter_m is None:
            return float("inf")
        return self.near_density_w_m2 * self.near_limit_m / self.far_limit_m

    @property
    def _square_over_wavelength_m(self) -> float:
        return (self.dish_diameter_m or 0.0) ** 2 / float(wavelength_m(self.frequency_mhz))


@dataclass(frozen=True)
class ExposureDistances:
    """Distances on the axis in metres beyond which the level is kept: at full power, and averaged over the duty."""

    general_public_peak_m: float
    general_public_average_m: float
    occupational_peak_m: float
    occupational_average_m: float


def power_density_w_m2(radiator: Radiator, distance_m: npt.ArrayLike, reflection: float = 1.0) -> Array:
    """Density on the axis at full power, W/m2; never rises with distance.

    `reflection` multiplies it for ground under the beam: 1 free space, 2.56 likely, 4 worst (OET 65). Of any shape.
    """
    distance = np.maximum(np.asarray(distance_m, dtype=float), 1e-3)
    density = radiator.power_w * 10.0 ** (radiator.gain_dbi / 10.0) / (4.0 * np.pi * distance**2)
    if radiator.dish_diameter_m is not None:
        transition = radiator.near_density_w_m2 * np.minimum(radiator.near_limit_m / distance, 1.0)
        far = np.minimum(density, radiator.border_density_w_m2)
        density = np.where(distance < radiator.far_limit_m, transition, far)
    return np.asarray(reflection * density)


def distance_to_level_m(radiator: Radiator, level_w_m2: float, duty: float = 1.0, reflection: float = 1.0) -> float:
    """Distance on the axis, metres, beyond which the density times `duty` stays at or below the level; 0 if always."""
    allowed = level_w_m2 / (duty * reflection)
    if radiator.near_density_w_m2 <= allowed:
        return 0.0
    if radiator.border_density_w_m2 <= allowed:
        return radiator.near_density_w_m2 * radiator.near_limit_m / allowed
    power_gain_w = radiator.power_w * 10.0 ** (radiator.gain_dbi / 10.0)
    return float(np.sqrt(power_gain_w / (4.0 * np.pi * allowed)))


def reference_level_w_m2(frequency_mhz: float, group: Group) -> float:
    """ICNIRP 2020, whole body, 30 minutes, W/m2; ValueError below 30 MHz, where fields are limited instead."""
    public = group == "general public"
    if frequency_mhz < LOWEST_LEVEL_MHZ:
        raise ValueError(
            f"{frequency_mhz:g} MHz is below the range of these levels;"
            f" {LOWEST_LEVEL_MHZ:g} MHz and above would be right."
        )
    if frequency_mhz <= 400.0:
        return 2.0 if public else 10.0
    if frequency_mhz <= 2000.0:
        return frequency_mhz / (200.0 if public else 40.0)
    return 10.0 if public else 50.0


def exposure_distances(radiator: Radiator, duty: float = 0.5, reflection: float = 1.0) -> ExposureDistances:
    """The four distances for a crew: both groups, at full power and averaged over the share of time that is sent."""
    public = reference_level_w_m2(radiator.frequency_mhz, "general public")
    occupational = reference_level_w_m2(radiator.frequency_mhz, "occupational")
    return ExposureDistances(
        general_public_peak_m=distance_to_level_m(radiator, public, 1.0, reflection),
        general_public_average_m=distance_to_level_m(radiator, public, duty, reflection),
        occupational_peak_m=distance_to_level_m(radiator, occupational, 1.0, reflection),
        occupational_average_m=distance_to_level_m(radiator, occupational, duty, reflection),
    )
