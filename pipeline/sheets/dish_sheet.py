"""The dish sheet: where the dish points through the whole pass, what stands in the way, how often to move it.

From the night's track and slots; every reading is the apparent elevation, with radio refraction in it, on the dials
that the mount has.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.inputs.model import Mount, Station, mask_arrays
from pipeline.operating import night_track
from pipeline.operating.night_track import Event, NightTrack
from pipeline.plan.views import Slot
from pipeline.sheets.alignment import ring_words
from pipeline.sheets.cautions import cautions_of_tests
from pipeline.sheets.compass import declination
from pipeline.sheets.dish_grid import Grid, grids
from pipeline.sheets.dish_moving import listening, moving, step_s
from pipeline.sheets.drawing import SkyMap, sky_map
from pipeline.sheets.feeds import ARRIVING, FeedPosition, feed_position
from pipeline.sheets.readings import Readings, offsets_words, readings
from pipeline.windows.instants import as_instant
from pipeline.wording import formats, safe_side
from pipeline.wording.terrain import sheet_words, skyline_unknown_words

if TYPE_CHECKING:
    from pipeline.plan.views import NightView

FloatArray = npt.NDArray[np.float64]

BLOCKS = 2
# Feeds that stand beside the pointing table; more follow on a page of their own.
FEEDS_BESIDE = 4
# The map takes what the column beside the table leaves it, within these.
MAP_PT, LEAST_MAP_PT = 176.0, 96.0
# Two digits are finer than any dial; a third would not fit beside the others.
MOST_DIGITS = 2


@dataclass(frozen=True)
class PointingRow:
    """One line of the pointing table; `slot` is its number where the line lies in one, `trouble` what forbids it.

    `same_slot` counts the lines of its column that lie in the same slot, or in none: on the first of them, else 0.
    """

    utc: str
    azimuth: str
    inclinometer: str
    true: str
    slot: str
    trouble: str
    again: bool = False
    same_slot: int = 0

    @property
    def dials(self) -> str:
        """Both dials in one cell, figures under figures: the PDF engine pays by the cell."""
        return f"{self.azimuth:\N{FIGURE SPACE}>6}\t{self.inclinometer:\N{FIGURE SPACE}>6}\t"

    @property
    def small(self) -> str:
        """What stands beside them, as wide in every line."""
        if self.trouble:
            return f"{self.trouble:\N{FIGURE SPACE}>9}"
        azimuth, elevation = self.true.split()
        return f"{azimuth:\N{FIGURE SPACE}>5}  {elevation:\N{FIGURE SPACE}>5}"


@dataclass(frozen=True)
class DishSheet:
    """Everything the dish sheet prints; `antenna` is what it is called."""

    antenna: str
    span: str
    blocks: tuple[tuple[PointingRow, ...], ...]
    grid_words: str
    readings: str
    sky: Markup | None
    map_words: str
    events: tuple[tuple[str, str], ...]
    mount: str
    moving: tuple[str, ...]
    feeds: tuple[FeedPosition, ...]
    more_feeds: tuple[FeedPosition, ...]
    feed_words: str
    note: str
    cautions: tuple[str, ...] = ()


def dish_sheet(night: NightView, track: NightTrack, rows_a_block: int) -> DishSheet:
    """The sheet of one night; `rows_a_block` is what the paper holds."""
    home, slots = night.inputs.home, night.slots
    feeds = [feed_position(night, slot) for slot in slots]
    antenna = "dish" if home.bands[night.band].antenna.dish_diameter_m is not None else "antenna"
    if not track.time_s.size:
        note = "The Moon does not rise over this site in this night: there is nothing to point at."
        return DishSheet(antenna, "", (), "", "", None, "", (), "", (), tuple(feeds), (), "", note)
    own_feed = home.bands[night.band].polarization
    shown = readings(track, slots, own_feed, home.mount, night.offsets)
    rows, grid = _rows(night, track, shown, BLOCKS * rows_a_block)
    each = math.ceil(len(rows) / BLOCKS)
    events, mount = _events(track), _mount(home.mount, track)
    careful = () if slots else cautions_of_tests(night, *(as_instant(track.time_utc[row]) for row in (0, -1)))
    room = _feeds_beside(feeds)
    beside, low_moon = feeds[:room], (*listening(night, track), *skyline_unknown_words(home))
    return DishSheet(
        antenna=antenna,
        span=_span(track),
        blocks=tuple(_column(rows[start : start + each]) for start in range(0, len(rows), each)),
        grid_words=grid,
        readings=_readings(night, track),
        sky=_sky(track, slots, home, _map_pt(rows_a_block, beside, events, (mount, *low_moon, *careful))),
        map_words="North up, east right, zenith in the middle; hours are UTC. Thick with a number: a slot. "
        "Dotted: the Sun. Tinted rim: below the skyline.",
        events=events,
        mount=mount,
        moving=(*moving(track, antenna), *low_moon),
        feeds=tuple(beside),
        more_feeds=tuple(feeds[room:]),
        feed_words=_feed_words(feeds),
        note="" if slots else "No slot tonight: these figures serve tests on the own echo.",
        cautions=careful,
    )


def _ring(night: NightView, track: NightTrack) -> str:
    """How to leave no offset, unless tonight's are in the figures already."""
    if night.offsets:
        return ""
    place = night.inputs.home.position
    field = declination(place.latitude_deg, place.longitude_deg, place.height_m, night.date)
    return ring_words(night.inputs.home, track.beamwidth_deg, field, night.date)


