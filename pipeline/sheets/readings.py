"""What the dials show when the dish points at the Moon: its apparent place and the offsets, minute by minute.

An offset is what a dial shows, less the truth. The inclinometer's may change with the feed's position: until a slot is
over the feed stands as for it, after the last slot as in that, in a fall-back as in its slot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.inputs.model import Mount
from pipeline.inputs.mounting import FEED_POSITIONS, FeedPosition
from pipeline.operating.night_track import NightTrack
from pipeline.plan.tonight import Offsets
from pipeline.plan.views import Slot
from pipeline.sheets.feeds import position_of
from pipeline.wording import formats

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Readings:
    """Arrays (n,) at the minutes of the track: both dials, and the inclinometer's offset that is in it, degrees."""

    dial_deg: FloatArray
    inclinometer_deg: FloatArray
    inclinometer_offset_deg: FloatArray


def readings(track: NightTrack, slots: Sequence[Slot], own_feed: str, mount: Mount, offsets: Offsets) -> Readings:
    """Unrounded; `own_feed` is home's polarization as its file has it."""
    offset = np.full(track.time_s.size, offsets.of_inclinometer(mount, _at_rest(slots, own_feed)))
    for slot in reversed(slots):
        offset[track.time_utc <= slot.end] = offsets.of_inclinometer(mount, stands(slot, own_feed))
    for slot in slots:
        if slot.again_tonight is not None:
            start, end = slot.again_tonight
            held = (track.time_utc >= start) & (track.time_utc <= end)
            offset[held] = offsets.of_inclinometer(mount, stands(slot, own_feed))
    return Readings(
        (track.moon.azimuth_deg + offsets.of_dial()) % 360.0,
        np.asarray(track.apparent_elevation_deg + offset),
        offset,
    )


def stands(slot: Slot, own_feed: str) -> FeedPosition:
    """The feed's position in a slot; a circular one stands as it always does."""
    return "vertical" if position_of(own_feed, slot.feed_advice) == "vertical" else "horizontal"


def _at_rest(slots: Sequence[Slot], own_feed: str) -> FeedPosition:
    """After the last slot, or in a night without any."""
    if slots:
        return stands(slots[-1], own_feed)
    return "vertical" if own_feed == "vertical" else "horizontal"


def offsets_words(mount: Mount, offsets: Offsets, own_feed: str) -> str:
    """`Tonight's offsets are in: dial +3.4°, inclinometer −0.2°.`; those of the file where nothing was given."""
    begin = "Tonight's offsets are in" if offsets else "Offsets in"
    return f"{begin}: {each_offset(mount, offsets, own_feed)}."


def each_offset(mount: Mount, offsets: Offsets, own_feed: str) -> str:
    """`dial +3.4°, inclinometer −0.2° (station file)`: every offset that counts tonight."""
    dial = f"dial {_signed(offsets.of_dial())}" if offsets.dial_deg is not None else "dial 0"
    turns = own_feed == "rotatable"
    used: list[FeedPosition] = (
        list(FEED_POSITIONS) if turns else ["vertical" if own_feed == "vertical" else "horizontal"]
    )
    by_position = {position: offsets.of_inclinometer(mount, position) for position in used}
    if len(set(by_position.values())) == 1:
        tilt = _signed(by_position[used[0]])
    else:
        tilt = ", ".join(f"{_signed(value)} feed {position}" for position, value in by_position.items())
    source = "" if all(position in offsets.inclinometer_deg for position in used) else " (station file)"
    if offsets.inclinometer_deg and source:
        source = " (station file and tonight)"
    return f"{dial}, inclinometer {tilt}{source}"


def _signed(value_deg: float) -> str:
    return f"{formats.signed(value_deg, 1, plus=True)}°" if round(value_deg, 1) else "0"
