"""The sentences of the board of fields: what it shows, of whom besides the partners, for whoever cannot see it.

From `outlook.board`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from pipeline.outlook.board import SLEEP_BEGINS_H, SLEEP_ENDS_H, TONES_MINUTES, Board
from pipeline.wording import formats

FIELDS_TOLD, CALLS_TOLD = 6, 8


def board_lead() -> str:
    """What a field and its tone mean."""
    return (
        "locator fields with land that have the Moon above 5 degrees while you have it so and are free;"
        " the fuller the tone, the longer"
    )


def board_key() -> str:
    """What the fields are, whose sleep is meant, and that no field promises anybody."""
    return (
        f"Asleep: {SLEEP_BEGINS_H:02.0f}:00 to {SLEEP_ENDS_H:02.0f}:00 by the mean Sun there, in the middle of the"
        " shared time. A field is 20 by 10 degrees, judged at its middle and by a level horizon; at its edges the time"
        " may be about three quarters of an hour longer or shorter. Pale outline: land without shared Moon. Left out:"
        " the open sea, and where nobody lives but at bases, south of 60 and north of 80 degrees."
    )


def tone_words() -> tuple[str, ...]:
    """`15 to 60 min`, `1 to 2 h`, `2 to 4 h`, `4 h and more`: the tones from pale to full."""
    edges = itertools.pairwise(TONES_MINUTES)
    words = [f"{a} to {b} min" if b <= 60 else f"{a // 60} to {b // 60} h" for a, b in edges]
    return (*words, f"{TONES_MINUTES[-1] // 60} h and more")


def legend_words() -> str:
    """The legend for whoever cannot see it."""
    return (
        f"Tones from pale to full: {', '.join(tone_words())} of shared Moon; a folded corner: asleep; a heavy outline:"
        " a slot that night; an outline: another partner; a small square: home"
    )


def others_words(calls: Sequence[tuple[str, str]]) -> str:
    """`Not a partner yet, in the fullest fields: QX1ABC (DN).`: calls with their fields; empty where there are none."""
    if not calls:
        return ""
    told = [f"{call} ({field})" for call, field in calls[:CALLS_TOLD]]
    more = [f"{len(calls) - CALLS_TOLD} more"] if len(calls) > CALLS_TOLD else []
    return f"Not a partner yet, in the fullest fields: {formats.listed([*told, *more])}."


def board_words(board: Board, slots: Sequence[str]) -> str:
    """What the picture of one night shows; `slots` are the fields in which one is agreed or proposed."""
    shared = [one for one in board.fields if one.tone]
    night = formats.day_long(board.night)
    if not shared:
        return f"{night}: no field with land shares the Moon with home's free hours"
    longest = sorted(shared, key=lambda one: (-one.shared_minutes, one.name))[:FIELDS_TOLD]
    awake = sum(not one.asleep for one in shared)
    words = (
        f"{night}: {formats.count(len(shared), 'field')} with land share the Moon with home's free hours,"
        f" {awake} of them awake; longest {formats.listed([one.name for one in longest])},"
        f" {formats.duration(longest[0].shared_minutes)} at most"
    )
    return f"{words}; slots in {formats.listed(sorted(set(slots)))}" if slots else words
