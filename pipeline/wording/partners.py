"""The sentences of the partners' page: how many times both ends can use, what a strip of the sky shows.

From the plan's usable windows and the heights of the Moon in them.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.wording import formats

CALLS_SHOWN = 3


def usable_title(times: int) -> str:
    """`33 times that both can use`."""
    return f"{formats.count(times, 'time')} that both can use"


def usable_lead(usable: int, windows: int, marginal: float) -> str:
    """What a line is, and where the windows are that have none; `marginal` is the policy's chance, 0 to 1."""
    words = f"one line a window in which a slot at a chance of {formats.chance(marginal)} or better fits both ends"
    others = windows - usable
    if others <= 0:
        return words
    rest = f"the other {formats.thousands(others)}" if others > 1 else "the other one"
    return f"{words}; windows.csv and each partner's own sheet have {rest}"


def zone_missing_words(call: str) -> str:
    """Said of a partner whose file names no time zone."""
    return f"time zone not known: times at {call} are UTC"


def strip_words(call: str, times: int, slot_heights_deg: Sequence[float]) -> str:
    """What a strip of the sky shows, for whoever cannot see it."""
    words = f"The Moon over home's skyline at {formats.count(times, 'time')} with {call}"
    if not slot_heights_deg:
        return f"{words}, none of them a slot"
    heights = formats.listed([f"{height:.0f} degrees" for height in slot_heights_deg])
    return f"{words}; {'slot' if len(slot_heights_deg) == 1 else 'slots'} up to {heights}"


def sky_of_words(site: str) -> str:
    """Of which site a strip shows the sky, where home has several."""
    return f"sky at {formats.short(site)}"


def best_lines_words(each: int) -> str:
    """What stands behind the lead where not all lines do; empty where they do."""
    return f"; here the slots and the likeliest times of each partner, {each} at most" if each else ""
