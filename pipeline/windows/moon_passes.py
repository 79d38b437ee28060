"""When each station's rules let it see the Moon: all passes of a period, none missed, edges to 0.1 s.

Hours that lie above or below a skyline whole, and crossings of a level one, are settled by `heights`; the rest by
halving intervals until bounds on the Moon's motion decide each one: an interval is kept whole where it must be open or
must be closed, so a pass of a second is found as surely as one of ten hours.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import geometric_deg, refraction_deg
from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites, see_moon
from pipeline.windows.heights import Arcs, Course, arcs_of, course_of, find_crossings, heights, parted, settle
from pipeline.windows.rules import Rules

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Bounds decide most intervals of a quarter of an hour at once; wider ones save nothing.
FIRST_STEP_S = 960.0
PARTS_OF_HOUR = 4
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


@dataclass(frozen=True)
class MoonLook:
    """A Look at the real Moon. With `refraction` the elevation is the apparent one (ITU-R P.834)."""

    sky: Sky
    sites: Sites
    refraction: bool

    def __call__(self, station: IntArray, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Azimuth and elevation, degrees; stations and times broadcast."""
        chosen = self.sites.take(station)
        moon = see_moon(self.sky, chosen, time_s)
        lift = refraction_deg(moon.elevation_deg, chosen.height_m) if self.refraction else 0.0
        return moon.azimuth_deg, moon.elevation_deg + lift

    def sine_of(self, elevation_deg: FloatArray) -> FloatArray:
        """The sine of the geometric elevation at which each station (n,) sees the Moon so high, degrees."""
        if not self.refraction:
            return np.sin(np.radians(elevation_deg))
        return np.sin(np.radians(geometric_deg(elevation_deg, self.sites.height_m)))


def look_at_moon(sky: Sky, sites: Sites, refraction: bool) -> MoonLook:
    """A Look at the real Moon from these stations."""
    return MoonLook(sky, sites, refraction)


@dataclass(frozen=True)
class _Pieces:
    """Open pieces of stations, s, (n,) each, and what is undecided yet: middles (m,) of intervals of one half width."""

    owner: IntArray
    begin_s: FloatArray
    end_s: FloatArray
    undecided: IntArray
    middle_s: FloatArray
    half_s: float


def find_passes(look: Look, rules: Rules, stations: int, start_s: float, end_s: float) -> list[MoonPasses]:
    """The passes of each station between two times, in order; a list of `stations` entries."""
    if isinstance(look, MoonLook):
        first = dataclasses.replace(look, sites=look.sites.take(np.arange(stations)))
        found = _by_hours(first, rules, start_s, end_s)
    else:
        found = _nothing_known(stations, start_s, end_s)
    pieces = [(found.owner, found.begin_s, found.end_s)]
    owner, middle, half = found.undecided, found.middle_s, found.half_s
    while owner.size:
        azimuth, elevation = look(owner, middle)
        low, high = rules.bounds(owner, azimuth, elevation, half)
        is_open, undecided = low >= 0.0, (low < 0.0) & (high >= 0.0)
        if 2 * half <= EDGE_S:
            is_open |= undecided & (rules.clearances(owner, azimuth, elevation).min(axis=0) >= 0.0)
            undecided[:] = False
        pieces.append((owner[is_open], middle[is_open] - half, middle[is_open] + half))
        half /= 2.0
        owner = np.repeat(owner[undecided], 2)
        middle = (middle[undecided][:, None] + np.array([-half, half])).ravel()
    owner, begin, end = _joined(*(np.concatenate(parts) for parts in zip(*pieces, strict=True)))
    edges = begin - EDGE_S, end + EDGE_S
    opened, closed = (_rule_broken(owner, edge, look, rules) for edge in edges)
    opened = np.where(begin <= start_s + EDGE_S / 4, PERIOD_EDGE, opened)
    closed = np.where(end >= end_s - EDGE_S / 4, PERIOD_EDGE, closed)
    bounds = np.searchsorted(owner, np.arange(stations + 1))
    return [
        MoonPasses(begin[low:high], end[low:high], opened[low:high], closed[low:high])
        for low, high in itertools.pairwise(bounds)
    ]


def _nothing_known(stations: int, start_s: float, end_s: float) -> _Pieces:
    """All of the stretch is undecided, in intervals of a quarter of an hour."""
    count = max(1, int(np.ceil((end_s - start_s) / FIRST_STEP_S)))
    half = (end_s - start_s) / count / 2.0
    middle = start_s + half * (2.0 * np.arange(count, dtype=np.float64) + 1.0)
    nothing = np.zeros(0)
    return _Pieces(
        np.zeros(0, dtype=np.int64),
        nothing,
        nothing,
        np.repeat(np.arange(stations), count),
        np.tile(middle, stations),
        half,
    )


