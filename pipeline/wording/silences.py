"""Agreed slots of which no log tells, in words: each named with its time, and how to answer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Protocol

from pipeline.wording import formats


class Quiet(Protocol):
    """A slot by partner, letter (empty where nobody knows it) and times."""

    @property
    def partner(self) -> str: ...
    @property
    def label(self) -> str: ...
    @property
    def start_utc(self) -> dt.datetime: ...
    @property
    def end_utc(self) -> dt.datetime: ...


def silence_question(slot: Quiet) -> str:
    """`QF4LUM B, 2027-03-13 01:15 to 01:45 UTC: no log has a line of it; failed, not tried, or nobody there?`"""
    name = f"{slot.partner} {slot.label}".strip()
    times = f"{slot.start_utc:%Y-%m-%d %H:%M} to {slot.end_utc:%H:%M} UTC"
    return f"{name}, {times}: no log has a line of it; failed, not tried, or nobody there?"


def silence_advice(slots: Sequence[Quiet]) -> str:
    """How to answer for them, and what counts meanwhile."""
    if not slots:
        return ""
    first = next((one for one in slots if one.label), slots[0])
    slot = f"answer {first.partner} {first.label or 'A'}=failed"
    them = "it is" if len(slots) == 1 else "they are"
    return (
        f"{formats.count(len(slots), 'agreed slot')} without a line in a log: write one, note it with {slot} (absent, "
        f"rained, made), or tell of all at once with --unlogged; meanwhile {them} no contact."
    )


def presence_words(presence: float) -> str:
    """`partners were there in 83 % of agreed slots`."""
    return f"partners were {share_words(presence)}"


def share_words(presence: float) -> str:
    """`there in 83 % of agreed slots`."""
    return f"there in {presence * 100:.0f} % of agreed slots"
