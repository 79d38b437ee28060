"""The words beside the month grid: the nights to set up with their slots, or the best nights; then those to beware of.

From nights, windows and agenda; no more than the column holds.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import TYPE_CHECKING, Any

from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.reports import charts
from pipeline.reports.views import Advice, Meeting, span
from pipeline.windows.frames import as_date, is_missing
from pipeline.windows.instants import as_instant
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

BEST_NIGHTS = 5
WARY_NIGHTS = 2
# The stylesheet's lines of advice: characters a line (a cautious count), points a line, a paragraph's gap, a heading.
ADVICE_CHARACTERS, ADVICE_LINE, ADVICE_GAP, ADVICE_HEADING = 60, 10.2, 5.0, 26.0
Row = dict[str, Any]


def decibels_of(row: Row) -> str | None:
    """Degradation of a night as printed; None where it has no figure."""
    value = row.get("degradation_db")
    return None if is_missing(value) else f"{formats.decibels(float(value or 0.0))} dB"


def advice_of(
    plan: Plan, nights: list[Row], windows: dict[dt.date, list[Row]], slots: dict[dt.date, list[Row]], room: float
) -> tuple[str, tuple[Advice, ...], tuple[Advice, ...]]:
    """(title, the agenda's nights with their slots or, without any, the best nights; nights to beware of)."""
    chosen = [row for row in nights if row["night"] in slots]
    if chosen:
        advice = [_judged(plan, row, _slot_meetings(plan, slots[row["night"]]), None) for row in chosen]
        title = "The night to set up" if len(chosen) == 1 else f"{len(chosen)} nights to set up"
    else:
        chosen = ranked(nights)[:BEST_NIGHTS]
        advice = [_judged(plan, row, *_meetings(plan, windows[row["night"]])) for row in chosen]
        title = "The best nights, none with a slot" if chosen else "No night with anybody to meet"
    wary = [_judged(plan, row, (), None) for row in _wary([row for row in nights if row not in chosen])]
    return title, *_fitting(advice, wary, room)


def ranked(nights: list[Row]) -> list[Row]:
    """The nights that bring a contact by themselves, the best first."""
    return sorted((row for row in nights if row["contacts_expected"] > 0.0), key=lambda row: row["rank"])


def _slot_meetings(plan: Plan, slots: list[Row]) -> tuple[Meeting, ...]:
    """Who is worked when, in home's time."""
    return tuple(_meeting(plan, slot, "slot") for slot in slots)


def _meeting(plan: Plan, row: Row, what: str) -> Meeting:
    """The partner and the hours of a `slot` or a `window`."""
    start, end = (as_instant(row[f"{what}_{edge}_utc"]) for edge in ("start", "end"))
    return Meeting(row["partner"], span(start, end, plan.zone, as_date(row["night"])))


def _wary(nights: list[Row]) -> list[Row]:
    """The nights that somebody might take unwarned: without hope, then near the Sun, then the worst of the rest."""

    def concern(row: Row) -> tuple[bool, bool, int, float]:
        least = row.get("degradation_db")
        return (
            row["outcome"] not in ("nobody free", "no window"),
            float(row["sun_separation_deg"]) >= NEAR_SUN_DEG,
            -charts.OUTCOMES.index(row["outcome"]),
            -(0.0 if is_missing(least) else float(least or 0.0)),
        )

    poor = [row for row in nights if row["outcome"] != "strong" or row["sun_separation_deg"] < NEAR_SUN_DEG]
    return sorted(poor, key=concern)[:WARY_NIGHTS]


def _fitting(chosen: list[Advice], wary: list[Advice], room: float) -> tuple[tuple[Advice, ...], tuple[Advice, ...]]:
    """As much advice as the column holds: a sentence cut off at the foot of the page is worse than none.

    Warnings go first, down to one; then the reasons of the last nights; a night itself goes last of all.
    """

    def left() -> float:
        return room - 2 * ADVICE_HEADING - 2 * ADVICE_LINE - sum(_points(advice) for advice in [*chosen, *wary])

    while left() < 0 and len(wary) > 1:
        wary.pop()
    for index in reversed(range(len(chosen))):
        if left() < 0:
            chosen[index] = dataclasses.replace(chosen[index], reason="")
    while left() < 0 and (wary or chosen):
        (wary or chosen).pop()
    return tuple(chosen), tuple(wary)


def _points(advice: Advice) -> float:
    """The height of one night's words, points."""
    meetings = sum(len(meeting.partner) + len(meeting.hours) + 3 for meeting in advice.meetings)
    characters = [len(advice.reason), meetings + len(advice.more or "")]
    lines = 1 + sum(-(-count // ADVICE_CHARACTERS) for count in characters)
    return lines * ADVICE_LINE + ADVICE_GAP


def _judged(plan: Plan, row: Row, meetings: tuple[Meeting, ...], more: str | None) -> Advice:
    return Advice(
        formats.day_long(row["night"]),
        charts.outcome_mark(str(row["outcome"])),
        row["outcome"],
        decibels_of(row),
        row["reason"],
        meetings,
        more,
    )


def _meetings(plan: Plan, windows: list[Row], shown: int = 3) -> tuple[tuple[Meeting, ...], str | None]:
    """The best windows of a night by chance times priority, as the ranking counts, then degradation, then length.

    They are told in the order of the clock.
    """

    priority = {wish.call: wish.priority for wish in plan.inputs.wishes}

    def merit(row: Row) -> tuple[float, float, float]:
        chance, least = row.get("chance"), row.get("degradation_least_db")
        return (
            0.0 if is_missing(chance) else -float(chance or 0.0) * priority.get(row["partner"], 1.0),
            0.0 if is_missing(least) else float(least or 0.0),
            -float(row["duration_min"]),
        )

    best: list[Row] = []
    for row in sorted(windows, key=merit):
        if len(best) < shown and row["partner"] not in {other["partner"] for other in best}:
            best.append(row)
    best.sort(key=lambda row: row["window_start_utc"])
    others = len({row["partner"] for row in windows}) - len(best)
    meetings = tuple(_meeting(plan, row, "window") for row in best)
    return meetings, f"and {formats.count(others, 'more partner')}" if others else None
