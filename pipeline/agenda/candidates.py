"""Where a slot could stand: every quarter hour inside a window at which nothing forbids it, and the chance it gives.

From windows, samples, both ends' hours and the season's policy, minute by minute on one axis through all windows; the
chance by `link.chance` from the margins in the middle of each period.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.agenda import hours
from pipeline.inputs.lengths import SlotMinutes
from pipeline.inputs.model import Station, mask_arrays
from pipeline.inputs.modes import Mode
from pipeline.link.chance import chance_of, node_weights
from pipeline.pairs.assumed import clear_share, presence_of, skyline_is_assumed
from pipeline.pairs.budget import GROUND_GAIN_BANDS
from pipeline.pairs.corrections import pair_spreads_db
from pipeline.pairs.equipment import beam_of, pair_frequency_mhz
from pipeline.pairs.outcomes import opener_of, window_axis
from pipeline.pairs.slot_chance import period_middles, shortest_success_in_slots, success_in_slots
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
# Lengths between the policy's least and most are tried by so many minutes.
LENGTH_STEP_MINUTES = 5
# A skyline that nobody knows is looked at so often in a slot.
LOOKS = 13


@dataclass(frozen=True)
class Track:
    """The samples on one rising axis, s, windows a day apart; (m,) each. `shift_s` (windows,) leads onto the axis."""

    axis_s: FloatArray
    shift_s: FloatArray
    margin_db: dict[str, FloatArray]
    sun_deg: FloatArray
    clear_deg: FloatArray
    # The share of places, at the ends whose files state no skyline, from which the Moon is clear of it.
    clear_share: FloatArray

    def at(self, values: FloatArray, minute: npt.ArrayLike, window: IntArray) -> FloatArray:
        """A figure at these minutes of these windows; NaN where there is no window at all.

        `values` (m,) stand at the samples; minutes since 1970 and windows of one shape, which is the result's. The unit
        stays.
        """
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
        """Whether a slot may hold the minute, (m,)."""
        return self.home & self.partner & self.sun

    def of_pair(self, pair: int) -> Minutes:
        """One pair's."""
        return self.take(np.flatnonzero(self.pair == pair))

    def take(self, rows: IntArray | slice) -> Minutes:
        """Some of them, by row (k,)."""
        return Minutes(**{field.name: getattr(self, field.name)[rows] for field in dataclasses.fields(self)})


@dataclass(frozen=True)
class Candidates:
    """Possible slots, (n,), in order of pair and time: start and end in minutes since 1970, and chance once known.

    `success` (n, nodes) is the chance at every node of station errors; rows of `link.chance.success_by_node`.
    `presence` is the share of agreed slots in which the partner is there, `clear` the share of places whose skyline,
    where no file states it, leaves the Moon free.
    """

    pair: IntArray
    window: IntArray
    night: IntArray
    start: IntArray
    end: IntArray
    chance: FloatArray
    success: FloatArray
    presence: FloatArray
    clear: FloatArray

    @property
    def chance_met(self) -> FloatArray:
        """What a slot is worth in contacts, (n,): the link's chance where both ends are there and see the Moon."""
        return self.chance * self.presence * self.clear

    @property
    def success_clear(self) -> FloatArray:
        """Chance of success at every node of errors, (n, nodes), skyline included, where both ends are there."""
        return self.success * self.clear[:, None]

    def take(self, rows: IntArray) -> Candidates:
        """Some of them, by row (k,)."""
        return Candidates(**{field.name: getattr(self, field.name)[rows] for field in dataclasses.fields(self)})


class OneSlot:
    """What has one row of candidates as its `slot`, and so one place in time."""

    slot: Candidates

    @property
    def start(self) -> int:
        """Minutes since 1970."""
        return int(self.slot.start[0])

    @property
    def end(self) -> int:
        """Minutes since 1970."""
        return int(self.slot.end[0])

    @property
    def night(self) -> int:
        """The night in which it starts."""
        return int(self.slot.night[0])


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
        clear_share=_clear_share(inputs, samples),
    )


def sample_windows(inputs: Inputs, windows: pd.DataFrame, samples: pd.DataFrame) -> IntArray:
    """The window (row) of each sample, (m,)."""
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
    """Degrees by which the Moon stands further above the skyline than half a beam, at the end that has less.

    Where the ground before an antenna adds to it, a low Moon is wanted: there the centre of the beam counts.
    """
    least = np.full(len(samples), np.inf)
    for rows, end, station, band, half in _ends(inputs, samples):
        azimuth, mask = mask_arrays(station)
        skyline = np.interp(samples[f"{end}_azimuth_deg"].to_numpy()[rows], azimuth, mask, period=360.0)
        by_ground = band in GROUND_GAIN_BANDS and station.bands[band].ground_gain_db > 0.0
        above = apparent_deg(samples, end, rows) - skyline - (0.0 if by_ground else half)
        least[rows] = np.minimum(least[rows], above)
    return least


