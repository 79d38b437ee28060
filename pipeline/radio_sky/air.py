"""Loss of clear air between a station and the Moon or the Sun, by band, reference atmosphere, height and elevation.

Read from the table `air_loss.npz`: ITU-R P.676-12 line by line through the reference atmospheres of ITU-R P.835-6.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Literal

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Names = npt.NDArray[np.object_]
Policy = Literal["seasonal", "standard"]

ATMOSPHERES = ("standard", "low", "mid summer", "mid winter", "high summer", "high winter")
# Belts of ITU-R P.835-6: low latitudes to 22 degrees, middle ones to 45 degrees.
LOW_LATITUDE_DEG, MIDDLE_LATITUDE_DEG = 22.0, 45.0
NORTHERN_SUMMER = range(4, 10)  # April to September; the Recommendation knows two seasons


@dataclass(frozen=True)
class AirTable:
    """Losses in dB over atmosphere, height, frequency and apparent elevation, with the axes."""

    atmospheres: tuple[str, ...]
    heights_km: Array
    frequencies_mhz: Array
    elevations_deg: Array
    loss_db: Array


@lru_cache(maxsize=1)
def air_table() -> AirTable:
    """The committed table, read once."""
    with (files("pipeline.data") / "air_loss.npz").open("rb") as file, np.load(file, allow_pickle=False) as table:
        return AirTable(
            tuple(str(name) for name in table["atmospheres"]),
            np.asarray(table["heights_km"], dtype=float),
            np.asarray(table["frequencies_mhz"], dtype=float),
            np.asarray(table["elevations_deg"], dtype=float),
            np.asarray(table["loss_db"], dtype=float),
        )


def reference_atmosphere(latitude_deg: float, month: int, policy: Policy = "seasonal") -> str:
    """Name of the reference atmosphere (one of `ATMOSPHERES`) for a latitude and a calendar month, 1 to 12."""
    if policy == "standard":
        return "standard"
    if abs(latitude_deg) < LOW_LATITUDE_DEG:
        return "low"
    belt = "mid" if abs(latitude_deg) < MIDDLE_LATITUDE_DEG else "high"
    summer = (month in NORTHERN_SUMMER) == (latitude_deg >= 0.0)
    return f"{belt} {'summer' if summer else 'winter'}"


def reference_atmospheres(latitude_deg: float, months: npt.NDArray[np.int64], policy: Policy = "seasonal") -> Names:
    """The same for calendar months (1 to 12) of any shape."""
    names = [reference_atmosphere(latitude_deg, month, policy) for month in range(1, 13)]
    return np.array(names, dtype=object)[months - 1]


def air_loss_db(
    frequency_mhz: float, atmosphere: str | Names, height_m: float, apparent_elevation_deg: npt.ArrayLike
) -> Array:
    """One-way loss of clear air, dB, in the shape of atmospheres and elevations broadcast.

    The table is read once for each atmosphere among them; ValueError for an unknown one.
    """
    names, elevation = np.broadcast_arrays(
        np.asarray(atmosphere, dtype=object), np.asarray(apparent_elevation_deg, dtype=float)
    )
    loss = np.empty(elevation.shape)
    for name in dict.fromkeys(names.ravel()):
        mine = np.asarray(names == name)
        loss[mine] = _loss_db(frequency_mhz, name, height_m, elevation[mine])
    return loss


def _loss_db(frequency_mhz: float, atmosphere: str, height_m: float, apparent_elevation_deg: Array) -> Array:
    """The loss through one atmosphere.

    Logarithms of loss are interpolated, over elevation along the air mass, so that the law of 1 / sin elevation is kept
    exactly between nodes. Below the horizon and below sea level the edge of the table is taken.
    """
    table = air_table()
    if atmosphere not in table.atmospheres:
        raise ValueError(f"atmosphere '{atmosphere}' is unknown; one of {', '.join(table.atmospheres)} would be right.")
    logs = np.log(table.loss_db[table.atmospheres.index(atmosphere)])
    at_height = _interpolate(logs, table.heights_km, height_m / 1e3)
    at_frequency = _interpolate(at_height, np.log(table.frequencies_mhz), float(np.log(frequency_mhz)))
    # Air mass falls with elevation; np.interp wants rising nodes.
    nodes = -_log_air_mass(table.elevations_deg)
    return np.asarray(np.exp(np.interp(-_log_air_mass(apparent_elevation_deg), nodes, at_frequency)))


def zenith_air_loss_db(frequency_mhz: float, atmosphere: str | Names, height_m: float) -> Array:
    """The same straight up, in the shape of the atmospheres: what the best case pays."""
    return air_loss_db(frequency_mhz, atmosphere, height_m, 90.0)


def _log_air_mass(elevation_deg: npt.ArrayLike) -> Array:
    """Logarithm of an approximate air mass (form of Rozenberg 1966), finite at the horizon; only a scale to walk on."""
    sine = np.sin(np.radians(np.clip(np.asarray(elevation_deg, dtype=float), 0.0, 90.0)))
    return np.asarray(-np.log(sine + 0.025 * np.exp(-11.0 * sine)))


def _interpolate(values: Array, nodes: Array, at: float) -> Array:
    """Linear along the first axis, clamped to the table's ends."""
    place = float(np.interp(at, nodes, np.arange(len(nodes))))
    low = min(int(place), len(nodes) - 2)
    part = place - low
    return np.asarray(values[low] * (1.0 - part) + values[low + 1] * part)
