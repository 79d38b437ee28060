"""The page to look at first when a slot fails: every place for a slot, a carpet a partner, twelve of them a page."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

import pandas as pd

from pipeline.outlook.carpets import Carpet
from pipeline.reports.carpet_charts import SlotMark, Square, carpet_key, carpet_square, day_labels
from pipeline.reports.clocks import clock_notes
from pipeline.reports.views import Carpets, CarpetsPage, Paper, period_edges
from pipeline.windows.frames import as_date, is_missing
from pipeline.wording import carpets as words
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

MOST_A_PAGE = 12
# So few partners stand in two columns.
FEW = 4
# No square is higher, in two columns or in three: it would look loose.
HIGHEST = {2: 290.0, 3: 236.0}
# Rounding must not push a square into the next row.
SPARE = 0.4
# Title, two lines below it, the key and the lines under it, in points; a browser sets text a little lower.
AROUND = 124.0
# A period up to this long is one picture, a longer one has a page a calendar month.
MOST_DAYS = 45


def carpets_view(plan: Plan, paper: Paper) -> Carpets:
    """All pages of carpets; none where nobody has a window."""
    shown = [carpet for carpet in plan.carpets if carpet.shared.any()]
    without = [carpet.partner for carpet in plan.carpets if not carpet.shared.any()]
    limits = plan.inputs.season.policy.outcome_thresholds.limits
    near = any(bool(carpet.near_sun.any()) for carpet in shown)
    sun = words.sun_words(plan.inputs.season.policy.minimum_sun_separation_deg) if near else ""
    steps = (*words.step_words(sorted(limits)), words.outline_words(), words.slot_words(len(plan.agenda)))
    pages = []
    for some in _sheets(plan, shown):
        columns = 2 if len(shown) <= len(some) <= FEW else 3
        rows = math.ceil(len(some) / columns)
        height = min((paper.text_height - AROUND) / rows, HIGHEST[columns])
        squares = tuple(
            carpet_square(_square(plan, carpet, first, last), paper.text_width / columns - SPARE, height)
            for carpet, first, last in some
        )
        dates = formats.period_title(min(first for _, first, _ in some), max(last for _, _, last in some))
        pages.append(CarpetsPage(dates, columns, tuple(carpet.partner for carpet, _, _ in some), squares))
    return Carpets(
        scale=words.scale_words(formats.offsets(plan.zone, *period_edges(plan))),
        key=tuple(carpet_key(steps, sun)),
        how=words.how_to_read(),
        without=words.without_words(without) if without else "",
        clocks=clock_notes(plan.zone, period_edges(plan), "at home"),
        pages=tuple(pages),
    )


def spans(first: dt.date, last: dt.date) -> list[tuple[dt.date, dt.date]]:
    """First and last date of each picture: the period as it is, or its calendar months."""
    if (last - first).days < MOST_DAYS:
        return [(first, last)]
    starts = [first, *(stamp.date() for stamp in pd.date_range(first + dt.timedelta(days=1), last, freq="MS"))]
    return list(zip(starts, [*(start - dt.timedelta(days=1) for start in starts[1:]), last], strict=True))


def _sheets(plan: Plan, shown: list[Carpet]) -> list[list[tuple[Carpet, dt.date, dt.date]]]:
    """What each page shows: few partners have the pictures of all their months on one sheet."""
    months = spans(plan.first_night, plan.last_night)
    if shown and len(months) * len(shown) <= MOST_A_PAGE:
        return [[(carpet, first, last) for carpet in shown for first, last in months]]
    return [[(carpet, first, last) for carpet in some] for first, last in months for some in _shared_out(shown)]


def _shared_out(shown: list[Carpet]) -> list[list[Carpet]]:
    """The squares of each page: as few pages as may be, whole rows on all but the last."""
    pages = math.ceil(len(shown) / MOST_A_PAGE)
    each = math.ceil(math.ceil(len(shown) / max(pages, 1)) / 3) * 3
    return [shown[place : place + each] for place in range(0, len(shown), max(each, 1))]


def _square(plan: Plan, whole: Carpet, first: dt.date, last: dt.date) -> Square:
    """One carpet; the days before the first night's date and after the last's stand at the edges of the period."""
    begin = whole.first_date if first == plan.first_night else first
    end = whole.dates[-1] if last == plan.last_night else last
    carpet = whole.between(begin, end)
    row = plan.partners.iloc[plan.inputs.place_of(carpet.partner)]
    nights = sum(carpet.partner in str(calls).split() for calls in plan.nights["partners_usable"])
    policy = plan.inputs.season.policy.outcome_thresholds
    if is_missing(row["best_night"]):
        best = words.none_words(whole, policy.marginal)
    else:
        best = words.best_words(as_date(row["best_night"]), float(row["chance"]), policy.limits)
    usable = words.usable_words(nights)
    edges = [
        (slot.start.astimezone(plan.zone), slot.end.astimezone(plan.zone))
        for slot in plan.slots
        if slot.call == carpet.partner
    ]
    month = "" if (first, last) == (plan.first_night, plan.last_night) else f" {formats.MONTHS[first.month - 1]}"
    return Square(
        carpet=carpet,
        name=f"{carpet.partner}{month}",
        limits=tuple(sorted(policy.limits)),
        days=day_labels(carpet.dates, first, last),
        slots=[_mark(start, stop, begin) for start, stop in edges if begin <= start.date() <= end],
        usable=usable,
        best=best,
        title=words.square_title(
            carpet, usable, best, [f"{formats.day(start.date())} {formats.clock(start)}" for start, _ in edges]
        ),
    )


def _mark(start: dt.datetime, end: dt.datetime, begin: dt.date) -> SlotMark:
    """By the clock on the wall, so that a slot over a change of the clocks ends where its minutes do."""
    hour = start.hour + start.minute / 60.0
    length = (end.astimezone(dt.UTC) - start.astimezone(dt.UTC)) / dt.timedelta(hours=1)
    return SlotMark((start.date() - begin).days, hour, hour + length, formats.clock(start))