def _by_hours(look: MoonLook, rules: Rules, start_s: float, end_s: float) -> _Pieces:
    """What the Moon's course settles: hours above and below every skyline, and crossings of a level one.

    Undecided are hours between the lowest and the highest point of a skyline, and those that a mount may bound.
    """
    course = course_of(look.sky, start_s, end_s)
    least, most = (np.maximum(mask, rules.minimum_elevation_deg) for mask in (rules.mask_least, rules.mask_most))
    sines, level = look.sine_of(least), rules.is_level[:, None]
    curves = heights(course, look.sites, sines)
    hours = settle(course, *curves, course.step_s)
    is_open, crosses = hours.above & level, hours.crosses & level
    if not level.all():
        higher = heights(course, look.sites, look.sine_of(most))
        is_open |= settle(course, *higher, course.step_s).above & rules.is_unbound[:, None]
    arcs = arcs_of(course, curves, *np.nonzero(crosses))
    station, begin, end = _runs(is_open, course.time_s)
    finer = _by_parts(course, arcs_of(course, curves, *np.nonzero(~(is_open | hours.below | crosses))), rules)
    arcs = Arcs.joined(arcs, finer.crossed)
    crossed_s = find_crossings(look.sky, look.sites, sines, arcs)
    return _Pieces(
        owner=np.concatenate([station, arcs.station, finer.owner]),
        begin_s=np.concatenate([begin, np.where(arcs.rises, crossed_s, arcs.begin_s), finer.begin_s]),
        end_s=np.concatenate([end, np.where(arcs.rises, arcs.begin_s + arcs.step_s, crossed_s), finer.end_s]),
        undecided=finer.undecided,
        middle_s=finer.middle_s,
        half_s=course.step_s / PARTS_OF_HOUR / 2.0,
    )


@dataclass(frozen=True)
class _Parts:
    """Parts of hours: open ones of stations, (n,), s; those in which the Moon crosses once; the middles of others."""

    owner: IntArray
    begin_s: FloatArray
    end_s: FloatArray
    crossed: Arcs
    undecided: IntArray
    middle_s: FloatArray


def _by_parts(course: Course, hours: Arcs, rules: Rules) -> _Parts:
    """What the cubics settle of hours (m,) in which the Moon turns near its cone: by quarters, (m, parts)."""
    step = course.step_s / PARTS_OF_HOUR
    height, rate = parted(hours, PARTS_OF_HOUR)
    settled, level = settle(course, height, rate, step), rules.is_level[hours.station][:, None]
    owner = np.repeat(hours.station, PARTS_OF_HOUR).reshape(-1, PARTS_OF_HOUR)
    begin = hours.begin_s[:, None] + step * np.arange(PARTS_OF_HOUR)
    is_open, crosses = settled.above & level, settled.crosses & level
    undecided = ~(is_open | settled.below | crosses)
    ends = (np.stack([curve[:, :-1][crosses], curve[:, 1:][crosses]]) for curve in (height, rate))
    return _Parts(
        owner[is_open],
        begin[is_open],
        begin[is_open] + step,
        Arcs(owner[crosses], begin[crosses], np.full(int(crosses.sum()), step), *ends),
        owner[undecided],
        begin[undecided] + step / 2.0,
    )


def _runs(is_open: npt.NDArray[np.bool_], node_s: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Hours (stations, n - 1) that are open one after the other as one piece: station, begin and end, s."""
    edge = np.diff(np.pad(is_open.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    station, first = np.nonzero(edge > 0)
    return station, node_s[first], node_s[np.nonzero(edge < 0)[1]]


def _joined(owner: IntArray, begin: FloatArray, end: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Open pieces of one station that touch are one pass; by station, then by time."""
    order = np.lexsort((begin, owner))
    owner, begin, end = owner[order], begin[order], end[order]
    apart = (owner[1:] != owner[:-1]) | (begin[1:] - end[:-1] > EDGE_S / 4)
    first, last = np.append(True, apart)[: owner.size], np.append(apart, True)[: owner.size]
    return owner[first], begin[first], end[last]


def _rule_broken(owner: IntArray, time_s: FloatArray, look: Look, rules: Rules) -> IntArray:
    """The rule that is missed most at an instant just outside a pass: what opens or closes it."""
    found = rules.level_rule[owner]
    asked = np.flatnonzero(~rules.is_level[owner])
    azimuth, elevation = look(owner[asked], time_s[asked])
    found[asked] = np.argmin(rules.clearances(owner[asked], azimuth, elevation), axis=0)
    return found


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
