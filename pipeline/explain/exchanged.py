"""Pairs of figures whose order is known: who has them the other way about has most likely exchanged the two.

What is usual is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import reduce
from typing import Any

from pipeline.explain.slip_values import Exchanged
from pipeline.inputs.model import Season, Station

Range = tuple[float, float]
# The key of the lesser figure and what is usual for it, then those of the greater one.
Pair = tuple[str, Range, str, Range]
OF_SEASON: tuple[Pair, ...] = (
    ("policy.hour_cost", (0.0005, 0.1), "policy.night_cost", (0.05, 3.0)),
    ("policy.setup_minutes.check", (5.0, 240.0), "policy.setup_minutes.arrive", (10.0, 600.0)),
    ("policy.setup_minutes.align", (5.0, 300.0), "policy.setup_minutes.arrive", (10.0, 600.0)),
    ("policy.setup_minutes.check", (5.0, 240.0), "policy.setup_minutes.align", (5.0, 300.0)),
)
OF_STATION: tuple[Pair, ...] = (
    ("battery.receive_a", (0.05, 30.0), "battery.transmit_a", (0.5, 300.0)),
    ("battery.voltage_v", (5.0, 60.0), "battery.capacity_ah", (61.0, 2000.0)),
    ("battery.minimum_voltage_v", (4.0, 60.0), "battery.voltage_v", (5.0, 60.0)),
    ("minimum_elevation_deg", (0.5, 30.0), "mount.maximum_elevation_deg", (40.0, 180.0)),
)
# Below the band's name.
OF_BAND: tuple[Pair, ...] = (
    ("loss_before_preamplifier_db", (0.0, 0.3), "noise_figure_db", (0.35, 2.0)),
    ("antenna.dish_diameter_m", (0.4, 10.0), "power_w", (13.0, 400.0)),
    ("antenna.beamwidth_deg", (0.1, 15.0), "antenna.gain_dbi", (18.0, 60.0)),
)
# How far apart two figures stand that are not equal by habit.
LEAST_RATIO = 1.01


def exchanged_in_season(season: Season) -> tuple[Exchanged, ...]:
    """Of the policy."""
    return tuple(_exchanged(season, OF_SEASON, ""))


def exchanged_in_station(station: Station) -> tuple[Exchanged, ...]:
    """Of what a station file says beside its bands."""
    return tuple(_exchanged(station, OF_STATION, ""))


def exchanged_on_band(station: Station, band: str) -> tuple[Exchanged, ...]:
    """Of a band's equipment."""
    return tuple(_exchanged(station.bands[band], OF_BAND, f"bands.{band}."))


def _exchanged(keys: Any, pairs: tuple[Pair, ...], before: str) -> Iterator[Exchanged]:
    told: set[str] = set()
    for lesser, usual, greater, usual_greater in pairs:
        one, other = (value_at(keys, key) for key in (lesser, greater))
        if told & {lesser, greater} or one is None or other is None or one < LEAST_RATIO * other or other <= 0.0:
            continue
        if usual[0] <= other <= usual[1] and usual_greater[0] <= one <= usual_greater[1]:
            told |= {lesser, greater}
            yield Exchanged(before + lesser, before + greater, one, other)


def value_at(keys: Any, dotted: str) -> float | None:
    """The figure of a dotted key; None where it is left out."""

    def inner(group: Any, name: str) -> Any:
        return group.get(name) if isinstance(group, Mapping) else getattr(group, name, None)

    found = reduce(inner, dotted.split("."), keys)
    return found if isinstance(found, int | float) else None
