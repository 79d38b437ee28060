"""What each end's receiver hears of the sky at every sample, and how far that is from its best night, part by part.

From samples and equipment by the formulas of `radio_sky` and `link`; the pair's figure is that of the worse end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites, moon_direction_icrs
from pipeline.inputs.model import Inputs, Station
from pipeline.link.constants import MOON_RADIUS_KM
from pipeline.link.noise import (
    DEGRADATION_PARTS,
    PARTS,
    Receiver,
    SystemTemperature,
    best_system_temperature,
    degradation_parts_db,
    system_temperature,
)
from pipeline.link.path_loss import distance_part_db
from pipeline.link.sun_noise import sun_antenna_temperature_k
from pipeline.planning.equipment import activity_of, pair_frequency_mhz, receiver_of
from pipeline.planning.rules import Rules
from pipeline.planning.samples import End, PathSamples
from pipeline.radio_sky.moon_brightness import coldest_moon_k, moon_temperature_k
from pipeline.radio_sky.sky_brightness import coldest_sky_k, sky_temperature_k
from pipeline.radio_sky.sun_flux import flux_sfu

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
Columns = dict[str, npt.NDArray[np.generic]]


@dataclass(frozen=True)
class Hearing:
    """One end at some instants: kelvins by part now and at its best."""

    now: SystemTemperature
    best: SystemTemperature


def hear(
    sky: Sky,
    sites: Sites,
    end: End,
    time_s: FloatArray,
    elongation_deg: FloatArray,
    masks: tuple[FloatArray, FloatArray],
    receiver: Receiver,
    frequency_mhz: float,
    activity: str | float,
) -> Hearing:
    """The receiver of one station at these instants, all (n,); `masks` are its horizon below the Moon and the Sun."""
    right_ascension, declination = moon_direction_icrs(sky, sites, time_s)
    moon_mask, sun_mask = masks
    sun_apparent = end.sun.elevation_deg + refraction_deg(end.sun.elevation_deg, sites.height_m)
    sun_k = sun_antenna_temperature_k(
        flux_sfu(frequency_mhz, activity), frequency_mhz, receiver.beam, end.sun_separation_deg
    )
    now = system_temperature(
        receiver,
        sky_temperature_k(right_ascension, declination, receiver.beam.beamwidth_deg, frequency_mhz),
        sun_k=np.where(sun_apparent >= sun_mask, sun_k, 0.0),
        moon_k=moon_temperature_k(frequency_mhz, elongation_deg - 180.0),
        moon_disc_deg=np.degrees(2.0 * np.arcsin(MOON_RADIUS_KM / end.moon.range_km)),
        clearance_deg=end.apparent_elevation_deg - moon_mask,
    )
    best = best_system_temperature(
        receiver,
        coldest_sky_k(receiver.beam.beamwidth_deg, frequency_mhz),
        coldest_moon_k(frequency_mhz),
    )
    return Hearing(now, best)


def reception_columns(
    inputs: Inputs, sky: Sky, sites: Sites, rules: Rules, paths: PathSamples, bands: Sequence[str]
) -> Columns:
    """Kelvins of both ends, degradation and its parts, and the worse end, for every sample, pair by pair."""
    count = paths.steps.time_s.size
    columns: Columns = {}
    for end in ("home", "partner"):
        for part in (*PARTS, "system_temperature"):
            columns[f"{end}_{part}_k"] = np.zeros(count)
    for name in ("degradation_db", *(f"degradation_{part}_db" for part in DEGRADATION_PARTS)):
        columns[name] = np.zeros(count)
    columns["worse_end"] = np.full(count, "", dtype=object)
    for pair, (partner, band) in enumerate(zip(inputs.partners, bands, strict=True)):
        rows = np.flatnonzero(paths.steps.pair == pair)
        if rows.size:
            made = _pair_columns(inputs, sky, sites, rules, paths, rows, pair, partner, band)
            for name, values in made.items():
                columns[name][rows] = values
    return columns


def _pair_columns(
    inputs: Inputs,
    sky: Sky,
    sites: Sites,
    rules: Rules,
    paths: PathSamples,
    rows: IntArray,
    pair: int,
    partner: Station,
    band: str,
) -> Columns:
    frequency = pair_frequency_mhz(inputs, band)
    time = paths.steps.time_s[rows]
    distance = distance_part_db(paths.home.moon.range_km[rows], paths.partner.moon.range_km[rows])
    columns: Columns = {}
    totals, parts = {}, {}
    for name, station, index, whole in (
        ("home", inputs.home, 0, paths.home),
        ("partner", partner, pair + 1, paths.partner),
    ):
        end = whole.take(rows)
        owner = np.full(rows.size, index)
        heard = hear(
            sky,
            sites.take(owner),
            end,
            time,
            paths.centre.elongation_deg[rows],
            (rules.mask(owner, end.moon.azimuth_deg), rules.mask(owner, end.sun.azimuth_deg)),
            receiver_of(station, band, frequency),
            frequency,
            activity_of(inputs.season.policy),
        )
        for part in PARTS:
            columns[f"{name}_{part}_k"] = heard.now.part(part)
        columns[f"{name}_system_temperature_k"] = heard.now.total_k
        parts[name] = degradation_parts_db(heard.now, heard.best, distance)
        totals[name] = np.sum(list(parts[name].values()), axis=0)
    partner_worse = totals["partner"] >= totals["home"]
    columns["degradation_db"] = np.where(partner_worse, totals["partner"], totals["home"])
    for part in DEGRADATION_PARTS:
        columns[f"degradation_{part}_db"] = np.where(partner_worse, parts["partner"][part], parts["home"][part])
    columns["worse_end"] = np.where(partner_worse, "partner", "home").astype(object)
    return columns
