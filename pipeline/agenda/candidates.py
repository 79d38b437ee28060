"""Where a slot could stand: every quarter hour inside a window at which nothing forbids it, and the chance it gives.

From windows, samples, both ends' hours and the season's policy, minute by minute on one axis through all windows; the
chance by `link.chance` from the margins in the middle of each period.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.agenda import hours
from pipeline.inputs.model import WEEKDAYS, Station, mask_arrays
from pipeline.inputs.modes import Mode
from pipeline.link.chance import node_weights, success_by_node
from pipeline.pairs.corrections import pair_spreads_db
from pipeline.pairs.equipment import beam_of, pair_frequency_mhz
from pipeline.pairs.outcomes import opener_of, window_axis
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import minutes_of
from pipeline.windows.nights import Nights

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# Slots begin on quarter hours of UTC; a stretch too short for a whole slot still serves from this length on, and from
# this many periods on, so that a miss or two can be made good.
GRID_MINUTES = 15
LEAST_MINUTES = 15
LEAST_PERIODS = 6


@dataclass(frozen=True)
class Track:
    """The samples on one rising axis, s, windows a day apart; (m,) each. `shift_s` (windows,) leads onto the axis."""

    axis_s: FloatArray
    shift_s: FloatArray
    margin_db: dict[str, FloatArray]
    sun_deg: FloatArray
    clear_deg: FloatArray

    def at(self, values: FloatArray, minute: npt.ArrayLike, window: IntArray) -> FloatArray:
        """A figure at these minutes of these windows; NaN where there is no window at all."""
        if not self.axis_s.size:
            return np.full(np.shape(minute), np.nan)
        return np.interp(np.asarray(minute, float) * 60.0 + self.shift_s[window], self.axis_s, values)


@dataclass(frozen=True)
class Minutes:
    """Every whole minute of every window, (m,): minutes since 1970, its window, pair and night, and what allows it."""

    minute: IntArray
    window: IntArray
    pair: IntArray
    night: IntArray
    home: BoolArray
    partner: BoolArray
    sun: BoolArray
    clear: BoolArray

    @property
    def free(self) -> BoolArray:
        """Whether a slot may hold the minute."""
        return self.home & self.partner & self.sun

    def of_pair(self, pair: int) -> Minutes:
        """One pair's."""
        return self.take(np.flatnonzero(self.pair == pair))

    def take(self, rows: IntArray | slice) -> Minutes:
        """Some of them."""
        return Minutes(**{field.name: getattr(self, field.name)[rows] for field in dataclasses.fields(self)})


@dataclass(frozen=True)
class Candidates:
    """Possible slots, (n,), in order of pair and time: start and end in minutes since 1970, and chance once known.

    `success` (n, nodes) is the chance at every node of station errors; rows of `link.chance.success_by_node`.
    """

    pair: IntArray
    window: IntArray
    night: IntArray
    start: IntArray
    end: IntArray
    chance: FloatArray
    success: FloatArray

    def take(self, rows: IntArray) -> Candidates:
        """Some of them."""
        return Candidates(**{field.name: getattr(self, field.name)[rows] for field in dataclasses.fields(self)})


def make_track(inputs: Inputs, windows: pd.DataFrame, samples: pd.DataFrame) -> Track:
    """The samples, ready to be read at any minute of a window."""
    time, window = _seconds(samples["time_utc"]), sample_windows(inputs, windows, samples)
    axis = window_axis(time, window)
    first = np.searchsorted(window, np.arange(len(windows)))
    return Track(
        axis_s=axis,
        shift_s=axis[first] - time[first] if len(windows) else np.zeros(0),
        margin_db={end: samples[f"margin_at_{end}_db"].to_numpy(float) for end in ("home", "partner")},
        sun_deg=samples[["home_sun_separation_deg", "partner_sun_separation_deg"]].min(axis=1).to_numpy(float),
        clear_deg=_clearance(inputs, samples),
    )


