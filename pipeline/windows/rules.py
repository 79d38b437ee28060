"""What a station needs of the Moon, as clearances in degrees: positive where the rule is met, and bounds over an arc.

Rules: the horizon (mask), the minimum elevation, the mount's reach in elevation and in azimuth. From azimuths and
elevations; the bounds rest on the fact that the Moon moves less than 0.26 degree a minute over any station's sky.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Station, mask_arrays

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION, MOUNT_AZIMUTH = range(4)
RULES = ("horizon", "minimum elevation", "mount elevation", "mount azimuth")

# Earth's spin of 15.04 degrees an hour, less the Moon's own motion, plus parallax (1.7 %), with a margin.
FASTEST_MOON_DEG_PER_S = 15.6 / 3600.0
# A mount without stops: any azimuth clears by this much.
ALWAYS_DEG = 1000.0
# Each mask is repeated two turns to either side, so that no arc needs folding at north, and the masks of all stations
# stand on one axis, further apart than five turns, so that one interpolation serves them all.
TURNS_DEG = (-720.0, -360.0, 0.0, 360.0, 720.0)
STATION_STRIDE = 2000.0


@dataclass(frozen=True)
class Rules:
    """The rules of n stations as arrays. `mask_axis`/`mask_deg` (m,) hold all masks on one axis, a stride a station."""

    mask_axis: FloatArray
    mask_deg: FloatArray
    # Row k: least and greatest mask of the 2^k points from each on (sparse tables for the range of any arc).
    arc_least: FloatArray
    arc_most: FloatArray
    mask_least: FloatArray  # (n,): over the whole turn
    mask_most: FloatArray
    minimum_elevation_deg: FloatArray
    maximum_elevation_deg: FloatArray
    azimuth_from_deg: FloatArray
    azimuth_span_deg: FloatArray  # 360 where the mount has no stops

    @property
    def is_unbound(self) -> npt.NDArray[np.bool_]:
        """Whether each station's mount, (n,), reaches wherever the Moon is."""
        return (self.maximum_elevation_deg >= ALWAYS_DEG) & (self.azimuth_span_deg >= 360.0)

    @property
    def is_level(self) -> npt.NDArray[np.bool_]:
        """Whether one elevation all round is each station's only rule, (n,)."""
        return self.is_unbound & (self.mask_least == self.mask_most)

    @property
    def level_rule(self) -> IntArray:
        """The rule that asks for most at each station, (n,), where all round is alike."""
        return np.where(self.mask_most >= self.minimum_elevation_deg, HORIZON, MINIMUM_ELEVATION).astype(np.int64)

    def mask(self, station: IntArray, azimuth_deg: FloatArray) -> FloatArray:
        """Horizon of the stations (by index) at these azimuths, degrees; straight lines between points, cyclic.

        Stations and azimuths broadcast.
        """
        return np.interp(azimuth_deg % 360.0 + STATION_STRIDE * station, self.mask_axis, self.mask_deg)

    def clearances(self, station: IntArray, azimuth_deg: FloatArray, elevation_deg: FloatArray) -> FloatArray:
        """Degrees by which each rule is met, shape (4, ...); negative where it is broken."""
        return np.stack(
            [
                elevation_deg - self.mask(station, azimuth_deg),
                elevation_deg - self.minimum_elevation_deg[station],
                self.maximum_elevation_deg[station] - elevation_deg,
                self._into_reach(station, azimuth_deg),
            ]
        )

    def bounds(
        self, station: IntArray, azimuth_deg: FloatArray, elevation_deg: FloatArray, half_width_s: float
    ) -> tuple[FloatArray, FloatArray]:
        """Least and greatest clearance (of all rules together) that the Moon can have within +-half_width_s.

        Within that time it stays inside a circle about its place; the azimuth of such a circle spans asin(sin(radius) /
        cos(elevation)) to each side, or everything where the circle holds the zenith. All in degrees; stations and
        directions broadcast.
        """
        radius = FASTEST_MOON_DEG_PER_S * half_width_s
        reach = np.radians(radius) / np.maximum(np.cos(np.radians(elevation_deg)), 1e-9)
        width = np.where(reach < 0.5, np.degrees(reach) * 1.05, 360.0)  # asin(x) < 1.05 x below 0.5
        least_mask, most_mask = self.mask_least[station], self.mask_most[station]
        # Where the whole turn of the mask does not decide, the arc does.
        near = (elevation_deg - radius < most_mask) & (elevation_deg + radius >= least_mask)
        near &= (width < 180.0) & (least_mask < most_mask)
        if near.any():
            least_mask[near], most_mask[near] = self._mask_range(station[near], azimuth_deg[near], width[near])
        top = np.minimum(
            elevation_deg - self.minimum_elevation_deg[station], self.maximum_elevation_deg[station] - elevation_deg
        )
        stops = self._into_reach(station, azimuth_deg)
        low = np.minimum(np.minimum(elevation_deg - most_mask, top) - radius, stops - width)
        high = np.minimum(np.minimum(elevation_deg - least_mask, top) + radius, stops + width)
        return low, high

    def _into_reach(self, station: IntArray, azimuth_deg: FloatArray) -> FloatArray:
        """Degrees of azimuth to the nearer stop of the mount; negative outside its range."""
        span = self.azimuth_span_deg[station]
        after_start = (azimuth_deg - self.azimuth_from_deg[station]) % 360.0
        inside = after_start <= span
        into = np.where(
            inside,
            np.minimum(after_start, span - after_start),
            -np.minimum(after_start - span, 360.0 - after_start),
        )
        return np.where(span >= 360.0, ALWAYS_DEG, into)

    def _mask_range(
        self, station: IntArray, azimuth_deg: FloatArray, width_deg: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Least and greatest mask within +-width (below 180 degrees) of each azimuth: at the ends or a point within."""
        place = azimuth_deg % 360.0 + STATION_STRIDE * station
        ends = np.stack([place - width_deg, place + width_deg])
        at_ends = np.interp(ends, self.mask_axis, self.mask_deg)
        least, most = at_ends.min(axis=0), at_ends.max(axis=0)
        first = np.searchsorted(self.mask_axis, ends[0], side="left")
        count = np.searchsorted(self.mask_axis, ends[1], side="right") - first
        held = np.flatnonzero(count)
        if held.size:
            first, count = first[held], count[held]
            # Two runs of 2^level points, one from each end, cover the arc.
            level = np.frexp(count)[1] - 1
            last = first + count - 2**level
            least[held] = np.minimum(least[held], np.minimum(self.arc_least[level, first], self.arc_least[level, last]))
            most[held] = np.maximum(most[held], np.maximum(self.arc_most[level, first], self.arc_most[level, last]))
        return least, most


def _arc_table(values: FloatArray, better: np.ufunc) -> FloatArray:
    """Row k holds the least (or greatest) of the 2^k values from each on; short runs at the end are not asked for."""
    rows = [values]
    while 2 ** len(rows) <= values.size:
        step, row = 2 ** (len(rows) - 1), rows[-1].copy()
        row[:-step] = better(rows[-1][:-step], rows[-1][step:])
        rows.append(row)
    return np.array(rows)


def make_rules(stations: Sequence[Station], *, horizon_only: bool = False, open_sky: bool = False) -> Rules:
    """The rules of these stations; `horizon_only` drops minimum and mount, `open_sky` the mask as well."""
    axes, levels = [], []
    for index, station in enumerate(stations):
        azimuth, elevation = (np.zeros(1), np.zeros(1)) if open_sky else mask_arrays(station)
        axes.append(np.concatenate([azimuth + turn for turn in TURNS_DEG]) + STATION_STRIDE * index)
        levels.append(np.tile(elevation, len(TURNS_DEG)))
    axis, level = np.concatenate(axes), np.concatenate(levels)
    free = horizon_only or open_sky
    mounts = [station.mount for station in stations]
    stops = [not free and mount.azimuth_from_deg is not None and mount.azimuth_to_deg is not None for mount in mounts]
    begin = [mount.azimuth_from_deg or 0.0 if stop else 0.0 for mount, stop in zip(mounts, stops, strict=True)]
    span = [
        ((mount.azimuth_to_deg or 0.0) - first) % 360.0 or 360.0 if stop else 360.0
        for mount, first, stop in zip(mounts, begin, stops, strict=True)
    ]
    return Rules(
        mask_axis=axis,
        mask_deg=level,
        arc_least=_arc_table(level, np.minimum),
        arc_most=_arc_table(level, np.maximum),
        mask_least=np.array([one.min() for one in levels]),
        mask_most=np.array([one.max() for one in levels]),
        minimum_elevation_deg=np.array([-ALWAYS_DEG if free else s.minimum_elevation_deg for s in stations]),
        # Refraction lifts a Moon in the zenith to 90.003: a mount that reaches the zenith reaches that too.
        maximum_elevation_deg=np.array(
            [ALWAYS_DEG if free or m.maximum_elevation_deg >= 90.0 else m.maximum_elevation_deg for m in mounts]
        ),
        azimuth_from_deg=np.array(begin),
        azimuth_span_deg=np.array(span),
    )
