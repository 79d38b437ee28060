"""One end of a proposed time: where the Moon stands there, over which skyline, and whether someone is at the dish.

From the survey's Moon and rules and the files' hours.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from pipeline.agenda import hours
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.proposal_ground import Ground
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.model import Station
from pipeline.windows.instants import instant_of_minute


class Free(Enum):
    """Whether someone is at a dish during the slot, by the file and the policy; the first that holds."""

    AWAY = "away"
    NIGHT_LEFT_OUT = "night left out"
    TOO_LATE = "too late before a work day"
    OUTSIDE_HOURS = "outside hours"
    INSIDE_HOURS = "inside hours"


@dataclass(frozen=True)
class EndThen:
    """One end: the Moon at the slot's start and end, the skyline below it, rules that hide it at the start.

    Angles in degrees, two each but for `missed`: (rule of `windows.rules`, degrees short). `asleep` is whether any of
    the slot lies where people usually sleep.
    """

    station: Station
    zone: dt.tzinfo
    azimuth_deg: tuple[float, float]
    elevation_deg: tuple[float, float]
    skyline_deg: tuple[float, float]
    missed: tuple[tuple[int, float], ...]
    free: Free
    asleep: bool


def both_ends(ground: Ground, slot: Candidates) -> tuple[EndThen, EndThen]:
    """Home and the partner."""
    grid, pair, night = ground.grid, int(slot.pair[0]), int(slot.night[0])
    survey, home = ground.survey.on(night), grid.inputs.home_on(grid.period.dates[night])
    times = np.array([survey.sky.seconds(instant_of_minute(int(edge[0]))) for edge in (slot.start, slot.end)])
    owner = np.array([0, pair + 1])[:, None]
    azimuth, elevation = (np.broadcast_to(angle, (2, 2)) for angle in survey.look(owner, times[None, :]))
    rules = survey.standpoints.rules
    skyline = rules.mask(np.broadcast_to(owner, (2, 2)), azimuth)
    clear = rules.clearances(np.broadcast_to(owner, (2, 2)), azimuth, elevation)[:, :, 0]
    made = []
    for row, station in enumerate((home, grid.inputs.partners[pair])):
        zone = grid.period.zone if row == 0 else hours.zone_of(station)
        made.append(
            EndThen(
                station=station,
                zone=zone,
                azimuth_deg=_two(azimuth[row]),
                elevation_deg=_two(elevation[row]),
                skyline_deg=_two(skyline[row]),
                missed=tuple((rule, -float(short)) for rule, short in enumerate(clear[:, row]) if short < 0.0),
                free=_free(grid, slot, station, is_home=row == 0),
                asleep=_asleep(slot, zone),
            )
        )
    return made[0], made[1]


def _two(values: npt.NDArray[np.float64]) -> tuple[float, float]:
    """Both values of an array, (2,), of any unit."""
    return float(values[0]), float(values[1])


def _free(grid: SlotGrid, slot: Candidates, station: Station, is_home: bool) -> Free:
    """Whether the station's file and, at home, the policy leave every minute of the slot."""
    minute = np.arange(int(slot.start[0]), int(slot.end[0]))
    first, last = (instant_of_minute(int(edge[0])) for edge in (slot.start, slot.end))
    edges = first - hours.DAY, last + hours.DAY
    date, policy = grid.period.dates[int(slot.night[0])], grid.inputs.season.policy
    if hours.inside(hours.excepted_stretches(station, *edges), minute).any() or (is_home and station.is_away(date)):
        return Free.AWAY
    if is_home and not grid.inputs.is_possible(date):
        return Free.NIGHT_LEFT_OUT
    latest = policy.latest_hour_on_work_nights
    if is_home and latest is not None:
        late = hours.late_stretches(latest, grid.period.zone, *edges, station.is_holiday)
        if hours.inside(late, minute).any():
            return Free.TOO_LATE
    inside = hours.inside(hours.available_stretches(station, *edges), minute)
    return Free.INSIDE_HOURS if inside.all() else Free.OUTSIDE_HOURS


def _asleep(slot: Candidates, zone: dt.tzinfo) -> bool:
    """Whether any of it lies outside the hours at which people are usually awake."""
    awake = hours.USUAL_HOURS[0]
    minutes = range(int(slot.start[0]), int(slot.end[0]))
    clocks = [instant_of_minute(minute).astimezone(zone).time() for minute in minutes]
    return any(not awake.start <= clock < awake.until for clock in clocks)
