"""What the skyline costs by azimuth: the minutes of mutual windows that it would take if it stood higher there.

From every whole minute of a period's windows and the Moon's place over one station. What counts at an azimuth is the
station's skyline or its minimum elevation, whichever is higher.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.agenda.slot_grid import SlotGrid
from pipeline.outlook.usable_windows import in_usable_slots
from pipeline.outlook.worth import Worth
from pipeline.pairs.survey import Survey

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

# A skyline is measured in whole degrees of azimuth, each from half a degree before to half a degree after.
BINS = 360
# Beside what one degree costs: as much more as a line of trees stands over a bare ridge (judgement).
ONE_DEG, TREES_DEG = 1.0, 5.0
MINUTE_S = 60.0


@dataclass(frozen=True)
class SeenMinutes:
    """The Moon over a station in every minute of its windows, (m,): azimuth, and height over what counts there.

    `usable` tells which minutes lie in a slot that both ends can use.
    """

    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    over_deg: FloatArray
    usable: BoolArray


@dataclass(frozen=True)
class SkylineCost:
    """By whole degree of azimuth, (360,): what counts there now, and minutes lost if it stood one or five degrees more.

    `usable` minutes lie in slots that both ends can use, `any` in a mutual window at whatever hour. Minutes with two
    partners count twice.
    """

    counts_deg: FloatArray
    usable_one: IntArray
    usable_trees: IntArray
    any_one: IntArray
    any_trees: IntArray

    @property
    def order(self) -> IntArray:
        """Azimuths at which anything is lost, the dearest first: by usable minutes, then by any.

        Five degrees go before one: what a degree costs is the mean of the first five, for one alone is of a few nights.
        """
        crossed = np.flatnonzero(self.any_trees)
        keys = (self.any_one, self.any_trees, self.usable_one, self.usable_trees)
        return crossed[np.lexsort([crossed, *(-key[crossed] for key in keys)])]


def seen_minutes(survey: Survey, grid: SlotGrid, worth: Worth, station: int) -> SeenMinutes:
    """The windows of one standpoint of the survey: all of them for home (0), those of partner i for i + 1."""
    mine = np.flatnonzero((station == 0) | (grid.minutes.pair == station - 1))
    # A minute begins at its number since 1970; the Moon is taken in its middle.
    minute, place = np.unique(grid.minutes.minute[mine], return_inverse=True)
    time_s = np.asarray((minute + 0.5) * MINUTE_S - survey.sky.start.timestamp(), dtype=np.float64)
    azimuth, elevation = survey.look(np.full(minute.size, station), time_s)
    floor = counts_deg(survey, station, azimuth)
    usable = in_usable_slots(grid, worth.usable)[mine]
    return SeenMinutes(azimuth[place], elevation[place], (elevation - floor)[place], usable)


def counts_deg(survey: Survey, station: int, azimuth_deg: FloatArray) -> FloatArray:
    """The higher of skyline and minimum elevation at these azimuths, (n,), degrees."""
    rules = survey.standpoints.rules
    owner = np.full(azimuth_deg.size, station)
    return np.maximum(rules.mask(owner, azimuth_deg), rules.minimum_elevation_deg[station])


def skyline_cost(survey: Survey, station: int, seen: SeenMinutes) -> SkylineCost:
    """What is lost by whole degree of azimuth if the skyline rose there."""
    azimuth = np.rint(seen.azimuth_deg).astype(np.int64) % BINS

    def lost(rise_deg: float, among: BoolArray) -> IntArray:
        return np.bincount(azimuth[among & (seen.over_deg < rise_deg)], minlength=BINS)

    everything = np.ones(azimuth.size, dtype=bool)
    return SkylineCost(
        counts_deg=counts_deg(survey, station, np.arange(BINS, dtype=np.float64)),
        usable_one=lost(ONE_DEG, seen.usable),
        any_one=lost(ONE_DEG, everything),
        usable_trees=lost(TREES_DEG, seen.usable),
        any_trees=lost(TREES_DEG, everything),
    )
