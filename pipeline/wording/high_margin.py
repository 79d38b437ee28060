"""The sentences of the page of high margins, as a tide table has them for high waters: what a figure and a mark mean.

From the plan's usable windows and its partners.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.wording import formats


def high_margin_lead(shown: int, ranked: bool) -> str:
    """What stands in a cell; `shown` is how many partners of a night at most where they are ranked."""
    words = "when the signal stands highest while a slot fits both ends, and by how many dB above what the mode needs"
    which = f"for each night its {shown} best partners: " if ranked else "for each night and partner: "
    return f"{which}{words}"


def high_margin_key(ranked: bool, has_slots: bool, left_out: bool) -> str:
    """The marks, in the order in which an eye meets them."""
    parts = ["The margin is that of the way that fares worse."]
    if has_slots:
        parts.append("Tinted: a slot that night.")
    parts.append("▲ the partner's highest of the period.")
    if left_out:
        parts.append("Nights on which no slot fits are left out.")
    parts.append("Grey: below need, less than half of the periods decode.")
    if ranked:
        parts.append("Blank: no slot fits a further partner.")
    else:
        parts.append("A dot: the Moon is shared, but no slot fits both ends; blank: it is not shared.")
    return " ".join(parts)


def no_shared_moon_words(calls: Sequence[str]) -> str:
    """`Without shared Moon all through: QI9TEA.`; empty where every partner has a window."""
    return f"Without shared Moon all through: {formats.listed(list(calls))}." if calls else ""
