"""Slots that are held for the case that an earlier one with the same partner and operator fails.

Where one contact is wanted a second slot is there for that alone: once the first has worked, it falls away.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pipeline.inputs.model import Partner
from pipeline.windows.instants import as_instant


def held_for(slots: Sequence[tuple[str, str, dt.datetime]], contacts_wanted: int) -> dict[str, str]:
    """By letter of a slot that of the one that must fail first; `slots` are those ahead: letter, operator, start."""
    found: dict[str, str] = {}
    last: dict[str, str] = {}
    for label, operator, _ in sorted(slots, key=lambda one: (one[2], one[0])):
        if operator in last and contacts_wanted == 1:
            found[label] = last[operator]
        last[operator] = label
    return found


def starts_before(rows: Iterable[Mapping[str, Any]], wishes: Sequence[Partner]) -> dict[tuple[str, str], dt.datetime]:
    """By partner and letter when the slot begins that must fail first; `rows` are those of the agenda's table."""
    ahead = [row for row in rows if not row["slot_outcome"]]
    found: dict[tuple[str, str], dt.datetime] = {}
    for wish in wishes:
        own = [row for row in ahead if row["partner"] == wish.call]
        starts = {row["label"]: as_instant(row["slot_start_utc"]) for row in own}
        slots = [(str(row["label"]), str(row["operator"]), starts[row["label"]]) for row in own]
        firsts = held_for(slots, wish.contacts_wanted)
        found |= {(wish.call, label): starts[first] for label, first in firsts.items()}
    return found
