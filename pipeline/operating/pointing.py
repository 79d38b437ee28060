"""A partner's own table through a slot: where to point and what to dial, every ten minutes.

From the plan's samples of the slot's window, smoothed to the minutes wanted; dials by `operating.dialing`. Directions
are carried as unit vectors, so that the table passes north and the zenith unharmed.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.operating.dialing import dial_shifts, shifts_of_samples
from pipeline.windows.instants import as_instant

if TYPE_CHECKING:
    from pipeline.plan.views import PartnerView

FloatArray = npt.NDArray[np.float64]
STEP = dt.timedelta(minutes=10)


@dataclass(frozen=True)
class Pointing:
    """One line: apparent elevation, frequencies to set in Hz, and the shift of home's signal as it arrives."""

    time_utc: dt.datetime
    azimuth_deg: float
    elevation_deg: float
    receive_hz: float
    transmit_hz: float
    shift_hz: float


def moments(start: dt.datetime, end: dt.datetime) -> list[dt.datetime]:
    """The start, every ten minutes after it, and the end."""
    inner = [start + STEP * number for number in range(int((end - start) / STEP) + 1)]
    return inner if inner[-1] == end else [*inner, end]


@dataclass(frozen=True, eq=False)
class _Asked:
    """A view, alike another where that one would be answered alike: a letter asks many times, in two languages."""

    view: PartnerView

    @property
    def _key(self) -> tuple[object, ...]:
        one = self.view
        return id(one.windows), id(one.samples), one.policy.dialing, one.home_mhz, one.partner_mhz

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self._key == other._key

    def __hash__(self) -> int:
        return hash(self._key)


def pointing_table(view: PartnerView, start: dt.datetime, end: dt.datetime) -> tuple[Pointing, ...]:
    """The partner's lines from start to end; empty where no window holds them."""
    return _table(_Asked(view), start, end)


# As many as the times that one letter tells; what is held keeps its tables, so that no other takes their place.
@lru_cache(maxsize=32)
def _table(asked: _Asked, start: dt.datetime, end: dt.datetime) -> tuple[Pointing, ...]:
    view = asked.view
    samples = window_samples(view, start, end)
    if samples.empty:
        return ()
    first, last = samples["time_utc"].iloc[0], samples["time_utc"].iloc[-1]
    times = pd.DatetimeIndex([moment for moment in moments(start, end) if first <= moment <= last])
    if not len(times):
        return ()
    azimuth, elevation = directions(samples, times)
    shifts = shifts_of_samples(samples, times)
    dials = dial_shifts(view.policy.dialing, view.home_mhz, view.partner_mhz, shifts)
    return tuple(
        Pointing(as_instant(time), *(float(value) for value in values))
        for time, *values in zip(
            times,
            azimuth,
            elevation,
            dials.partner_receive_hz,
            dials.partner_transmit_hz,
            shifts.home_to_partner_hz,
            strict=True,
        )
    )


def window_samples(view: PartnerView, start: dt.datetime, end: dt.datetime) -> pd.DataFrame:
    """The partner's samples of the window that holds the stretch, by time; empty where there is none."""
    samples, own = view.samples, view.windows
    middle = pd.Timestamp(start + (end - start) / 2)
    held = ((own["window_start_utc"] <= middle) & (own["window_end_utc"] >= middle)).to_numpy()
    if not held.any():
        return samples.iloc[:0]
    opens, closes = (own[f"window_{edge}_utc"].iloc[int(held.argmax())] for edge in ("start", "end"))
    times = samples["time_utc"]
    inside = samples.iloc[times.searchsorted(opens) : times.searchsorted(closes, side="right")]
    # Two samples of one instant stand beside each other.
    return inside if inside["time_utc"].is_unique else inside.drop_duplicates("time_utc")


def directions(samples: pd.DataFrame, times: pd.DatetimeIndex) -> tuple[FloatArray, FloatArray]:
    """Azimuth and apparent elevation in degrees at the partner, each (n,), at times among the samples."""
    from scipy.interpolate import make_interp_spline

    instants = pd.DatetimeIndex(samples["time_utc"])
    at = np.asarray((instants - instants[0]) / pd.Timedelta(seconds=1), dtype=float)
    now = np.clip(np.asarray((times - instants[0]) / pd.Timedelta(seconds=1), dtype=float), at[0], at[-1])
    azimuth = np.radians(samples["partner_azimuth_deg"].to_numpy(dtype=float))
    elevation = np.radians(samples["partner_elevation_deg"].to_numpy(dtype=float))
    vectors = np.stack(
        [np.cos(elevation) * np.sin(azimuth), np.cos(elevation) * np.cos(azimuth), np.sin(elevation)], axis=1
    )
    order = min(3, at.size - 1)
    if order == 0:
        east, north, up = np.repeat(vectors, now.size, axis=0).T
    else:
        east, north, up = make_interp_spline(at, vectors, k=order)(now).T
    # Refraction bends most at the horizon and changes fast there: straight lines never overshoot.
    lift = np.interp(now, at, samples["partner_refraction_deg"].to_numpy(dtype=float))
    geometric = np.degrees(np.arctan2(up, np.hypot(east, north)))
    return np.asarray(np.degrees(np.arctan2(east, north)) % 360.0), np.asarray(geometric + lift)