def sample_windows(inputs: Inputs, windows: pd.DataFrame, samples: pd.DataFrame) -> IntArray:
    """The window (row) of each sample."""
    place = {station.call: number for number, station in enumerate(inputs.partners)}
    pairs = [frame["partner"].map(place).to_numpy(np.int64) for frame in (windows, samples)]
    starts, times = _seconds(windows["window_start_utc"]), _seconds(samples["time_utc"])
    # Windows of one pair never touch: the last one begun is the sample's.
    far = 1e7 + max(times.max(initial=0.0) - starts.min(initial=0.0), 0.0)
    base = starts.min(initial=0.0)
    return np.searchsorted(starts - base + far * pairs[0], times - base + far * pairs[1], side="right") - 1


def _seconds(column: pd.Series) -> FloatArray:
    """Seconds since 1970, to the microsecond."""
    return pd.DatetimeIndex(column).as_unit("us").asi8 / 1e6


def _clearance(inputs: Inputs, samples: pd.DataFrame) -> FloatArray:
    """Degrees by which the Moon stands further above the skyline than half a beam, at the end that has less."""
    least = np.full(len(samples), np.inf)
    calls = samples["partner"].to_numpy()
    for partner, band in zip(inputs.partners, inputs.bands, strict=True):
        rows = np.flatnonzero(calls == partner.call)
        frequency = pair_frequency_mhz(inputs, band)
        for end, station in (("home", inputs.home), ("partner", partner)):
            azimuth, mask = mask_arrays(station)
            skyline = np.interp(samples[f"{end}_azimuth_deg"].to_numpy()[rows], azimuth, mask, period=360.0)
            elevation = (samples[f"{end}_elevation_deg"] + samples[f"{end}_refraction_deg"]).to_numpy()[rows]
            half = beam_of(station, band, frequency).beamwidth_deg / 2.0
            least[rows] = np.minimum(least[rows], elevation - skyline - half)
    return least


def make_minutes(inputs: Inputs, period: Nights, windows: pd.DataFrame, track: Track) -> Minutes:
    """Every whole minute of every window and what stands against it."""
    place = {station.call: number for number, station in enumerate(inputs.partners)}
    pairs = windows["partner"].map(place).to_numpy(np.int64)
    nights = np.array([period.dates.index(date) for date in windows["night"]], dtype=np.int64)
    first = np.ceil(_seconds(windows["window_start_utc"]) / 60.0).astype(np.int64)
    count = np.maximum(np.floor(_seconds(windows["window_end_utc"]) / 60.0).astype(np.int64) - first, 0)
    window = np.repeat(np.arange(len(windows)), count)
    minute = first[window] + np.arange(window.size) - np.repeat(np.cumsum(count) - count, count)
    limit = inputs.season.policy.minimum_sun_separation_deg
    sun = [track.at(track.sun_deg, minute + step, window) >= limit for step in (0, 1)]
    partner = np.zeros(window.size, dtype=bool)
    for pair, station in enumerate(inputs.partners):
        rows = np.flatnonzero(pairs[window] == pair)
        partner[rows] = hours.inside(station_stretches(station, period), minute[rows])
    return Minutes(
        minute=minute,
        window=window,
        pair=pairs[window],
        night=nights[window],
        home=hours.inside(home_stretches(inputs, period), minute),
        partner=partner,
        sun=sun[0] & sun[1],
        clear=track.at(track.clear_deg, minute, window) >= 0.0,
    )


def station_stretches(station: Station, period: Nights) -> IntArray:
    """When a station can be met during the period, a day to either side included: (n, 2) minutes."""
    return hours.available_stretches(station, period.start - hours.DAY, period.end + hours.DAY)


def home_stretches(inputs: Inputs, period: Nights) -> IntArray:
    """When someone is at home's dish on a night that can be used, and not too late before a working morning."""
    return hours.overlap(station_stretches(inputs.home, period), possible_nights(inputs, period))


def possible_nights(inputs: Inputs, period: Nights) -> IntArray:
    """The nights ahead that the policy and home's excepted dates leave, without late hours: (n, 2) minutes."""
    policy, edges = inputs.season.policy, [minutes_of(edge) for edge in period.edges]
    possible = hours.merge(
        [
            (edges[place], edges[place + 1])
            for place, date in enumerate(period.dates)
            if not inputs.is_past(date)
            and WEEKDAYS[date.weekday()] in policy.nights
            and not any(date in stretch for stretch in inputs.home.unavailable_dates)
        ]
    )
    latest = policy.latest_hour_on_work_nights
    if latest is None:
        return possible
    return hours.subtract(possible, hours.late_stretches(latest, period.zone, period.start, period.end))


