"""What a station has word for word of another one: a file made by copying, in which the other's was left.

Neighbours may share a hill, and many have the same dish; what is told is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pipeline.explain.oddities import Oddity
from pipeline.explain.slip_values import Copied
from pipeline.inputs.model import Station

# A locator so long names a house, and a skyline of so many points no other place has.
LONG_LOCATOR, LEAST_POINTS = 8, 3
# Equipment of which so many figures are stated, and hours of so many stretches, are hardly the same by chance.
LEAST_STATED, LEAST_STRETCHES = 5, 2
STATED = (
    "antenna", "power_w", "noise_figure_db", "loss_before_preamplifier_db", "spillover_fraction", "polarization",
    "pointing_error_deg", "frequency_accuracy_hz", "modes",
)  # fmt: skip


def copied_oddities(station: Station, others: Sequence[Station]) -> tuple[Oddity, ...]:
    """What is the very same as in the first such of the other stations; these are told of elsewhere."""
    return tuple(_copied(station, others))


def _copied(station: Station, others: Sequence[Station]) -> Iterator[Oddity]:
    for other in others:
        keys = _same(station, other)
        if keys:
            yield Copied(keys, other.call, other.file)
            return


def _same(one: Station, other: Station) -> tuple[str, ...]:
    """The keys that were most likely left from the other's file."""
    reached = tuple(
        key for key in ("email", "telephone") if getattr(one, key) and getattr(one, key) == getattr(other, key)
    )
    place = one.position == other.position
    skyline = len(one.horizon) >= LEAST_POINTS and one.horizon == other.horizon and one.terrain is None
    hours = isinstance(one.available, tuple) and one.available == other.available
    bands = _equipment(one) == _equipment(other) and _stated(one) >= LEAST_STATED
    zone = one.time_zone is not None and one.time_zone == other.time_zone
    exact = one.position.locator is None or len(one.position.locator) >= LONG_LOCATOR
    many_hours = hours and len(one.available or ()) >= LEAST_STRETCHES
    left_there = place and (exact or one.position.height_m != 0.0 or skyline or bands)
    if left_there or skyline or (bands and zone and many_hours):
        marks = (place, zone, skyline, hours, bands)
        names = ("position", "time_zone", "horizon", "available", "bands")
        return (*reached, *(name for name, mark in zip(names, marks, strict=True) if mark))
    return reached


def _equipment(station: Station) -> dict[str, object]:
    """The bands that its file states."""
    return {band: one for band, one in station.bands.items() if f"bands.{band}" not in station.assumed}


def _stated(station: Station) -> int:
    """How many figures of the fullest band its file states."""
    return max(
        (sum(f"bands.{band}.{key}" not in station.assumed for key in STATED) for band in _equipment(station)),
        default=0,
    )
