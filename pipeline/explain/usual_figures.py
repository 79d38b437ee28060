"""Figures of a season and of its stations that hardly anybody means: each key beside what is usual for it.

What is usual is common practice, no source. A share may be told as what is left of one, a capacity as watt-hours.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Any

from pipeline.explain.exchanged import exchanged_in_season, exchanged_in_station, value_at
from pipeline.explain.oddities import HoursTurned, Oddity, Unusual
from pipeline.explain.other_units import meant_for
from pipeline.explain.slip_values import Exchanged, UnusualGroup
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
    "mount.maximum_wind_m_s": (2.0, 28.0),
    "mount.dial_resolution_deg": (0.001, 5.0),
}
SHARES = ("presence", "usable_fraction", "strong", "marginal")
# What two people carry to a field, with room to spare.
MOST_WH, LEAST_AH = 10_000.0, 1.0
OF_WISH: Mapping[str, Range] = {"contacts_wanted": (0.0, 8.0), "priority": (0.05, 20.0)}
# Who begins so late does not go on until so late the next day.
LATE, EARLY = dt.time(20), dt.time(15)
# Hours from an afternoon on that end between these ended by a clock of twelve hours.
AFTERNOON, MORNING, NOON = dt.time(12), dt.time(9), dt.time(12)


def unusual_of_season(season: Season) -> tuple[Oddity, ...]:
    """The policy's figures outside what is usual."""
    turned = exchanged_in_season(season)
    wishes = [
        dataclasses.replace(one, key=f"partners.{place}.{one.key}", meant=None)
        for place, wish in enumerate(season.partners or (), 1)
        for one in _unusual(wish, OF_WISH)
    ]
    return (*turned, *_together(_unusual(season, OF_SEASON), turned), *wishes)


def unusual_of_station(station: Station) -> tuple[Oddity, ...]:
    """The same of what a station file says beside its place and its bands."""
    capacity = () if station.battery is None else _capacity(station.battery)
    turned = [
        HoursTurned(one.start, one.until, f"available.{place}")
        for place, one in enumerate(station.available or (), 1)
        if isinstance(one, Hours) and one.start >= LATE and EARLY <= one.until < one.start
    ]
    turned += [
        HoursTurned(one.start, one.until, f"available.{place}", one.until.replace(hour=one.until.hour + 12))
        for place, one in enumerate(station.available or (), 1)
        if isinstance(one, Hours) and AFTERNOON <= one.start < LATE and MORNING <= one.until < NOON
    ]
    exchanged = exchanged_in_station(station)
    return (*exchanged, *_together((*_unusual(station, OF_STATION), *capacity), exchanged), *turned)


def _together(found: Iterable[Unusual], turned: Iterable[Exchanged]) -> Iterator[Oddity]:
    """Figures of one group that another unit explains as one; those that an exchange explains are left out."""
    told = {key for one in turned for key in (one.key, one.other_key)}
    rest = [one for one in found if one.key not in told]
    for (group, unit), alike in groupby(rest, lambda one: (one.key.rpartition(".")[0], one.unit)):
        figures = tuple(alike)
        yield from (UnusualGroup(group, figures),) if unit and len(figures) > 1 else figures


def _unusual(keys: Any, table: Mapping[str, Range]) -> Iterator[Unusual]:
    for key, (low, high) in table.items():
        value = value_at(keys, key)
        if value is None or low <= value <= high:
            continue
        rest = round(1.0 - value, 6)
        is_meant = key.rpartition(".")[2] in SHARES and low <= rest <= high
        unit, meant = ("", rest) if is_meant else meant_for(key, value, low, high)
        # What is judged has no point that a hand loses.
        meant = None if table is OF_SEASON and not unit and not is_meant else meant
        yield Unusual(key, value, low, high, meant, unit)


def _capacity(battery: Battery) -> Iterator[Unusual]:
    most_ah = MOST_WH / battery.voltage_v
    if battery.capacity_ah < LEAST_AH:
        yield Unusual("battery.capacity_ah", battery.capacity_ah, LEAST_AH, most_ah, None)
    low, high = OF_STATION["battery.voltage_v"]
    if low <= battery.voltage_v <= high and battery.capacity_ah > most_ah:
        meant = round(battery.capacity_ah / battery.voltage_v, 1)
        yield Unusual("battery.capacity_ah", battery.capacity_ah, 0.0, most_ah, meant, "watt-hours")
