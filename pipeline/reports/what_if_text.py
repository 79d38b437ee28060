"""What a tried change would do, in plain lines: expected contacts, slots, then partner by partner."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pipeline.planning.compare import Comparison, PartnerChange, Slot, SlotChange
from pipeline.reports import formats

if TYPE_CHECKING:
    from pipeline.planning.plan import Plan


def what_if_text(plan: Plan, changes: list[str], made: Comparison) -> str:
    """The whole answer; nothing was written."""
    before, after = made.expected_contacts
    lines = [
        f"What if {' and '.join(changes)}",
        "",
        f"Contacts to expect from the agenda: {before:.1f} now, {after:.1f} then; "
        f"nights to set up: {made.nights[0]} now, {made.nights[1]} then.",
    ]
    lines += ["", "Slots:"] if made.slots else ["", "No slot would change."]
    width = max((len(change.partner) for change in made.slots), default=0)
    lines += [f"  {change.partner:{width}}  {_slot_words(plan, change)}" for change in made.slots]
    touched = [change for change in made.partners if not change.is_same]
    if touched:
        lines += ["", "Partners (now, then):"]
        lines += [line for change in touched for line in _partner_lines(plan, change)]
    return "\n".join([*lines, "", "Nothing was written: the files and the plan in the out folder stand as they were."])


def _when(plan: Plan, slot: Slot) -> str:
    start, end = (formats.instant(moment) for moment in (slot.start_utc, slot.end_utc))
    local = start.astimezone(plan.zone)
    return (
        f"{formats.day(local.date())} {formats.clock(local)} to {formats.clock(end.astimezone(plan.zone))} local "
        f"({start:%H:%M} UTC)"
    )


def _slot_words(plan: Plan, change: SlotChange) -> str:
    before, after = change.before, change.after
    if before is None and after is not None:
        return f"new: {_when(plan, after)}, chance {_chance(plan, after.chance)}"
    if after is None and before is not None:
        return f"gone: {_when(plan, before)}"
    assert before is not None
    assert after is not None
    chances = f"chance {_chance(plan, before.chance)}, then {_chance(plan, after.chance)}"
    if before.start_utc == after.start_utc and before.end_utc == after.end_utc:
        return f"stays {_when(plan, after)}; {chances}"
    return f"moves from {_when(plan, before)} to {_when(plan, after)}; {chances}"


def _chance(plan: Plan, chance: float) -> str:
    limits = plan.inputs.season.policy.outcome_thresholds
    return formats.chance(chance, (limits.strong, limits.workable, limits.marginal))


def _partner_lines(plan: Plan, change: PartnerChange) -> list[str]:
    facts = [
        f"windows {change.windows[0]}, {change.windows[1]}",
        f"hours {change.hours[0]:.1f}, {change.hours[1]:.1f}",
        f"best window's chance {_chance(plan, change.best_chance[0])}, {_chance(plan, change.best_chance[1])}",
    ]
    lines = [f"  {change.partner}: {'; '.join(facts)}"]
    margins = ((change.margin_at_partner_db, f"at {change.partner}"), (change.margin_at_home_db, "at home"))
    known = [f"{formats.signed(value, 1)} dB {where}" for value, where in margins if np.isfinite(value)]
    if known:
        lines.append(f"      signal over need changes by {', '.join(known)}")
    return lines
