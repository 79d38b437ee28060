"""How home's feed stands in each slot, and how the partner's polarization arrives, both as seen from behind the dish.

From the agenda's advice and the samples' signed offset. Seen from behind, one looks the way the beam goes, at the sky
as the eye sees it, where angles from north through east (the parallactic angle's) run counter-clockwise. The reflection
keeps a linear feed's direction in the sky: what is level at the partner arrives turned by the offset, that way round.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from markupsafe import Markup

from pipeline.link.polarization import FARADAY_LIMIT_MHZ, fold_deg
from pipeline.pairs.feed_advice import FeedAdvice
from pipeline.plan.views import Slot
from pipeline.sheets.drawing import feed_drawing
from pipeline.windows.frames import own_samples
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.views import NightView, Stretch

ARRIVING = "Dashed: how their signal arrives at mid-slot. A feed that turns freely is best set along it."
# Within this of level or upright no angle is told.
PLAIN_DEG = 3.0
# A feed is not turned within a slot for less (judgement).
WORTH_TURNING_DB = 1.0


@dataclass(frozen=True)
class FeedPosition:
    """How the feed stands in one slot."""

    number: str
    title: str
    drawing: Markup
    words: str
    shows_arrival: bool = False


def feed_position(night: NightView, slot: Slot) -> FeedPosition:
    """How home's feed stands in a slot, by the advice of the agenda."""
    own = night.inputs.home.bands[slot.band].polarization
    advice = slot.feed_advice
    turned = _is_turned(own, advice)
    position = position_of(own, advice)
    arrival = _arrival_deg(night, slot, own, advice)
    words = _words(slot, own, advice, position, turned)
    if own == "rotatable" and _has_link(night):
        words += "".join(f"; {one}" for one in _other_times(night, slot, turned))
    if arrival is not None:
        words = f"{words}. {arrival_words(arrival)}"
    span = f"{formats.clock(slot.start)}–{formats.clock(slot.end)}"
    drawing = feed_drawing(position, arrival)
    return FeedPosition(str(slot.number), f"{slot.call} {span}", drawing, words, arrival is not None)


def position_of(own: str, advice: FeedAdvice | None) -> str:
    """`circular`, `vertical` or `horizontal`: how home's feed stands, by its polarization and the agenda's advice."""
    if own == "circular":
        return own
    return "vertical" if own == "vertical" or _is_turned(own, advice) else "horizontal"


def _is_turned(own: str, advice: FeedAdvice | None) -> bool:
    return own == "rotatable" and advice is not None and advice.home_turns


def _words(slot: Slot, own: str, advice: FeedAdvice | None, position: str, turned: bool) -> str:
    if own == "circular":
        return "circular: nothing to turn"
    if advice is FeedAdvice.RANDOM:
        return f"{position}; the ionosphere turns it at random, leave it"
    if turned:
        # Where either end could turn home does; the letters say the same.
        leaves = f"; {slot.call} leaves theirs" if advice is FeedAdvice.TURN_EITHER else ""
        return f"TURNED by 90°: {position}{leaves}"
    if advice is FeedAdvice.TURN_PARTNER:
        return f"not turned: {position}; {slot.call} turns theirs by 90°"
    if advice is FeedAdvice.NEITHER:
        return f"fixed: {position}; neither feed can be turned"
    return f"not turned: {position}"


def _other_times(night: NightView, slot: Slot, turned: bool) -> list[str]:
    """When the other position loses clearly less: at an edge of the slot, or where it is tried again tonight."""
    names = ("feed_turned", "polarization_loss_db", "polarization_loss_other_db")
    samples = own_samples(night.samples, slot.call, names)
    time = pd.DatetimeIndex(samples["time_utc"])
    gain_db = (samples["polarization_loss_other_db"] - samples["polarization_loss_db"]).to_numpy(float)
    better = (samples["feed_turned"].to_numpy(dtype=bool) != turned) & (gain_db >= WORTH_TURNING_DB)
    position, middle = "level" if turned else "turned", slot.start + (slot.end - slot.start) / 2
    inside = better & (time >= slot.start) & (time <= slot.end)
    before, after = time[inside & (time < middle)], time[inside & (time >= middle)]
    said = [f"{position} until {formats.clock(before[-1])}"] if len(before) else []
    said += [f"{position} from {formats.clock(after[0])}"] if len(after) else []
    if slot.again_tonight is not None and len(time) and better[_in_the_middle(time, slot.again_tonight)]:
        said.append(f"again {formats.clock(slot.again_tonight[0])}: {position}")
    return said


def _has_link(night: NightView) -> bool:
    """Whether there are figures of a link: without any window there are none."""
    return "polarization_offset_deg" in night.samples


def _in_the_middle(time: pd.DatetimeIndex, stretch: Stretch) -> int:
    """The place of the instant nearest to the middle of a stretch."""
    start, end = stretch
    return int(np.abs(time - pd.Timestamp(start + (end - start) / 2)).argmin())


def _arrival_deg(night: NightView, slot: Slot, own: str, advice: FeedAdvice | None) -> float | None:
    """Degrees counter-clockwise from level, -90 to 90, at mid-slot; None where no linear feed meets another."""
    theirs = slot.equipment.polarization
    if "circular" in (own, theirs) or slot.home_mhz < FARADAY_LIMIT_MHZ or not _has_link(night):
        return None
    samples = own_samples(night.samples, slot.call, ("polarization_offset_deg",))
    if samples.empty:
        return None
    middle = _in_the_middle(pd.DatetimeIndex(samples["time_utc"]), (slot.start, slot.end))
    offset = float(samples["polarization_offset_deg"].iloc[middle])
    upright = (theirs == "vertical") != (advice is FeedAdvice.TURN_PARTNER)
    return float(fold_deg(offset + 90.0 * upright))


def arrival_words(arrival_deg: float) -> str:
    """`Theirs arrives 62° clockwise from level`."""
    if abs(arrival_deg) < PLAIN_DEG:
        return "Theirs arrives level"
    if abs(arrival_deg) > 90.0 - PLAIN_DEG:
        return "Theirs arrives upright"
    way = "counter-clockwise" if arrival_deg > 0 else "clockwise"
    return f"Theirs arrives {abs(arrival_deg):.0f}° {way} from level"
