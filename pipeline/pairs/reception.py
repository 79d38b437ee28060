"""What each end's receiver hears of the sky at every sample, and how far that is from its best night, part by part.

From both ends of a pair by the formulas of `radio_sky` and `link`; the pair's figure is that of the worse end.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.link.noise import (
    DEGRADATION_PARTS,
    PARTS,
    Met,
    SystemTemperature,
    best_system_temperature,
    degradation_parts_db,
    system_temperature,
)
from pipeline.link.path_loss import distance_part_db, moon_disc_deg
from pipeline.link.sun_noise import sun_antenna_temperature_k
from pipeline.pairs.ends import PairEnd
from pipeline.pairs.pattern_met import zenith_shares
from pipeline.radio_sky.moon_brightness import coldest_moon_k, moon_temperature_k
from pipeline.radio_sky.sky_brightness import coldest_sky_k, mean_sky_k
from pipeline.radio_sky.sun_flux import flux_sfu

FloatArray = npt.NDArray[np.float64]
Columns = dict[str, npt.NDArray[np.generic]]


@dataclass(frozen=True)
class Hearing:
    """One end at some instants: kelvins by part now and at its best, and the Moon's brightness.

    `skyline_noise_db` is what the skyline adds to the noise: now against flat ground at the same elevation.
    """

    now: SystemTemperature
    best: SystemTemperature
    moon_brightness_k: FloatArray
    skyline_noise_db: FloatArray

    def take(self, rows: npt.NDArray[np.int64]) -> Hearing:
        """The same at some of the instants, by index (m,)."""
        return Hearing(
            self.now.take(rows), self.best.take(rows), self.moon_brightness_k[rows], self.skyline_noise_db[rows]
        )


def hear(end: PairEnd, elongation_deg: FloatArray, activity: str | float) -> Hearing:
    """The receiver of one station, kelvins (n,); Moon's elongation (n,), activity a word or the 10.7 cm flux."""
    beam, frequency = end.receiver.beam, end.frequency_mhz
    sun_k = sun_antenna_temperature_k(flux_sfu(frequency, activity), frequency, beam, end.seen.sun_separation_deg)
    moon_k = moon_temperature_k(frequency, elongation_deg - 180.0)
    met = Met(
        end.pattern.shares,
        end.pattern.sky_k,
        end.pattern.rest_k,
        moon_k=moon_k,
        moon_disc_deg=moon_disc_deg(end.seen.moon.range_km),
        sun_k=np.where(end.sun_is_up, sun_k, 0.0),
        sun_air_loss_db=end.sun_air_db,
    )
    now = system_temperature(end.receiver, met)
    flat = system_temperature(end.receiver, dataclasses.replace(met, shares=end.pattern.flat_shares))
    best = best_system_temperature(
        end.receiver,
        zenith_shares(end.antenna, end.atmosphere),
        coldest_sky_k(beam.beamwidth_deg, frequency),
        mean_sky_k(frequency),
        coldest_moon_k(frequency),
    )
    return Hearing(now, best, moon_k, 10.0 * np.log10(now.total_k / flat.total_k))


def reception_columns(home: PairEnd, partner: PairEnd, heard: dict[str, Hearing]) -> Columns:
    """Kelvins of both ends, degradation with its six parts, and the worse end, for a pair's samples."""
    distance = distance_part_db(home.seen.moon.range_km, partner.seen.moon.range_km)
    air_excess = home.air_db + partner.air_db - home.zenith_air_db - partner.zenith_air_db
    columns: Columns = {}
    totals, parts = {}, {}
    for name in ("home", "partner"):
        now = heard[name].now
        for part in PARTS:
            columns[f"{name}_{part}_k"] = now.part(part)
        columns[f"{name}_system_temperature_k"] = now.total_k
        parts[name] = degradation_parts_db(now, heard[name].best, distance, air_excess)
        totals[name] = np.sum(list(parts[name].values()), axis=0)
    partner_worse = totals["partner"] >= totals["home"]
    columns["degradation_db"] = np.where(partner_worse, totals["partner"], totals["home"])
    for part in DEGRADATION_PARTS:
        columns[f"degradation_{part}_db"] = np.where(partner_worse, parts["partner"][part], parts["home"][part])
    columns["worse_end"] = np.where(partner_worse, "partner", "home").astype(object)
    return columns
