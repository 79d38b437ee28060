"""Whom else to invite: how long each locator field that holds land shares the Moon with home on a night that is set up.

From the sky, home's free hours and the table `land_fields.txt`. Both ends have the Moon's centre above 5 degrees
(geometric, level horizons); who sleeps goes by the mean Sun at the field's middle.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

from pipeline.agenda import hours
from pipeline.agenda.candidates import home_stretches
from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Sites, make_sites, see_moon
from pipeline.inputs.locator import position_of
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import instant_of_minute, minutes_of
from pipeline.windows.nights import Nights

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

LEAST_ELEVATION_DEG = 5.0
# Longer than a piece of a free stretch ever is, minutes: what is shared is known to about as much.
STEP_MINUTES = 5
# Where a darker tone begins, minutes of shared Moon; less than the first is no use to anybody.
TONES_MINUTES = (15, 60, 120, 240)
# Asleep by the mean Sun, common practice, no source: from 23 to 7.
SLEEP_BEGINS_H, SLEEP_ENDS_H = 23.0, 7.0


@dataclass(frozen=True)
class BoardField:
    """One locator field: minutes of shared Moon, and when half of them are over (UTC, None where there are none)."""

    name: str
    shared_minutes: float
    middle: dt.datetime | None
    asleep: bool

    @property
    def tone(self) -> int:
        """0 for too little, then 1 to 4 the darker the longer."""
        return sum(self.shared_minutes >= least for least in TONES_MINUTES)


@dataclass(frozen=True)
class Board:
    """A night's fields by name, and home's free hours with the Moon above 5 degrees, first to last (UTC)."""

    night: dt.date
    free: tuple[dt.datetime, dt.datetime] | None
    fields: tuple[BoardField, ...]

    @property
    def darkest(self) -> int:
        """The darkest tone that any field has."""
        return max((field.tone for field in self.fields), default=0)


@cache
def land_fields() -> tuple[str, ...]:
    """Names of the fields that hold land, sorted."""
    text = (files("pipeline.data") / "land_fields.txt").read_text(encoding="utf-8")
    return tuple(sorted(text.split()))


@cache
def _middles() -> FloatArray:
    """Latitude and longitude of these fields, degrees, (n, 2)."""
    return np.array([position_of(name) for name in land_fields()])


def make_board(inputs: Inputs, sky: Sky, sites: Sites, period: Nights, night: int) -> Board:
    """The board of a night of the period; the first of `sites` is home."""
    names, places = land_fields(), _middles()
    fields = make_sites(sky, places[:, 0], places[:, 1], np.zeros(len(names)))
    edges = np.array([[minutes_of(edge) for edge in period.edges[night : night + 2]]], dtype=np.int64)
    middle, length = pieces_of(hours.overlap(home_stretches(inputs, period), edges))
    offset_s = sky.seconds(instant_of_minute(0))
    seen = see_moon(sky, sites.take([0]).against_times(), offset_s + middle * 60.0).elevation_deg[0]
    up = seen > LEAST_ELEVATION_DEG
    middle, length = middle[up], length[up]
    over = see_moon(sky, fields.against_times(), offset_s + middle * 60.0).elevation_deg > LEAST_ELEVATION_DEG
    shared = shared_minutes(over, length)
    half = half_way(over, length)
    return Board(
        night=period.dates[night],
        free=_edges(middle, length),
        fields=tuple(
            _field(name, float(minutes), float(middle[k]) if minutes > 0.0 else None, float(longitude))
            for name, minutes, k, longitude in zip(names, shared, half, places[:, 1], strict=True)
        ),
    )


def pieces_of(stretches: IntArray) -> tuple[FloatArray, FloatArray]:
    """Stretches (n, 2) in minutes cut into even pieces of STEP_MINUTES at most: middles and lengths, minutes, (m,)."""
    count = -(-(stretches[:, 1] - stretches[:, 0]) // STEP_MINUTES)
    length = np.repeat((stretches[:, 1] - stretches[:, 0]) / np.maximum(count, 1), count)
    place = np.arange(length.size) - np.repeat(np.cumsum(count) - count, count)
    return np.repeat(stretches[:, 0], count) + (place + 0.5) * length, length


def shared_minutes(over: npt.NDArray[np.bool_], length_minutes: FloatArray) -> FloatArray:
    """Minutes during which each field, (n,), has the Moon up; `over` (n, m) by field and piece."""
    return np.asarray(over @ length_minutes, dtype=float)


def half_way(over: npt.NDArray[np.bool_], length_minutes: FloatArray) -> IntArray:
    """The piece in which half of each field's shared minutes are over, (n,); 0 where there are none."""
    if not length_minutes.size:
        return np.zeros(over.shape[0], dtype=np.int64)
    gone = np.cumsum(over * length_minutes, axis=1)
    return np.asarray(np.argmax(gone >= gone[:, -1:] / 2.0, axis=1), dtype=np.int64)


def sleeps(minute: float, longitude_deg: float) -> bool:
    """Whether people sleep there by the mean Sun; `minute` since 1970, UTC."""
    hour = (minute / 60.0 + longitude_deg * hours.MINUTES_PER_DEGREE / 60.0) % 24.0
    return hour >= SLEEP_BEGINS_H or hour < SLEEP_ENDS_H


def _field(name: str, minutes: float, middle: float | None, longitude_deg: float) -> BoardField:
    if middle is None:
        return BoardField(name, 0.0, None, False)
    return BoardField(name, minutes, instant_of_minute(round(middle)), sleeps(middle, longitude_deg))


def _edges(middle: FloatArray, length: FloatArray) -> tuple[dt.datetime, dt.datetime] | None:
    if not middle.size:
        return None
    first, last = middle[0] - length[0] / 2.0, middle[-1] + length[-1] / 2.0
    return instant_of_minute(round(first)), instant_of_minute(round(last))