def least_minutes(mode: Mode | None, slot_minutes: int) -> int:
    """The shortest stretch that serves as a slot."""
    periods = 0 if mode is None else int(np.ceil(LEAST_PERIODS * mode.period_s / 60.0))
    return min(slot_minutes, max(LEAST_MINUTES, periods))


def find_slots(
    minutes: Minutes, free: BoolArray, slot_minutes: int, least: Sequence[int], on_grid: bool = True
) -> dict[str, IntArray]:
    """Where slots may stand: pair, window, night, start and end of each; `least` is by pair.

    In every free stretch, from the first minute at which the Moon stands clear: whole slots on the grid; where none
    fits the grid, one from there; where the stretch is shorter than a slot, all of it. Without the grid (`on_grid`
    false): one from there in any case.
    """
    edge = np.flatnonzero(np.diff(minutes.window, prepend=-1) | np.diff(free.astype(np.int8), prepend=-1))
    stop = np.append(edge[1:], free.size)
    found: list[tuple[int, int, int]] = []  # row of the first minute, start, end
    for first, last in zip(edge[free[edge]], stop[free[edge]], strict=True):
        clear = np.flatnonzero(minutes.clear[first:last]) + first
        if not clear.size:
            continue
        begin, length = int(clear[0]), int(last - clear[0])
        if length < least[minutes.pair[first]]:
            continue
        rows = clear[(minutes.minute[clear] % GRID_MINUTES == 0) & (clear + slot_minutes <= last)]
        if not (on_grid and rows.size):
            rows = np.array([begin])
        lengths = np.minimum(slot_minutes, last - rows)
        found += [
            (int(row), int(minutes.minute[row]), int(minutes.minute[row] + size))
            for row, size in zip(rows, lengths, strict=True)
        ]
    table = np.array(found, dtype=np.int64).reshape(-1, 3)
    rows = table[:, 0]
    return {
        "pair": minutes.pair[rows],
        "window": minutes.window[rows],
        "night": minutes.night[rows],
        "start": table[:, 1],
        "end": table[:, 2],
    }


def with_chances(
    inputs: Inputs,
    modes: Sequence[Mode | None],
    track: Track,
    slots: dict[str, IntArray],
    more_db: dict[str, float] | None = None,
) -> Candidates:
    """The slots with their chance; 0 where the ends share no mode.

    `more_db` is added to the margins at `home` and `partner` (what if).
    """
    more = more_db or {}
    success = np.zeros((slots["pair"].size, node_weights().size))
    for pair in np.unique(slots["pair"]):
        mode = modes[pair]
        if mode is None:
            continue
        rows = np.flatnonzero(slots["pair"] == pair)
        at = margins_in_slots(track, mode, slots["window"][rows], slots["start"][rows], slots["end"][rows])
        home, partner = (at[end] + more.get(end, 0.0) for end in ("home", "partner"))
        opens = opener_of(inputs, int(pair)) == "home"
        responder, opener = (partner, home) if opens else (home, partner)
        band = inputs.bands[pair]
        spread = pair_spreads_db(inputs, inputs.partners[pair].call, band)
        ends = ("partner", "home") if opens else ("home", "partner")
        success[rows] = success_by_node(responder, opener, mode.messages, *(spread[end] for end in ends))
    return Candidates(chance=np.clip(success @ node_weights(), 0.0, 1.0), success=success, **slots)


def margins_in_slots(
    track: Track, mode: Mode, window: IntArray, start: IntArray, end: IntArray
) -> dict[str, FloatArray]:
    """Margins at both ends in the middle of every period of each slot, (n, periods); NaN past a slot's end."""
    period = mode.period_s / 60.0
    length = (end - start).astype(float)
    number = np.arange(int(length.max(initial=0.0) // period))
    middle = start[:, None] + (number + 0.5) * period
    inside = (number + 1) * period <= length[:, None] + 1e-9
    shape = np.broadcast_to(window[:, None], middle.shape)
    return {end_: np.where(inside, track.at(db, middle, shape), np.nan) for end_, db in track.margin_db.items()}
