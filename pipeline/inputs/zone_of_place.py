"""The time zones that a place may be in, by boundaries, and whether their clocks agree.

Boundaries are those that OpenStreetMap's contributors drew (Open Database Licence), simplified to 111 m, in the package
tzfpy. A locator leaves its whole cell open; at sea a coast within a degree lends its zone, else longitude does.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Iterator
from functools import cache
from zoneinfo import ZoneInfo

from pipeline.inputs.locator import cells

# Winter and summer of the northern half of the Earth.
SAMPLES = (dt.datetime(2027, 1, 15, 12), dt.datetime(2027, 7, 15, 12))
# Clocks are compared every week of a year.
WEEKS = tuple(dt.datetime(2027, 1, 1, 12) + dt.timedelta(weeks=week) for week in range(53))
# A cell is looked at in so many rows and columns; between them seven kilometres at most are left out.
ROWS = 15
# How far from a coast its zone is still taken, and in which steps it is looked for.
COAST_DEG, STEP_DEG, BEARINGS = 1.0, 0.1, 24
AT_SEA = "Etc/"
MINUS = "−"


def zone_of(latitude_deg: float, longitude_deg: float) -> str:
    """The zone of a place known by its coordinates."""
    return zones_near(latitude_deg, longitude_deg)[0]


def zones_open(latitude_deg: float, longitude_deg: float, locator: str | None) -> tuple[str, ...]:
    """The zones of a place, one of each clock, the one with the most of the locator's cell first.

    One zone alone leaves no doubt of the clock there. Where two of one clock share a cell, its middle's is named.
    """
    if locator is None:
        found = Counter(zones_near(latitude_deg, longitude_deg))
    else:
        found = Counter(zone for place in grid(locator) for zone in zones_at(*place))
    if not found:
        found = Counter(zones_near(latitude_deg, longitude_deg))
    middle = zone_of(latitude_deg, longitude_deg)
    shares: Counter[tuple[dt.timedelta | None, ...]] = Counter()
    names: dict[tuple[dt.timedelta | None, ...], str] = {}
    for zone, count in sorted(found.items(), key=lambda one: (one[0] != middle, -one[1], one[0])):
        shares[clock(zone)] += count
        names.setdefault(clock(zone), zone)
    return tuple(names[one] for one, _ in shares.most_common())


def is_plain(zones: tuple[str, ...]) -> bool:
    """Whether they leave no doubt of the clock: one, of a land."""
    return len(zones) == 1 and not zones[0].startswith(AT_SEA)


def grid(locator: str) -> Iterator[tuple[float, float]]:
    """Places all over a locator's cell, latitude and longitude in degrees."""
    south, west, height, width = cells(locator)
    for row in range(ROWS):
        for column in range(ROWS):
            yield south + (row + 0.5) / ROWS * height, west + (column + 0.5) / ROWS * width


def zones_near(latitude_deg: float, longitude_deg: float) -> tuple[str, ...]:
    """The zones of a place, of the nearest coast where it lies at sea, or of its longitude; never empty."""
    if found := zones_at(latitude_deg, longitude_deg):
        return found
    for step in range(1, round(COAST_DEG / STEP_DEG) + 1):
        around = (_away(latitude_deg, longitude_deg, step * STEP_DEG, turn / BEARINGS) for turn in range(BEARINGS))
        if found := tuple(dict.fromkeys(zone for place in around for zone in zones_at(*place))):
            return found
    ahead_h = round(longitude_deg / 15.0)
    return (f"{AT_SEA}GMT{-ahead_h:+d}" if ahead_h else f"{AT_SEA}GMT",)


def zones_at(latitude_deg: float, longitude_deg: float) -> tuple[str, ...]:
    """The zones of land and its own waters at a point, none at sea; more than one where countries or habits differ."""
    from tzfpy import get_tz, get_tzs

    from pipeline.inputs.scalars import zone_names  # which reads times of day by abbreviations of zones

    found = get_tzs(longitude_deg, latitude_deg)
    first = get_tz(longitude_deg, latitude_deg)
    ordered = sorted(found, key=lambda zone: zone != first)
    return tuple(zone for zone in ordered if not zone.startswith(AT_SEA) and zone in zone_names())


def _away(latitude_deg: float, longitude_deg: float, away_deg: float, turn: float) -> tuple[float, float]:
    """A place so far away, `turn` of a whole turn from north; flat, which serves for a degree."""
    north = latitude_deg + away_deg * math.cos(2.0 * math.pi * turn)
    east = away_deg * math.sin(2.0 * math.pi * turn) / max(math.cos(math.radians(latitude_deg)), 0.01)
    return max(-90.0, min(90.0, north)), (longitude_deg + east + 180.0) % 360.0 - 180.0


@cache
def clock(name: str) -> tuple[dt.timedelta | None, ...]:
    """How far a zone's clock is from UTC, week by week of a year: the same for zones whose clocks agree."""
    zone = ZoneInfo(name)
    return tuple(moment.replace(tzinfo=zone).utcoffset() for moment in WEEKS)


def offsets_min(name: str) -> tuple[float, float]:
    """Minutes from UTC in both samples."""
    zone = ZoneInfo(name)
    first, second = (sample.replace(tzinfo=zone).utcoffset() or dt.timedelta() for sample in SAMPLES)
    return first.total_seconds() / 60, second.total_seconds() / 60


def clock_told(name: str) -> str:
    """`UTC+13 in January, UTC+12 in July`, or `UTC+2 all year`."""
    january, july = (_offset_told(minutes) for minutes in offsets_min(name))
    return f"{january} all year" if len(set(clock(name))) == 1 else f"{january} in January, {july} in July"


def _offset_told(minutes: float) -> str:
    hours, rest = divmod(round(abs(minutes)), 60)
    if not hours and not rest:
        return "UTC"
    return f"UTC{MINUS if minutes < 0 else '+'}{hours}" + (f":{rest:02d}" if rest else "")


def zones_told(zones: tuple[str, ...], most: int = 4) -> str:
    """`Pacific/Auckland (UTC+13 in January, UTC+12 in July) or Pacific/Chatham (...)`; those beyond are counted."""
    told = [f"{zone} ({clock_told(zone)})" for zone in zones[:most]]
    beyond = [f"one of {len(zones) - most} more"] if len(zones) > most else []
    *first, last = [*told, *beyond]
    return f"{', '.join(first)} or {last}" if first else last