def _clear_share(inputs: Inputs, samples: pd.DataFrame) -> FloatArray:
    """The share of places from which the Moon is clear, by half a beam, of a skyline that no file states."""
    share = np.ones(len(samples))
    for rows, end, station, _, half in _ends(inputs, samples):
        if skyline_is_assumed(station):
            above = apparent_deg(samples, end, rows) - half
            share[rows] *= clear_share(inputs.season.policy.assumed_skyline, above)
    return share


def _ends(inputs: Inputs, samples: pd.DataFrame) -> Iterator[tuple[IntArray, str, Station, str, float]]:
    """Each end of each pair, home at each of its places: rows of the samples, name, station, band, half a beam, deg."""
    calls, homes = samples["partner"].to_numpy(), _homes(inputs, samples)
    for partner, band in zip(inputs.partners, inputs.bands, strict=True):
        rows = np.flatnonzero(calls == partner.call)
        frequency = pair_frequency_mhz(inputs, band)
        for home, here in homes:
            yield rows[here[rows]], "home", home, band, beam_of(home, band, frequency).beamwidth_deg / 2.0
        yield rows, "partner", partner, band, beam_of(partner, band, frequency).beamwidth_deg / 2.0


def _homes(inputs: Inputs, samples: pd.DataFrame) -> list[tuple[Station, BoolArray]]:
    """Home at each of its places, and which samples (m,) are seen from there."""
    if not inputs.sites:
        return [(inputs.home, np.ones(len(samples), dtype=bool))]
    stands = samples["night"].map({night: inputs.home_on(night).title for night in set(samples["night"])})
    return [(home, (stands == home.title).to_numpy(bool)) for home in inputs.homes]


def apparent_deg(samples: pd.DataFrame, end: str, rows: IntArray) -> FloatArray:
    """Where the Moon appears at one end in some rows of the samples: elevation with refraction, (k,), degrees."""
    return np.asarray((samples[f"{end}_elevation_deg"] + samples[f"{end}_refraction_deg"]).to_numpy(float)[rows])


def make_minutes(inputs: Inputs, period: Nights, windows: pd.DataFrame, track: Track) -> Minutes:
    """Every whole minute of every window and what stands against it."""
    place = {station.call: number for number, station in enumerate(inputs.partners)}
    pairs = windows["partner"].map(place).to_numpy(np.int64)
    number = {date: night for night, date in enumerate(period.dates)}
    nights = np.array([number[date] for date in windows["night"]], dtype=np.int64)
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
    """When someone is at home's dish on a night that can be used, and not too late before a working morning.

    (n, 2) minutes since 1970.
    """
    return hours.overlap(station_stretches(inputs.home, period), possible_nights(inputs, period))


def possible_nights(inputs: Inputs, period: Nights) -> IntArray:
    """The nights ahead that the policy and home's excepted dates leave, without late hours: (n, 2) minutes."""
    edges = [minutes_of(edge) for edge in period.edges]
    possible = hours.merge(
        [(edges[place], edges[place + 1]) for place, date in enumerate(period.dates) if inputs.is_possible(date)]
    )
    latest = inputs.season.policy.latest_hour_on_work_nights
    if latest is None:
        return possible
    return hours.subtract(
        possible, hours.late_stretches(latest, period.zone, period.start, period.end, inputs.home.is_holiday)
    )


def least_minutes(mode: Mode | None, length: SlotMinutes) -> int:
    """The shortest stretch that serves as a slot."""
    periods = 0 if mode is None else int(np.ceil(LEAST_PERIODS * mode.period_s / 60.0))
    return min(length.least, max(LEAST_MINUTES, periods))