def _feeds_beside(feeds: Sequence[FeedPosition]) -> int:
    """How many stand beside the table: where some go on the next page anyway, one less where words are long."""
    is_full = len(feeds) > FEEDS_BESIDE and any(map(_lines_more, feeds[:FEEDS_BESIDE]))
    return FEEDS_BESIDE - is_full


def _lines_more(feed: FeedPosition) -> int:
    """Lines of a feed's words beyond those that its height holds."""
    return max(0, math.ceil(len(feed.words) / LETTERS_BY_A_FEED) - LINES_OF_A_FEED)


def _feed_words(feeds: Sequence[FeedPosition]) -> str:
    """What stands below the feeds beside the table."""
    arriving = ARRIVING if any(feed.shows_arrival for feed in feeds) else ""
    more = "More on the next page." if len(feeds) > FEEDS_BESIDE else ""
    return " ".join(filter(None, (arriving, more)))


# Heights in points of what stands beside the table, by the style sheet: all that is always there, a feed, a line.
ALWAYS_PT, FEED_PT, LINE_PT, HEAD_PT, KEY_PT = 178.0, 52.0, 11.6, 22.0, 32.0
# Letters of a line of this column, and of one beside a feed's drawing, where a feed's height holds three.
LETTERS_A_LINE, LETTERS_BY_A_FEED, LINES_OF_A_FEED = 43, 29, 3


def _map_pt(
    rows_a_block: int, feeds: Sequence[FeedPosition], events: Sequence[tuple[str, str]], more: Sequence[str]
) -> float:
    """How large the map may be, so that the column ends on the page that the table's `rows_a_block` lines fill.

    `more` are the paragraphs that stand in the column beside what is always there.
    """
    lines = sum(math.ceil(len(words) / (LETTERS_A_LINE - 5)) for _, words in events)
    lines += sum(math.ceil(len(words) / LETTERS_A_LINE) for words in more)
    lines += sum(map(_lines_more, feeds))
    taken = ALWAYS_PT + LINE_PT * lines + (HEAD_PT + KEY_PT + FEED_PT * len(feeds) if feeds else 0.0)
    column = ROW_PT * rows_a_block + BELOW_TABLE_PT
    return max(min(column - taken, MAP_PT), LEAST_MAP_PT)


# A line of the pointing table, and what its key and the page's foot leave below it.
ROW_PT, BELOW_TABLE_PT = 14.0, 92.0


def _span(track: NightTrack) -> str:
    """From when to when the table runs, with its dates in UTC."""
    first, last = (as_instant(track.time_utc[row]) for row in (0, -1))
    return f"{formats.day(first.date())} {formats.clock(first)} to {formats.day(last.date())} {formats.clock(last)}"


def dialled(value_deg: npt.ArrayLike, resolution_deg: float) -> FloatArray:
    """The nearest mark of a dial."""
    return np.round(np.asarray(value_deg, dtype=float) / resolution_deg) * resolution_deg


def dial_digits(resolution_deg: float) -> int:
    """Digits that a dial of this resolution needs: 0.2 one, 0.25 two, 1 none; two are the most."""
    return next((digits for digits in range(MOST_DIGITS) if abs(resolution_deg * 10**digits % 1.0) < 1e-9), MOST_DIGITS)


def _arrival(night: NightView) -> dt.datetime | None:
    """When the crew arrives: nobody points the dish before. None without a slot."""
    if not night.slots:
        return None
    return night.slots[0].start - dt.timedelta(minutes=night.inputs.season.policy.setup_minutes.arrive)


