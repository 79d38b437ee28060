"""What one plan has that another has not: slots gained, lost and moved, chances and margins partner by partner.

From two finished plans of the same home and period; the answer to "what if".
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# Below this nothing changed but rounding.
SAME = 1e-9


@dataclass(frozen=True)
class Slot:
    """A slot of one of the plans."""

    start_utc: pd.Timestamp
    end_utc: pd.Timestamp
    chance: float


@dataclass(frozen=True)
class SlotChange:
    """A slot before and after; None where there was or is none."""

    partner: str
    operator: str
    before: Slot | None
    after: Slot | None


@dataclass(frozen=True)
class PartnerChange:
    """A partner's figures before and after. Margins: mean difference over the instants that both plans hold, dB."""

    partner: str
    is_partner: tuple[bool, bool]
    windows: tuple[int, int]
    hours: tuple[float, float]
    best_chance: tuple[float, float]
    contact_chance: tuple[float, float]
    margin_at_partner_db: float
    margin_at_home_db: float

    @property
    def is_same(self) -> bool:
        """Whether nothing changed."""
        pairs = (self.is_partner, self.windows, self.hours, self.best_chance, self.contact_chance)
        margins = np.nan_to_num([self.margin_at_partner_db, self.margin_at_home_db])
        return all(abs(a - b) < SAME for a, b in pairs) and bool((np.abs(margins) < SAME).all())


@dataclass(frozen=True)
class Comparison:
    """All that changed, by time and in the season's order."""

    slots: tuple[SlotChange, ...]
    partners: tuple[PartnerChange, ...]
    expected_contacts: tuple[float, float]
    nights: tuple[int, int]


def compare_plans(before: Plan, after: Plan) -> Comparison:
    """The differences of two plans."""
    plans = (before, after)
    calls = dict.fromkeys(station.call for plan in plans for station in plan.inputs.partners)
    return Comparison(
        slots=tuple(_slot_changes(before, after)),
        partners=tuple(_partner_change(before, after, call) for call in calls),
        expected_contacts=(before.contacts_expected, after.contacts_expected),
        nights=(before.ahead["night"].nunique(), after.ahead["night"].nunique()),
    )


def _contact_chance(plan: Plan, call: str) -> float:
    """The chance of a contact with a partner over all its slots; 0 where it has none."""
    mine = plan.ahead[plan.ahead["partner"] == call]
    return float(mine["joint_chance_met"].max()) if len(mine) else 0.0


def _slot_changes(before: Plan, after: Plan) -> list[SlotChange]:
    """Slots that differ, matched by partner, operator and label."""
    found: dict[tuple[str, str, str], list[Slot | None]] = defaultdict(lambda: [None, None])
    for side, plan in enumerate((before, after)):
        for row in plan.ahead.itertuples():
            slot = Slot(row.slot_start_utc, row.slot_end_utc, float(row.chance))
            found[row.partner, row.operator, row.label][side] = slot
    changes = [SlotChange(key[0], key[1], slots[0], slots[1]) for key, slots in found.items() if _differ(*slots)]
    return sorted(changes, key=lambda change: (_first(change).start_utc, change.partner))


def _first(change: SlotChange) -> Slot:
    slot = change.after or change.before
    assert slot is not None, "a change has a slot on one side at least"
    return slot


def _differ(before: Slot | None, after: Slot | None) -> bool:
    if before is None or after is None:
        return True
    same_time = before.start_utc == after.start_utc and before.end_utc == after.end_utc
    return not same_time or abs(before.chance - after.chance) >= SAME


def _partner_change(before: Plan, after: Plan, call: str) -> PartnerChange:
    windows = [plan.windows[plan.windows["partner"] == call] for plan in (before, after)]
    margins = _margin_changes(before, after, call)
    return PartnerChange(
        partner=call,
        is_partner=(_has(before, call), _has(after, call)),
        windows=(len(windows[0]), len(windows[1])),
        hours=(_hours(windows[0]), _hours(windows[1])),
        best_chance=(_best(windows[0]), _best(windows[1])),
        contact_chance=(_contact_chance(before, call), _contact_chance(after, call)),
        margin_at_partner_db=margins[0],
        margin_at_home_db=margins[1],
    )


def _has(plan: Plan, call: str) -> bool:
    return any(station.call == call for station in plan.inputs.partners)


def _hours(windows: pd.DataFrame) -> float:
    return float(windows["duration_min"].sum() / 60.0)


def _best(windows: pd.DataFrame) -> float:
    return float(windows["chance"].max()) if len(windows) else 0.0


def _margin_changes(before: Plan, after: Plan, call: str) -> tuple[float, float]:
    """Mean change of both margins over shared instants; NaN where there is none or a mode is missing."""
    names = ["margin_at_partner_db", "margin_at_home_db"]
    frames = [
        plan.samples.loc[plan.samples["partner"] == call, ["time_utc", *names]].drop_duplicates("time_utc")
        for plan in (before, after)
    ]
    both = frames[0].merge(frames[1], on="time_utc", suffixes=("_before", "_after"))
    changes = [(both[f"{name}_after"] - both[f"{name}_before"]).mean() for name in names]
    return float(changes[0]), float(changes[1])
