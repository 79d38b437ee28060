"""System temperature of a receiver in named parts, and what each part costs against the best night.

All parts stand behind the loss ahead of the preamplifier and add up to the system temperature. The radiometer's sum
over what the pattern sees (Kraus, Radio Astronomy): sky and Moon through the air, ground, air, Sun, losses, receiver.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.link.antenna import Beam, disc_share
from pipeline.link.constants import AIR_TEMPERATURE_K, BOLTZMANN_J_K, FARTHEST_DISC_DEG, REFERENCE_TEMPERATURE_K
from pipeline.link.surroundings import Shares

Array = npt.NDArray[np.float64]

PARTS = ("sky", "moon", "sun", "ground", "air", "receiver")
# The receiver is the same on every night, so it is no part of the degradation; distance joins instead.
DEGRADATION_PARTS = ("distance", "sky", "moon", "sun", "ground", "air")


@dataclass(frozen=True)
class Receiver:
    """One end's receiving side. The noise figure counts from the preamplifier; the loss lies ahead of it."""

    beam: Beam
    noise_figure_db: float
    loss_before_preamplifier_db: float = 0.0
    spillover_fraction: float = 0.0

    @property
    def temperature_k(self) -> float:
        """Preamplifier and loss together, behind the loss: 290 (F - 1) + 290 (1 - 10^(-l / 10)), K."""
        return float(receiver_temperature_k(self.noise_figure_db, self.loss_before_preamplifier_db))


@dataclass(frozen=True)
class SystemTemperature:
    """Kelvins by part, each an array of one common shape, behind the loss ahead of the preamplifier."""

    sky_k: Array
    moon_k: Array
    sun_k: Array
    ground_k: Array
    air_k: Array
    receiver_k: Array

    @property
    def total_k(self) -> Array:
        """The system temperature: the sum of the parts, kelvins, of the parts' common shape."""
        return np.asarray(sum(self.part(name) for name in PARTS))

    def take(self, rows: npt.NDArray[np.int64]) -> SystemTemperature:
        """The same at some of the rows, by index (m,)."""
        return SystemTemperature(*(self.part(name)[rows] for name in PARTS))

    def part(self, name: str) -> Array:
        """Kelvins of one of `PARTS`, of the parts' common shape."""
        return np.asarray(getattr(self, f"{name}_k"))


def receiver_temperature_k(noise_figure_db: npt.ArrayLike, loss_before_preamplifier_db: npt.ArrayLike = 0.0) -> Array:
    """Noise of the preamplifier and of the loss ahead of it, K, behind that loss (Friis). Shapes broadcast."""
    factor = 10.0 ** (np.asarray(noise_figure_db, dtype=float) / 10.0)
    passed = 10.0 ** (-np.asarray(loss_before_preamplifier_db, dtype=float) / 10.0)
    return np.asarray(REFERENCE_TEMPERATURE_K * (factor - 1.0) + REFERENCE_TEMPERATURE_K * (1.0 - passed))


@dataclass(frozen=True)
class Met:
    """What a receiver's pattern meets on the way out; arrays broadcast to one shape.

    `shares` say which part of it meets ground, air and open sky. `sky_k` is the open sky in the main beam, `rest_k`
    that of side lobes and back, `moon_k` the disc's brightness (None: no Moon in the beam), `sun_k` the Sun's antenna
    temperature ahead of air and loss (0 where it is set), `sun_air_loss_db` the air towards it.
    """

    shares: Shares
    sky_k: npt.ArrayLike
    rest_k: npt.ArrayLike
    moon_k: npt.ArrayLike | None = None
    moon_disc_deg: npt.ArrayLike = 0.0
    sun_k: npt.ArrayLike = 0.0
    sun_air_loss_db: npt.ArrayLike = 0.0