def _rows(night: NightView, track: NightTrack, shown: Readings, most: int) -> tuple[list[PointingRow], str]:
    """Lines of the finest grid that fits, and how the grid is told."""
    slots, resolution_deg, arrival = night.slots, night.inputs.home.mount.dial_resolution_deg, _arrival(night)
    move_min = max(int(step_s(track.half_beam_s) // 60.0), 1)
    has_again = any(slot.again_tonight for slot in slots)
    for grid in grids(move_min, bool(slots), has_again):
        chosen = _minutes(track, slots, arrival, grid)
        if len(chosen) <= most:
            break
    digits = dial_digits(resolution_deg)
    azimuth = dialled(shown.dial_deg, resolution_deg) % 360.0
    reading = dialled(shown.inclinometer_deg, resolution_deg)
    numbers = _slot_numbers(track, slots)
    rows = [
        PointingRow(
            utc=f"{track.time_utc[row]:%H:%M}",
            azimuth=f"{azimuth[row]:.{digits}f}",
            inclinometer=formats.signed(reading[row], digits),
            true=f"{track.moon.azimuth_deg[row]:.1f}  {formats.signed(track.moon.elevation_deg[row], 1)}",
            slot=numbers[row],
            trouble=trouble_at(track, row),
            again=numbers[row].startswith("("),
        )
        for row in chosen
    ]
    return rows, grid.words(bool(slots), has_again)


def _column(rows: Sequence[PointingRow]) -> tuple[PointingRow, ...]:
    """Lines that stand in one column of the page, told how far each slot goes in it."""
    groups = (list(group) for _, group in itertools.groupby(rows, lambda row: row.slot))
    return tuple(row for first, *others in groups for row in (replace(first, same_slot=1 + len(others)), *others))


def _minutes(track: NightTrack, slots: Sequence[Slot], arrival: dt.datetime | None, grid: Grid) -> list[int]:
    """Rows of the track on the grid, from the crew's arrival on, with both ends of every slot and fall-back."""
    # Grid after grid is tried: whole seconds since 1970 are compared in no time.
    time_s = track.time_utc.as_unit("s").asi8
    keep = time_s // 60 % (24 * 60) % grid.outside == 0
    if arrival is not None:
        keep &= time_s >= arrival.timestamp()
    spans = [(*slot.again_tonight, grid.again) for slot in slots if slot.again_tonight]
    spans += [(slot.start, slot.end, grid.inside) for slot in slots]
    edges = [(start.timestamp(), end.timestamp(), step) for start, end, step in spans]
    for start_s, end_s, step in edges:
        # Even steps from the slot's own begin: lines of the grid outside would come between them.
        held = (time_s >= start_s) & (time_s <= end_s)
        keep = np.where(held, (time_s - start_s) // 60.0 % step == 0, keep)
    for start_s, end_s, _ in edges:
        keep |= (time_s == start_s) | (time_s == end_s)
    return [int(row) for row in np.flatnonzero(keep)]


def _slot_numbers(track: NightTrack, slots: Sequence[Slot]) -> list[str]:
    """The slot's number at every row of the track, that of a fall-back in brackets, else nothing."""
    numbers = np.full(track.time_s.size, "", dtype=object)
    spans = [(*slot.again_tonight, f"({slot.number})") for slot in slots if slot.again_tonight]
    for start, end, words in (*spans, *((slot.start, slot.end, str(slot.number)) for slot in slots)):
        numbers[(track.time_utc >= start) & (track.time_utc <= end)] = words
    return [str(number) for number in numbers]


def trouble_at(track: NightTrack, row: int) -> str:
    """What forbids a minute of the track: the mount, the skyline, or nothing."""
    if not track.reached[row]:
        return "mount stops"
    return "" if track.clear[row] else "skyline"


def _readings(night: NightView, track: NightTrack) -> str:
    """What the large figures are, and which offsets they hold."""
    mount = night.inputs.home.mount
    step = formats.plain(mount.dial_resolution_deg)
    offsets = offsets_words(mount, night.offsets, night.inputs.home.bands[night.band].polarization)
    nil = f"{ring} " if (ring := _ring(night, track)) else ""
    terrain = f" {words}" if (words := sheet_words(night.inputs.home)) else ""
    return (
        f"Dials to their step of {step}°, from true north, with offset (shown less true). {offsets} {nil}"
        f"Radio refraction is in it. Small: true azimuth and elevation, without refraction.{terrain}"
    )


def _sky(track: NightTrack, slots: Sequence[Slot], home: Station, size: float) -> Markup:
    gap = np.diff(track.time_s, prepend=track.time_s[0]) > 90.0
    azimuth = np.where(gap, np.nan, track.moon.azimuth_deg)
    up = track.sun_apparent_elevation_deg > 0.0
    around = np.arange(0.0, 361.0)
    points = mask_arrays(home)
    skyline = np.interp(
        around, np.concatenate([points[0] + turn for turn in (-360.0, 0.0, 360.0)]), np.tile(points[1], 3)
    )
    hours = np.flatnonzero(track.time_utc.minute == 0)
    bars = []
    for slot in slots:
        rows = np.flatnonzero((track.time_utc >= slot.start) & (track.time_utc <= slot.end))
        if rows.size:
            bars.append((int(rows[0]), int(rows[-1]), slot.number))
    return sky_map(
        SkyMap(
            moon=(azimuth, track.apparent_elevation_deg),
            sun=(np.where(up, track.sun.azimuth_deg, np.nan), track.sun_apparent_elevation_deg),
            skyline=(around, skyline),
            hours=[(int(row), f"{track.time_utc[row]:%H}") for row in hours if not gap[row]],
            slots=bars,
            title="The Moon's way over the dish tonight with its hours and slots; the pointing table holds the figures",
        ),
        size,
    )


# What is rounded up to the next minute, so that the sheet never promises the Moon too early.
BEGINNINGS = (night_track.RISES, night_track.CLEARS, night_track.REACHED, night_track.HIGH_ENOUGH)


def _events(track: NightTrack) -> tuple[tuple[str, str], ...]:
    """(UTC, what happens), by time."""
    lines = tuple((_event_clock(event), _event_words(event)) for event in track.events)
    stays_up = not any(event.kind in (night_track.RISES, night_track.SETS) for event in track.events)
    return (("", "it does not set"), *lines) if stays_up else lines


def _event_clock(event: Event) -> str:
    if event.kind in BEGINNINGS:
        return formats.clock(safe_side.no_sooner(event.time_utc))
    return formats.clock(safe_side.no_later(event.time_utc))


def _event_words(event: Event) -> str:
    place = f"at {formats.azimuth(event.azimuth_deg)}"
    elevation = formats.elevation(event.apparent_elevation_deg)
    words = {
        night_track.RISES: f"rises {place}",
        night_track.SETS: f"sets {place}",
        night_track.CLEARS: f"clears the skyline {place}, {elevation} up",
        night_track.HIDES: f"behind the skyline {place}, {elevation} up",
        night_track.REACHED: f"mount reaches it {place}, {elevation} up",
        night_track.STOPS: f"mount stops {place}, {elevation} up",
        night_track.HIGH_ENOUGH: f"above your minimum elevation of {elevation}",
        night_track.LOW: f"below your minimum elevation of {elevation}",
        night_track.NORTH: f"passes north, {elevation} up",
    }
    return words[event.kind]


def _mount(mount: Mount, track: NightTrack) -> str:
    """The stops, and what the Moon's pass through north means for them."""
    north = any(event.kind == night_track.NORTH for event in track.events)
    top = f", up to {formats.plain(mount.maximum_elevation_deg)}°" if mount.maximum_elevation_deg < 90.0 else ""
    if mount.azimuth_from_deg is None or mount.azimuth_to_deg is None:
        return f"No azimuth stops are named for this mount{top}; mind the cables."
    first, last = mount.azimuth_from_deg, mount.azimuth_to_deg
    over_north = last < first
    words = (
        f"It turns clockwise from {formats.plain(first)}°{' through north' if over_north else ''} to "
        f"{formats.plain(last)}°{top}."
    )
    if north and over_north:
        return f"{words} The Moon passes north inside this range: no turn back."
    return " ".join(filter(None, (words, _beyond(track, (first, last)))))


def _beyond(track: NightTrack, ends_deg: tuple[float, float]) -> str:
    """What to do where the Moon goes from one end of the azimuth range, over what the mount cannot reach, to the other.

    Above the greatest elevation nothing has to be turned back.
    """
    stops, reached = (
        [event for event in track.events if event.kind == kind] for kind in (night_track.STOPS, night_track.REACHED)
    )
    for stop in stops:
        back = next((event for event in reached if event.time_utc > stop.time_utc), None)
        if back is None:
            continue
        if any(_near(stop.azimuth_deg, a) and _near(back.azimuth_deg, b) for a, b in (ends_deg, ends_deg[::-1])):
            return (
                f"At {_event_clock(stop)} the Moon leaves this range: turn back the long way round, to "
                f"{formats.azimuth(back.azimuth_deg)} by {formats.clock(safe_side.no_later(back.time_utc))}."
            )
    return ""


def _near(azimuth_deg: float, stop_deg: float) -> bool:
    return abs((azimuth_deg - stop_deg + 180.0) % 360.0 - 180.0) < AT_STOP_DEG


# Edges are found to a tenth of a second, in which the Moon's azimuth hardly moves, however near the zenith.
AT_STOP_DEG = 0.2
