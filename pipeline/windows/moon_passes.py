"""When each station's rules let it see the Moon: all passes of a period, none missed, edges to 0.1 s.

From rules and tracks, by halving intervals until bounds on the Moon's motion decide each one: an interval is kept
whole where it must be open or must be closed, so a pass of a second is found as surely as one of ten hours.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites, see_moon
from pipeline.windows.rules import Rules

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Bounds decide most intervals of a quarter of an hour at once; wider ones save nothing.
FIRST_STEP_S = 960.0
EDGE_S = 0.1
# What bounds a pass in place of a rule: the edge of the sky that was searched, or a lowest point of the Moon.
PERIOD_EDGE, LOWEST_POINT = -1, -2

# (station index, time_s) -> azimuth_deg, elevation_deg as the rules take them (apparent, or geometric by policy);
# stations and times broadcast.
Look = Callable[[IntArray, FloatArray], tuple[FloatArray, FloatArray]]


@dataclass(frozen=True)
class MoonPasses:
    """Passes of one station: times in s, (n,), and the rule (index, or PERIOD_EDGE) that opens and closes each."""

    start_s: FloatArray
    end_s: FloatArray
    opened_by: IntArray
    closed_by: IntArray


def look_at_moon(sky: Sky, sites: Sites, refraction: bool) -> Look:
    """A Look at the real Moon. With `refraction` the elevation is the apparent one (ITU-R P.834)."""

    def look(station: IntArray, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        chosen = sites.take(station)
        moon = see_moon(sky, chosen, time_s)
        lift = refraction_deg(moon.elevation_deg, chosen.height_m) if refraction else 0.0
        return moon.azimuth_deg, moon.elevation_deg + lift

    return look


def find_passes(look: Look, rules: Rules, stations: int, start_s: float, end_s: float) -> list[MoonPasses]:
    """The passes of each station between two times, in order; a list of `stations` entries."""
    count = max(1, int(np.ceil((end_s - start_s) / FIRST_STEP_S)))
    half = (end_s - start_s) / count / 2.0
    first = start_s + half * (2.0 * np.arange(count, dtype=np.float64) + 1.0)
    middle = np.tile(first, stations)
    owner = np.repeat(np.arange(stations), count)
    # All stations start from the same instants: a row of times and a column of stations place the Moon once for all.
    seen = look(np.arange(stations)[:, None], first[None, :])
    azimuth, elevation = (np.broadcast_to(angle, (stations, count)).flatten() for angle in seen)
    pieces: list[tuple[IntArray, FloatArray, FloatArray]] = []
    while True:
        low, high = rules.bounds(owner, azimuth, elevation, half)
        is_open, undecided = low >= 0.0, (low < 0.0) & (high >= 0.0)
        if 2 * half <= EDGE_S:
            is_open |= undecided & (rules.clearances(owner, azimuth, elevation).min(axis=0) >= 0.0)
            undecided[:] = False
        pieces.append((owner[is_open], middle[is_open] - half, middle[is_open] + half))
        half /= 2.0
        owner = np.repeat(owner[undecided], 2)
        middle = (middle[undecided][:, None] + np.array([-half, half])).ravel()
        if not owner.size:
            break
        azimuth, elevation = look(owner, middle)
    owner = np.concatenate([piece[0] for piece in pieces])
    begin = np.concatenate([piece[1] for piece in pieces])
    end = np.concatenate([piece[2] for piece in pieces])
    joined = [_join(begin[owner == i], end[owner == i]) for i in range(stations)]
    owner = np.repeat(np.arange(stations), [pass_begin.size for pass_begin, _ in joined])
    begin = np.concatenate([pass_begin for pass_begin, _ in joined])
    end = np.concatenate([pass_end for _, pass_end in joined])
    opened = np.where(begin <= start_s + EDGE_S / 4, PERIOD_EDGE, _rule_broken(owner, begin - EDGE_S, look, rules))
    closed = np.where(end >= end_s - EDGE_S / 4, PERIOD_EDGE, _rule_broken(owner, end + EDGE_S, look, rules))
    return [
        MoonPasses(begin[owner == i], end[owner == i], opened[owner == i], closed[owner == i]) for i in range(stations)
    ]


def _join(begin: FloatArray, end: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Open pieces of one station that touch are one pass."""
    order = np.argsort(begin)
    begin, end = begin[order], end[order]
    fresh = np.ones(begin.size, dtype=bool)
    fresh[1:] = begin[1:] - end[:-1] > EDGE_S / 4
    last = np.ones(begin.size, dtype=bool)
    last[:-1] = fresh[1:]
    return begin[fresh], end[last]


def _rule_broken(owner: IntArray, time_s: FloatArray, look: Look, rules: Rules) -> IntArray:
    """The rule that is missed most at an instant just outside a pass: what opens or closes it."""
    azimuth, elevation = look(owner, time_s)
    return np.argmin(rules.clearances(owner, azimuth, elevation), axis=0).astype(np.int64)


def split_at(passes: MoonPasses, edges_s: FloatArray) -> MoonPasses:
    """The passes parted at these times, s, (m,) in order: a Moon that does not set is parted at its lowest points."""
    first = np.searchsorted(edges_s, passes.start_s, side="right")
    count = np.searchsorted(edges_s, passes.end_s, side="left") - first
    row = np.repeat(np.arange(count.size), count + 1)
    place = np.arange(row.size) - np.repeat(np.cumsum(count + 1) - (count + 1), count + 1)
    is_first, is_last = place == 0, place == count[row]
    padded = np.append(edges_s, np.nan)
    at = first[row] + place
    return MoonPasses(
        start_s=np.where(is_first, passes.start_s[row], padded[np.where(is_first, -1, at - 1)]),
        end_s=np.where(is_last, passes.end_s[row], padded[np.where(is_last, -1, at)]),
        opened_by=np.where(is_first, passes.opened_by[row], LOWEST_POINT),
        closed_by=np.where(is_last, passes.closed_by[row], LOWEST_POINT),
    )


@dataclass(frozen=True)
class Overlaps:
    """Stretches in which one station and another see the Moon, (n,), sorted by the other station, then by time."""

    other: IntArray
    first_pass: IntArray
    other_pass: IntArray
    start_s: FloatArray
    end_s: FloatArray


def overlaps(first: MoonPasses, others: Sequence[MoonPasses]) -> Overlaps:
    """All stretches that one station shares with each of the others; passes are counted within their own station.

    Each other pass meets a run of the first's passes, which two binary searches find: n log n and not n times m.
    """
    sizes = [one.start_s.size for one in others]
    start, end = (
        np.concatenate([getattr(one, name) for one in others]) if others else np.zeros(0)
        for name in ("start_s", "end_s")
    )
    low = np.searchsorted(first.end_s, start, side="right")
    count = np.maximum(np.searchsorted(first.start_s, end, side="left") - low, 0)
    row = np.repeat(np.arange(start.size), count)
    first_pass = np.arange(row.size) - np.repeat(np.cumsum(count) - count, count) + np.repeat(low, count)
    begins = np.cumsum([0, *sizes])[:-1]
    other = np.repeat(np.arange(len(others)), sizes)[row]
    return Overlaps(
        other,
        first_pass,
        row - begins[other] if others else row,
        np.maximum(first.start_s[first_pass], start[row]),
        np.minimum(first.end_s[first_pass], end[row]),
    )
