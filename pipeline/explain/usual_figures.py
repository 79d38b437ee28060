"""Figures of a season and of its stations that hardly anybody means: each key beside what is usual for it.

What is usual is common practice, no source. A share may be told as what is left of one, a capacity as watt-hours.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from functools import reduce
from typing import Any

from pipeline.explain.oddities import HoursTurned, Oddity, Unusual
from pipeline.inputs.model import Battery, Hours, Season, Station

Range = tuple[float, float]
OF_SEASON: Mapping[str, Range] = {
    "policy.slot_minutes.least": (5.0, 120.0),
    "policy.slot_minutes.most": (15.0, 240.0),
    "policy.gap_minutes": (0.0, 90.0),
    "policy.maximum_slots_per_night": (1.0, 10.0),
    "policy.night_cost": (0.0, 3.0),
    "policy.hour_cost": (0.0, 0.5),
    "policy.travel_hour_cost": (0.0, 0.5),
    "policy.site_change_cost": (0.0, 3.0),
    "policy.presence": (0.4, 1.0),
    "policy.minimum_sun_separation_deg": (0.0, 30.0),
    "policy.outcome_thresholds.strong": (0.6, 0.99),
    "policy.outcome_thresholds.marginal": (0.03, 0.6),
    "policy.setup_minutes.arrive": (10.0, 600.0),
    "policy.setup_minutes.align": (5.0, 300.0),
    "policy.setup_minutes.check": (5.0, 240.0),
}
OF_STATION: Mapping[str, Range] = {
    "presence": (0.3, 1.0),
    "hours_to_get_there": (0.0, 12.0),
    "battery.voltage_v": (5.0, 60.0),
    "battery.usable_fraction": (0.3, 1.0),
    "battery.receive_a": (0.0, 30.0),
    "battery.transmit_a": (0.0, 300.0),
    "battery.other_a": (0.0, 30.0),
}
SHARES = ("presence", "usable_fraction", "strong", "marginal")
# What two people carry to a field, with room to spare.
MOST_WH = 10_000.0
# Who begins so late does not go on until so late the next day.
LATE, EARLY = dt.time(20), dt.time(15)


def unusual_of_season(season: Season) -> tuple[Oddity, ...]:
    """The policy's figures outside what is usual."""
    return tuple(_unusual(season, OF_SEASON))


def unusual_of_station(station: Station) -> tuple[Oddity, ...]:
    """The same of what a station file says beside its place and its bands."""
    capacity = () if station.battery is None else _capacity(station.battery)
    hours = [one for one in station.available or () if isinstance(one, Hours)]
    turned = [
        HoursTurned(one.start, one.until) for one in hours if one.start >= LATE and EARLY <= one.until < one.start
    ]
    return (*_unusual(station, OF_STATION), *capacity, *turned)


def _unusual(keys: Any, table: Mapping[str, Range]) -> Iterator[Unusual]:
    for key, (low, high) in table.items():
        value = reduce(lambda group, name: getattr(group, name, None), key.split("."), keys)
        if value is None or low <= value <= high:
            continue
        rest = round(1.0 - value, 6)
        is_meant = key.rpartition(".")[2] in SHARES and low <= rest <= high
        yield Unusual(key, value, low, high, rest if is_meant else None)


def _capacity(battery: Battery) -> Iterator[Unusual]:
    most_ah = MOST_WH / battery.voltage_v
    if battery.capacity_ah > most_ah:
        meant = round(battery.capacity_ah / battery.voltage_v, 1)
        yield Unusual("battery.capacity_ah", battery.capacity_ah, 0.0, most_ah, meant)
