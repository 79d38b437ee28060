"""What a tried change would do, in plain lines: expected contacts, slots, then partner by partner."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from pipeline.plan.compare import Comparison, PartnerChange, Slot, SlotChange
from pipeline.windows.instants import as_instant
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.held import Held
    from pipeline.plan.plan import Plan


def what_if_text(plan: Plan, changes: list[str], made: Comparison, held: Held | None = None) -> str:
    """The whole answer; nothing was written. `held` says whether the agenda of the files was to stay."""
    before, after = made.expected_contacts
    lines = [
        f"What if {' and '.join(changes)}",
        "",
        f"Contacts to expect from the agenda: {before:.1f} now, {after:.1f} then; "
        f"nights to set up: {made.nights[0]} now, {made.nights[1]} then.",
    ]
    lines += [] if held is None else [_held_words(held)]
    shown = [change for change in made.slots if _is_seen(plan, change)]
    lines += ["", "Slots:"] if shown else ["", "No slot would change."]
    names = [_who(plan, change) for change in shown]
    width = max(map(len, names), default=0)
    lines += [f"  {name:{width}}  {_slot_words(plan, change)}" for name, change in zip(names, shown, strict=True)]
    if shown and sum(change.before is not None for change in shown) < len(plan.ahead):
        lines.append("  All others stay as they are.")
    touched = [change for change in made.partners if not change.is_same]
    told = [line for change in touched for line in _partner_lines(plan, change)]
    if told:
        lines += ["", "Partners (now, then):", *told]
    return "\n".join([*lines, "", "Nothing was written: the files and the plan in the out folder stand as they were."])


def _held_words(held: Held) -> str:
    """Whether the agenda was held, and what the best one would gain."""
    limit = f"{held.least_gain:g} contacts"
    if not held.is_held:
        return f"The agenda is not held: the best one gains {held.gain:.2f} contacts, more than {limit}."
    gains = "nothing" if held.gain < 0.005 else f"{held.gain:.2f} contacts"
    return f"The agenda is held: the best one would gain {gains}, no more than {limit}."


def _who(plan: Plan, change: SlotChange) -> str:
    """`QF4LUM`; `QF4LUM by QM7NEW` where another call than home's is used."""
    return change.partner if change.operator == plan.inputs.home.call else f"{change.partner} by {change.operator}"


def _when(plan: Plan, slot: Slot) -> str:
    start, end = (as_instant(moment) for moment in (slot.start_utc, slot.end_utc))
    return f"{formats.slot_span(start, end, plan.zone)} local ({formats.slot_span(start, end, dt.UTC)} UTC)"


def _is_seen(plan: Plan, change: SlotChange) -> bool:
    """Whether a change is more than the printed figures tell."""
    before, after = change.before, change.after
    if before is None or after is None:
        return True
    moves = (before.start_utc, before.end_utc) != (after.start_utc, after.end_utc)
    return moves or _chance(plan, before.chance) != _chance(plan, after.chance)


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
    return formats.chance(chance, plan.inputs.season.policy.outcome_thresholds.limits)


def _partner_lines(plan: Plan, change: PartnerChange) -> list[str]:
    """What changed for one partner, and nothing that stayed; no line where all of it is less than is printed."""
    if not all(change.is_partner):
        return [f"  {change.partner}: {'no partner then' if change.is_partner[0] else 'a partner then'}"]
    hours = tuple(f"{value:.1f}" for value in change.hours)
    best, contact = (
        tuple(_chance(plan, value) if value > 0.0 else "none" for value in pair)
        for pair in (change.best_chance, change.contact_chance)
    )
    told = (
        ("windows", tuple(map(str, change.windows))),
        ("hours", hours),
        ("best window's chance", best),
        ("chance of a contact in its slots", contact),
    )
    facts = [f"{name} {now}, {then}" for name, (now, then) in told if now != then]
    margins = ((change.margin_at_partner_db, f"at {change.partner}"), (change.margin_at_home_db, "at home"))
    known = [(formats.signed(value, 1, plus=True), where) for value, where in margins if np.isfinite(value)]
    if any(figure != "0.0" for figure, _ in known):
        facts.append(f"signal over need {', '.join(f'{figure} dB {where}' for figure, where in known)}")
    return [f"  {change.partner}: {'; '.join(facts)}"] if facts else []