def system_temperature(receiver: Receiver, met: Met) -> SystemTemperature:
    """System temperature in parts, K, of one shape: that to which all that is met broadcasts.

    With everything at one temperature the antenna takes in exactly that.
    """
    filled = np.zeros(()) if met.moon_k is None else disc_share(met.moon_disc_deg, receiver.beam.beamwidth_deg)
    disc_k = np.zeros(()) if met.moon_k is None else np.asarray(met.moon_k, dtype=float)
    through_to_sun = 10.0 ** (-np.asarray(met.sun_air_loss_db, dtype=float) / 10.0)
    behind_loss = 10.0 ** (-receiver.loss_before_preamplifier_db / 10.0)

    main_k, rest_k = np.asarray(met.sky_k, dtype=float), np.asarray(met.rest_k, dtype=float)
    sky = met.shares.main_open * (1.0 - filled) * main_k + met.shares.rest_open * rest_k
    moon = met.shares.main_open * filled * disc_k
    sun = np.asarray(met.sun_k, dtype=float) * through_to_sun
    ground, air = REFERENCE_TEMPERATURE_K * met.shares.ground, AIR_TEMPERATURE_K * met.shares.air
    parts = np.broadcast_arrays(
        *(behind_loss * np.asarray(kelvins) for kelvins in (sky, moon, sun, ground, air)),
        np.asarray(receiver.temperature_k),
    )
    return SystemTemperature(*(np.array(part) for part in parts))


def best_system_temperature(
    receiver: Receiver,
    zenith: Shares,
    coldest_sky_k: npt.ArrayLike,
    rest_k: npt.ArrayLike,
    coldest_moon_k: npt.ArrayLike | None = None,
) -> SystemTemperature:
    """The floor that degradation counts from: coldest sky near the ecliptic, coldest and smallest Moon, the zenith.

    `zenith`: the pattern's shares looking straight up over flat ground. Kelvins by part; shapes broadcast.
    """
    return system_temperature(
        receiver,
        Met(zenith, coldest_sky_k, rest_k, moon_k=coldest_moon_k, moon_disc_deg=FARTHEST_DISC_DEG),
    )


def degradation_parts_db(
    now: SystemTemperature,
    best: SystemTemperature,
    distance_db: npt.ArrayLike,
    air_excess_db: npt.ArrayLike = 0.0,
) -> dict[str, Array]:
    """Decibels short of the best case by part (`DEGRADATION_PARTS`), for one receiver; their sum is the degradation.

    `distance_db` comes from `path_loss.distance_part_db`; `air_excess_db` is the air's loss at both ends less that of
    both zeniths. The noise's rise over the floor is shared among the parts in proportion to their kelvins above the
    floor (parts below it count 0), so that no order of adding is preferred and the sum is exact. Shapes broadcast.
    """
    noise_db = np.maximum(10.0 * np.log10(now.total_k / best.total_k), 0.0)
    excess = {name: np.maximum(now.part(name) - best.part(name), 0.0) for name in DEGRADATION_PARTS[1:]}
    total = np.asarray(sum(excess.values()))
    # Where nothing lies above the floor the rise is 0 too; the nanokelvin only avoids 0 / 0.
    per_kelvin = noise_db / np.maximum(total, 1e-9)
    parts = {"distance": np.asarray(distance_db, dtype=float)}
    parts |= {name: kelvins * per_kelvin for name, kelvins in excess.items()}
    parts["air"] = parts["air"] + np.asarray(air_excess_db, dtype=float)
    shape = np.broadcast_shapes(*(part.shape for part in parts.values()))
    return {name: np.array(np.broadcast_to(part, shape)) for name, part in parts.items()}


def noise_power_dbw(system_temperature_k: npt.ArrayLike, bandwidth_hz: float) -> Array:
    """Noise power k T B in dB over one watt; shape of the temperature."""
    return np.asarray(10.0 * np.log10(BOLTZMANN_J_K * np.asarray(system_temperature_k, dtype=float) * bandwidth_hz))
