"""The dates against the clock: windows cut into rows from home's local noon to noon, lanes a partner, paged.

What a night is does not matter here: a row shows what the clock does, whichever night a window belongs to.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

from pipeline.reports import charts
from pipeline.reports.views import Lane, Nights, NightsPage, Paper, clock_notes, period_edges, windows_by_night
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# The lane's number must stay readable; more room than the second figure looks loose.
LEAST_LANE, LARGEST_LANE = 4.2, 9.0
# Heading, scales and the lines under the chart, in points.
AROUND_CHART = 124.0
Edges = tuple[dt.datetime, dt.datetime]


def nights_view(plan: Plan, paper: Paper) -> Nights:
    """All nights pages; the rows are shared out evenly."""
    windows = windows_by_night(plan)
    calls = [station.call for station in plan.inputs.partners]
    seen = {row["partner"] for rows in windows.values() for row in rows}
    numbered = {call: i for i, call in enumerate(call for call in calls if call in seen)}
    names = {station.call: station.title for station in plan.inputs.partners}
    known = {as_date(row["night"]): {**row, "night": as_date(row["night"])} for row in records(plan.nights)}
    nights = [known.get(date, {"night": date}) for date in days_between(plan.first_night, plan.last_night)]
    rows = _rows(plan, nights, numbered)
    room = paper.text_height - AROUND_CHART - 11 * math.ceil(len(numbered) / 4)
    lane, per_page = _layout(len(rows), max(len(numbered), 1), room)
    pages = []
    for i in range(0, len(rows), per_page):
        dates = [row["night"] for row in nights[i : i + per_page]]
        chart = charts.NightsChart(
            rows[i : i + per_page],
            max(len(numbered), 1),
            _scales(plan, dates),
            charts.hours_title(len(dates), len(numbered)),
        )
        pages.append(
            NightsPage(
                " to ".join(dict.fromkeys(formats.day(date) for date in (dates[0], dates[-1]))),
                charts.nights_chart(chart, paper.text_width, lane),
                charts.nights_dates(chart, lane),
            )
        )
    without = [call for call in calls if call not in seen]
    return Nights(
        lanes=tuple(Lane(i + 1, call, names.get(call, "")) for call, i in numbered.items()),
        without=f"Without a window: {formats.listed(without)}." if without else None,
        clocks=clock_notes(plan.zone, period_edges(plan), "at home"),
        slots=bool(_slots(plan)),
        pages=tuple(pages),
    )


def days_between(first: dt.date, last: dt.date) -> list[dt.date]:
    """Every date from the first to the last."""
    return [first + dt.timedelta(days=day) for day in range((last - first).days + 1)]


def noon_of(date: dt.date, zone: dt.tzinfo) -> dt.datetime:
    """Local noon of a date in UTC."""
    return dt.datetime.combine(date, dt.time(12), tzinfo=zone).astimezone(dt.UTC)


def _layout(rows: int, lanes: int, room: float) -> tuple[float, int]:
    """(lane height, rows a page): as few pages as the least lane height allows, then the room shared out."""
    most = max(1, int(room // charts.row_height(lanes, LEAST_LANE)))
    pages = math.ceil(rows / most)
    per_page = math.ceil(rows / pages)
    lane = min(LARGEST_LANE, (room / per_page - charts.ROW_GAP) / lanes)
    return max(lane, LEAST_LANE), per_page


def _slots(plan: Plan) -> list[tuple[str, Edges]]:
    return [
        (row["partner"], (as_instant(row["slot_start_utc"]), as_instant(row["slot_end_utc"])))
        for row in records(plan.agenda)
    ]


def _hours_from_noon(moment: dt.datetime, plan: Plan, night: dt.date) -> float:
    """On the wall clock, so that a clock change shifts the UTC labels and not the bars."""
    wall = moment.astimezone(plan.zone).replace(tzinfo=None)
    hours = (wall - dt.datetime.combine(night, dt.time(12))).total_seconds() / 3600
    return min(max(hours, 0.0), 24.0)


def _rows(plan: Plan, nights: list[dict[str, Any]], numbered: dict[str, int]) -> list[charts.NightRow]:
    windows = [
        (row["partner"], (as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"])))
        for rows in windows_by_night(plan).values()
        for row in rows
    ]
    slots = _slots(plan)
    moon = _moon_up(plan, nights)
    rows = []
    for row in nights:
        night = row["night"]
        noons = noon_of(night, plan.zone), noon_of(night + dt.timedelta(days=1), plan.zone)
        bars = [
            _bar(plan, night, noons, numbered[call], edges, slot)
            for slot, found in ((False, windows), (True, slots))
            for call, edges in found
            if call in numbered and edges[0] < noons[1] and edges[1] > noons[0]
        ]
        up = [
            (
                _hours_from_noon(max(start, noons[0]), plan, night),
                24.0 if end >= noons[1] else _hours_from_noon(end, plan, night),
            )
            for start, end in moon
            if start < noons[1] and end > noons[0]
        ]
        value = row.get("degradation_db")
        rows.append(
            charts.NightRow(
                formats.day(night),
                row.get("outcome"),
                None if is_missing(value) else formats.decibels(float(value or 0.0)),
                tuple(bars),
                tuple(up),
            )
        )
    return rows


def _bar(plan: Plan, night: dt.date, noons: Edges, lane: int, edges: Edges, slot: bool) -> charts.Bar:
    before, after = edges[0] < noons[0], edges[1] > noons[1]
    start = 0.0 if before else _hours_from_noon(edges[0], plan, night)
    end = 24.0 if after else _hours_from_noon(edges[1], plan, night)
    return charts.Bar(lane, start, end, after, slot)


def _moon_up(plan: Plan, nights: list[dict[str, Any]]) -> list[Edges]:
    """Stretches with the Moon above home's horizon, from the rise and set instants of all nights.

    Before the first event the Moon stands as that event tells; without any event it is up if there are windows.
    """
    begin = noon_of(nights[0]["night"], plan.zone)
    finish = noon_of(nights[-1]["night"] + dt.timedelta(days=1), plan.zone)
    events = sorted(
        (as_instant(row[name]), name == "home_moonrise_utc")
        for row in nights
        for name in ("home_moonrise_utc", "home_moonset_utc")
        if not is_missing(row.get(name))
    )
    if not events:
        return [(begin, finish)] if len(plan.windows) else []
    found = []
    start = None if events[0][1] else begin
    for moment, rises in events:
        if rises:
            start = moment if start is None else start
        elif start is not None:
            found.append((start, moment))
            start = None
    return [*found, (start, finish)] if start is not None else found


def _scales(plan: Plan, dates: list[dt.date]) -> list[tuple[str, list[tuple[float, str]]]]:
    """Local hours every three, and below them the UTC hours: two lines where the clocks change on the page."""
    hours = list(range(0, 25, 3))
    scales = [("local", [(float(hour), f"{(12 + hour) % 24:02d}:00") for hour in hours])]
    begin = noon_of(dates[0], plan.zone)
    finish = noon_of(dates[-1] + dt.timedelta(days=1), plan.zone)
    changes = formats.clock_changes(plan.zone, begin, finish)
    for i, moment in enumerate([begin, *(change[0] for change in changes)]):
        offset = moment.astimezone(plan.zone).utcoffset() or dt.timedelta()
        labels = []
        for hour in hours:
            utc = dt.datetime.combine(dates[0], dt.time(12)) + dt.timedelta(hours=hour) - offset
            labels.append((float(hour), f"{utc:%H:%M}"))
        name = "UTC"
        if changes:
            # The first line holds until the first change, each other one from its own.
            there = changes[max(i - 1, 0)][0].astimezone(plan.zone)
            name += f" {'from' if i else 'before'} {there.day} {formats.MONTHS[there.month - 1][:3]}"
        scales.append((name, labels))
    return scales
