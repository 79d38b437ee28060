"""What stands in words on the page of carpets: each partner's best usable evening, the scale, what the picture tells.

From the carpets, the agenda and the partners' table; a night is usable where some slot of it could be planned.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from pipeline.outlook.carpets import Carpet
from pipeline.wording import formats


def usable_words(nights: int) -> str:
    """`3 usable nights`."""
    return formats.count(nights, "usable night")


def best_words(night: dt.date, chance: float, limits: tuple[float, ...]) -> str:
    """`best Sat 13 Mar, 95 %`."""
    return f"best {formats.day(night)}, {formats.chance(chance, limits)}"


def none_words(carpet: Carpet, least_chance: float) -> str:
    """Why no evening is usable, as far as the carpet tells: hours, chance, or what was answered."""
    if not carpet.free.any():
        return "never both free"
    return "" if np.nanmax(carpet.chance[carpet.free]) >= least_chance else "free, but the link is weak"


def scale_words(offsets: str) -> str:
    """The line under the title."""
    return (
        f"days across, home's clock down ({offsets}) · the fuller the tone, the better the chance of a slot that "
        "begins then, at whatever hour · teal inside an outline: both ends are free"
    )


def step_words(limits: Sequence[float]) -> tuple[str, ...]:
    """The shades from the palest: `no slot begins`, `under 25 %`, `25 to 60 %`, ..., `from 90 %`."""
    percent = [f"{limit * 100:g}" for limit in limits]
    between = [f"{low} to {high} %" for low, high in pairwise(percent)]
    return ("no slot begins", f"chance under {percent[0]} %", *between, f"from {percent[-1]} %")


def outline_words() -> str:
    """What the outline means."""
    return "both ends are free"


def slot_words(slots: int) -> str:
    """What ink means."""
    return "slot" if slots else "slot (none yet)"


def sun_words(limit_deg: float) -> str:
    """What the hatching means."""
    return f"Sun within {limit_deg:g}°"


def without_words(calls: Sequence[str]) -> str:
    """Who has no square."""
    return f"Without a window: {formats.listed(calls)}."


def how_to_read() -> str:
    """How the page serves when a slot fails."""
    return (
        "When a slot fails: the fullest field left inside the outline is where it is best tried again. A slot needs "
        "the Moon at both ends for its whole length, so that none begins in the last fields of a window. Weekends "
        "are tinted."
    )


def square_title(carpet: Carpet, usable: str, best: str, slots: Sequence[str]) -> str:
    """What one square tells, for whoever cannot see it."""
    days = int(carpet.shared.any(axis=1).sum())
    told = f"slots: {formats.listed(slots)}" if slots else "no slot"
    return f"{carpet.partner}: the Moon is shared on {formats.count(days, 'day')}; {usable}, {best or 'none'}; {told}"