def find_slots(
    minutes: Minutes, free: BoolArray, length: SlotMinutes, least: Sequence[int], on_grid: bool = True
) -> dict[str, IntArray]:
    """Where slots may stand: pair, window, night, start and end of each; `least` is by pair.

    In every free stretch, from the first minute at which the Moon stands clear: slots on the grid, as long as may be;
    where none fits the grid, one from there; where the stretch is shorter than a slot, all of it. Without the grid
    (`on_grid` false): one from there in any case. `free` and rows of `minutes` are (m,); what is found is (n,), times
    in minutes since 1970.
    """
    edge = np.flatnonzero(np.diff(minutes.window, prepend=-1) | np.diff(free.astype(np.int8), prepend=-1))
    size = np.diff(edge, append=free.size)
    # Of each minute that may be a slot's first: its stretch, and where that ends.
    rows = np.flatnonzero(free & minutes.clear)
    stretch = np.repeat(np.arange(edge.size), size)[rows]
    left = (edge + size)[stretch] - rows
    first = np.diff(stretch, prepend=-1) > 0
    long = np.zeros(edge.size, dtype=bool)
    long[stretch[first]] = left[first] >= np.array(least, dtype=np.int64)[minutes.pair[rows[first]]]
    fits = (minutes.minute[rows] % GRID_MINUTES == 0) & (left >= length.least) & on_grid & long[stretch]
    whole = np.zeros(edge.size, dtype=bool)
    whole[stretch[fits]] = True
    chosen = np.flatnonzero(fits | (first & (long & ~whole)[stretch]))
    rows, size = rows[chosen], np.minimum(length.most, left[chosen])
    return {
        "pair": minutes.pair[rows],
        "window": minutes.window[rows],
        "night": minutes.night[rows],
        "start": minutes.minute[rows],
        "end": minutes.minute[rows] + size,
    }


def with_chances(
    inputs: Inputs,
    modes: Sequence[Mode | None],
    track: Track,
    slots: dict[str, IntArray],
    more_db: dict[str, float] | None = None,
    shorten: bool = False,
) -> Candidates:
    """The slots with their chance; 0 where the ends share no mode.

    `more_db` is added to the margins at `home` and `partner` (what if). With `shorten` each ends where the policy's
    shortest slot, or a longer one, has as good a chance. Slots (n,), as `find_slots` gives them; dB.
    """
    more = more_db or {}
    end = slots["end"].copy()
    success = np.zeros((slots["pair"].size, node_weights().size))
    for pair in np.unique(slots["pair"]):
        mode = modes[pair]
        if mode is None:
            continue
        rows = np.flatnonzero(slots["pair"] == pair)
        at = margins_in_slots(track, mode, slots["window"][rows], slots["start"][rows], slots["end"][rows])
        at = {end_: margin + more.get(end_, 0.0) for end_, margin in at.items()}
        spreads = pair_spreads_db(inputs, inputs.partners[pair].call, inputs.bands[pair])
        home_opens = opener_of(inputs, int(pair)) == "home"
        if not shorten:
            success[rows] = success_in_slots(mode, at, spreads, home_opens)
            continue
        lengths = _lengths(inputs.season.policy.slot_minutes, (slots["end"] - slots["start"])[rows])
        periods = np.floor(lengths * 60.0 / mode.period_s + 1e-9).astype(np.int64)
        success[rows], which = shortest_success_in_slots(mode, at, spreads, home_opens, periods)
        end[rows] = slots["start"][rows] + lengths[np.arange(rows.size), which]
    placed = slots | {"end": end}
    presence = np.array([presence_of(inputs, pair) for pair in range(len(inputs.partners))], dtype=float)
    return Candidates(
        chance=chance_of(success),
        success=success,
        presence=presence[slots["pair"]],
        clear=_clear_of(inputs, track, placed),
        **placed,
    )


def _lengths(length: SlotMinutes, most: IntArray) -> IntArray:
    """The lengths to try, minutes, rising: from the policy's least by steps to what each slot has at most, (n, k)."""
    tried = np.arange(length.least, length.most + LENGTH_STEP_MINUTES, LENGTH_STEP_MINUTES)
    return np.minimum(tried[None, :], most[:, None])


def _clear_of(inputs: Inputs, track: Track, slots: dict[str, IntArray]) -> FloatArray:
    """The mean share over each slot, (n,), of places whose unknown skyline leaves the Moon free."""
    share = np.ones(slots["pair"].size)
    at_home = any(map(skyline_is_assumed, inputs.homes))
    unknown = [at_home or skyline_is_assumed(one) for one in inputs.partners]
    rows = np.flatnonzero(np.array(unknown, dtype=bool)[slots["pair"]])
    if rows.size:
        looks = np.linspace(0.0, 1.0, LOOKS)
        start, end = slots["start"][rows, None], slots["end"][rows, None]
        window = np.broadcast_to(np.maximum(slots["window"][rows], 0)[:, None], (rows.size, LOOKS))
        share[rows] = track.at(track.clear_share, start + (end - start) * looks, window).mean(axis=1)
    return share


def margins_in_slots(
    track: Track, mode: Mode, window: IntArray, start: IntArray, end: IntArray
) -> dict[str, FloatArray]:
    """Margins at both ends in the middle of every period of each slot, (n, periods); NaN past a slot's end."""
    middle_s, inside = period_middles((end - start).astype(float) * 60.0, mode.period_s)
    middle = start[:, None] + middle_s / 60.0
    shape = np.broadcast_to(window[:, None], middle.shape)
    return {end_: np.where(inside, track.at(db, middle, shape), np.nan) for end_, db in track.margin_db.items()}
