"""Times of high margin: a row a night, a column a partner; above nine partners the seven best of each night by rank.

From the plan's usable windows, which alone have a slot that fits, and its slots.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.outlook.usable_windows import UsableWindow, highest_of_nights, highest_of_partners
from pipeline.reports.clocks import timed
from pipeline.reports.month_view import no_night_cell
from pipeline.reports.views import HighCell, HighMargin, HighPage, HighRow, Paper, days_between, period_edges
from pipeline.windows.frames import as_date
from pipeline.wording import formats
from pipeline.wording.high_margin import high_margin_key, high_margin_lead, no_shared_moon_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

MOST_COLUMNS, RANKS = 9, 7
MOST_ROWS = 36
HIGHEST, DOT = "▲", "·"
# Points of what stands around the rows; of one line of text and the least around it.
AROUND_ROWS, TEXT_LINE, LEAST_PADDING = 128.0, 8.8, 1.4
LARGEST_ROW = 22.0


@dataclass(frozen=True)
class Table:
    """What all rows are made from: the columns' partners, none where they are ranks; what is highest; the slots."""

    calls: tuple[str, ...]
    nights: dict[dt.date, list[UsableWindow]]
    highest: dict[str, UsableWindow]
    slots: dict[tuple[dt.date, str], list[dt.datetime]]
    shared: frozenset[tuple[dt.date, str]]


def high_margin_view(plan: Plan, paper: Paper) -> HighMargin | None:
    """The page, or the pages of a longer period; None where no slot fits at all."""
    if not plan.usable_windows:
        return None
    table = _table(plan)
    ranked = not table.calls
    dates = days_between(plan.first_night, plan.last_night)
    rows = [_row(plan, table, date) for date in dates]
    left_out = len(rows) > MOST_ROWS
    if left_out:
        # A long period would be sheets of blank lines.
        rows = [row for row in rows if any(cell.text not in ("", DOT) for cell in row.cells)]
    pages = math.ceil(len(rows) / MOST_ROWS)
    each = math.ceil(len(rows) / pages)
    heads = tuple(str(rank + 1) for rank in range(RANKS)) if ranked else table.calls
    seen = set(_with_windows(plan))
    unseen = [one.call for one in plan.inputs.partners if one.call not in seen]
    return HighMargin(
        period=formats.period_title(plan.first_night, plan.last_night),
        lead=high_margin_lead(RANKS, ranked),
        clock=_clock_words(plan),
        heads=heads,
        ranked=ranked,
        pages=tuple(_page(rows[first : first + each], paper) for first in range(0, len(rows), each)),
        key=" ".join(filter(None, [high_margin_key(ranked, bool(plan.slots), left_out), no_shared_moon_words(unseen)])),
    )


def _clock_words(plan: Plan) -> str:
    return f"times at home, {formats.offsets(plan.zone, *period_edges(plan))}"


def _with_windows(plan: Plan) -> list[str]:
    seen = set(plan.windows["partner"]) if len(plan.windows) else set()
    return [one.call for one in plan.inputs.partners if one.call in seen]


def _table(plan: Plan) -> Table:
    calls = tuple(_with_windows(plan))
    slots: dict[tuple[dt.date, str], list[dt.datetime]] = {}
    for slot in plan.slots:
        slots.setdefault((slot.night, slot.call), []).append(slot.start)
    pairs = zip(plan.windows["night"], plan.windows["partner"], strict=True)
    shared = frozenset((as_date(night), call) for night, call in pairs)
    return Table(
        calls=calls if len(calls) <= MOST_COLUMNS else (),
        nights=highest_of_nights(plan.usable_windows),
        highest=highest_of_partners(plan.usable_windows),
        slots=slots,
        shared=shared,
    )


def _page(rows: Sequence[HighRow], paper: Paper) -> HighPage:
    """As much room a row as the sheet has."""
    lines = sum(row.lines for row in rows)
    free = (paper.text_height - AROUND_ROWS - lines * TEXT_LINE) / len(rows) / 2.0
    most = (LARGEST_ROW - TEXT_LINE) / 2.0
    return HighPage(tuple(rows), math.floor(min(max(free, LEAST_PADDING), most) * 10.0) / 10.0)


def _row(plan: Plan, table: Table, date: dt.date) -> HighRow:
    label, ends_week = formats.day(date), date.weekday() == 6
    away = plan.inputs.home.is_away(date)
    if date not in plan.period.dates:
        return HighRow(label, "", ends_week, (), no_night_cell(plan, date).no_night, 1)
    best = table.nights.get(date, [])
    if table.calls:
        found = {one.partner: one for one in best}
        cells = tuple(_cell(plan, table, date, call, found.get(call), named=False) for call in table.calls)
    else:
        chosen = [_cell(plan, table, date, one.partner, one, named=True) for one in best[:RANKS]]
        cells = (*chosen, *[HighCell("", "")] * (RANKS - len(chosen)))
    return HighRow(
        label, "away" if away else "", ends_week, cells, "", max(cell.text.count("\n") for cell in cells) + 1
    )


def _cell(plan: Plan, table: Table, night: dt.date, call: str, best: UsableWindow | None, named: bool) -> HighCell:
    """`17:45 +5.9`, below it who (named) or the slots of that night; a dot where the Moon is only shared."""
    starts = table.slots.get((night, call), [])
    tint = "slot" if starts else ""
    if best is None:
        dot = DOT if (night, call) in table.shared else ""
        if not starts:
            return HighCell(dot, "dot" if dot else "", call)
        return HighCell(timed(plan, starts[0], lambda zone: _slots_words(starts, zone, night)), tint, call)
    mark = f" {HIGHEST}" if table.highest[call] is best else ""
    margin = formats.signed(best.high_margin_db, 1, plus=True)

    def words(zone: dt.tzinfo) -> str:
        below = call if named else _slots_words(starts, zone, night)
        return f"{formats.clock_of_night(best.high_at, zone, night)} {margin}{mark}" + (f"\n{below}" if below else "")

    level = "good" if round(best.high_margin_db, 1) >= 0.0 else "below"
    return HighCell(timed(plan, best.high_at, words), f"{level} {tint}".strip(), call)


def _slots_words(starts: Sequence[dt.datetime], zone: dt.tzinfo, night: dt.date) -> str:
    """`slot 17:45`; empty without a slot."""
    return f"slot {', '.join(formats.clock_of_night(start, zone, night) for start in starts)}" if starts else ""
