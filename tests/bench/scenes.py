"""The stations and seasons of the benchmark: invented, spread evenly over the land-bearing latitudes, always the same.

Flat horizons and a least elevation of 5 degrees without refraction, so that rival scripts answer the same question.
"""

from __future__ import annotations

import datetime as dt

import numpy as np

from pipeline.inputs.model import Antenna, BandEquipment, DateRange, Partner, Policy, Position, Season, Station
from pipeline.inputs.modes import mode_table
from pipeline.record.inputs import Inputs

MINIMUM_ELEVATION_DEG = 5.0
FREQUENCY_MHZ = 10_368.0
FIRST = dt.date(2027, 3, 1)
LAST_OF = {"month": dt.date(2027, 3, 31), "quarter": dt.date(2027, 5, 31), "year": dt.date(2028, 2, 29)}


def stations(count: int) -> list[Station]:
    """`count` stations by a golden spiral between 65 degrees south and 70 north."""
    number = np.arange(count) + 0.5
    sine = np.sin(np.radians(-65.0)) + (np.sin(np.radians(70.0)) - np.sin(np.radians(-65.0))) * number / count
    latitude = np.degrees(np.arcsin(sine))
    longitude = (number * 137.50776405) % 360.0 - 180.0
    return [_station(index, float(latitude[index]), float(longitude[index])) for index in range(count)]


def _station(index: int, latitude_deg: float, longitude_deg: float) -> Station:
    band = BandEquipment(
        antenna=Antenna(dish_diameter_m=2.4),
        power_w=40.0,
        noise_figure_db=0.8,
        loss_before_preamplifier_db=0.1,
        spillover_fraction=0.05,
        polarization="rotatable",
        pointing_error_deg=0.2,
        frequency_accuracy_hz=2.0,
        modes=("Q65", "CW"),
    )
    return Station(
        call=f"Q{index:04d}",
        position=Position(latitude_deg, longitude_deg, 100.0),
        time_zone="UTC",
        available="always",
        minimum_elevation_deg=MINIMUM_ELEVATION_DEG,
        bands={"3cm": band},
    )


def season(partners: int, length: str, nights: int = 6, slots: int = 3) -> Inputs:
    """Home and its partners over a month, a quarter or a year; so many nights, so many slots each."""
    home, *others = stations(partners + 1)
    plan = Season(
        home=home.call,
        band="3cm",
        frequency_mhz=FREQUENCY_MHZ,
        dates=DateRange(FIRST, LAST_OF[length]),
        policy=Policy(refraction=False, maximum_nights=nights, maximum_slots_per_night=slots),
    )
    wishes = tuple(Partner(one.call) for one in others)
    return Inputs(plan, home, tuple(others), wishes, {"season.yaml": "0"}, modes=mode_table())


def span(length: str) -> tuple[dt.datetime, dt.datetime]:
    """Noon of the first date and after the last: about as long as the nights of a plan."""
    noon = dt.time(12, tzinfo=dt.UTC)
    return dt.datetime.combine(FIRST, noon), dt.datetime.combine(LAST_OF[length] + dt.timedelta(days=1), noon)
