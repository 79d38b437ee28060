"""Why a partner has no slot, told to the partner itself: kindly, in one sentence, and never with a word about others.

The plan's own reasons are the operator's and may name other partners: of them only the kind of cause is taken.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.windows.frames import records
from pipeline.wording import formats
from pipeline.wording.words import one_line

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# How the plan's reason begins, and what the partner is told; `{call}` is the partner's own call.
CAUSES = (
    ("hours do not meet", "the hours at which you and we can be at our stations do not meet"),
    ("short by ", "our signals would be too weak by our figures"),
    ("far too weak", "our signals would be too weak by our figures"),
    ("the Sun is within ", "the Sun stands too near the Moon whenever both of us could be there"),
    ("only when {call} is away", "it would only fit on dates when you are away"),
    ("what was offered is declined", "the times that we offered did not suit you and we found no other"),
    ("its longest stretch ", "the times that we share are too short"),
    ("within all rules the Moon never ", "the Moon stays too low in the times that we share"),
)


def no_slot_words(plan: Plan, call: str) -> str:
    """One sentence or two."""
    period = formats.period_title(plan.first_night, plan.last_night)
    row = next(row for row in records(plan.partners) if row["partner"] == call)
    if not row["windows"]:
        reason = one_line(str(row.get("no_window_reason") or "")).rstrip(".")
        why = f": {reason}" if reason else ""
        return f"Sadly the Moon gives us no common time in {period}{why}."
    if plan.modes[plan.inputs.place_of(call)] is None:
        return f"We have no time for you in {period} yet, because we share no mode. Which modes can you use?"
    reason = str(row.get("no_slot_reason") or "")
    cause = next((words for begins, words in CAUSES if reason.startswith(begins.format(call=call))), "")
    count = formats.count(int(row["windows"]), "time", "times")
    told = f"Sadly we could not fit in a slot for you in {period}" + (f": {cause}" if cause else "")
    return f"{told}. The Moon is up for both of us {count}."
