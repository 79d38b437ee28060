"""Page one: the month grid, the best nights in words and the strip of the month, from the plan's nights and windows."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from markupsafe import Markup

from pipeline.reports import charts, formats
from pipeline.reports.views import (
    Advice,
    Cell,
    Meeting,
    MonthPage,
    as_date,
    clock_notes,
    period_edges,
    records,
    span,
    stretches,
    windows_by_night,
)

if TYPE_CHECKING:
    from pipeline.planning.plan import Plan

BEST_NIGHTS = 5
WORST_NIGHTS = 2
NUMBERS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}
Row = dict[str, Any]


def month_pages(plan: Plan, width: float, height: float) -> tuple[MonthPage, ...]:
    """One page for each calendar month that the period touches; width and height of the landscape page in points."""
    nights = [{**row, "night": as_date(row["night"])} for row in records(plan.nights)]
    months = sorted({(row["night"].year, row["night"].month) for row in nights})
    windows, slots = windows_by_night(plan), _slots_by_night(plan)
    return tuple(
        _month_page(plan, [row for row in nights if (row["night"].year, row["night"].month) == month], windows, slots,
                    width, height)  # fmt: skip
        for month in months
    )


def _slots_by_night(plan: Plan) -> dict[dt.date, list[Row]]:
    """Agreed slots, where the plan has an agenda."""
    agenda = getattr(plan, "agenda", None)
    found: dict[dt.date, list[Row]] = {}
    if isinstance(agenda, pd.DataFrame) and len(agenda):
        for row in records(agenda.sort_values("slot_start_utc", kind="stable")):
            found.setdefault(as_date(row["night"]), []).append(row)
    return found


def _month_page(
    plan: Plan, nights: list[Row], windows: dict[dt.date, list[Row]], slots: dict[dt.date, list[Row]],
    width: float, height: float,
) -> MonthPage:  # fmt: skip
    first, last = nights[0]["night"], nights[-1]["night"]
    judged = "outcome" in plan.nights.columns
    advice_title, advice, caution = _advice(plan, nights, windows, judged)
    home = plan.inputs.home
    southern = home.position.latitude_deg < 0
    offset = formats.offsets(plan.zone, formats.noon(first, plan.zone), period_edges(plan)[1])
    weeks = _weeks([_cell(plan, row, windows.get(row["night"], []), slots.get(row["night"], []), southern)
                    for row in nights], [row["night"] for row in nights])  # fmt: skip
    # What the heading and the grid leave is the strip's; a month of six weeks gets a lower one.
    strip_height = min(112.0, height - 92 - len(weeks) * row_points(len(weeks)))
    return MonthPage(
        anchor=f"month-{first:%Y-%m}",
        title=f"{formats.MONTHS[first.month - 1]} {first.year}",
        at=home.title,
        subtitle=" · ".join([
            home.call, f"{formats.band(plan.band)}, {formats.frequency(plan.frequency_mhz)}",
            "nights run from local noon to noon and carry the date on which they begin",
            f"times are local ({offset})",
        ]),  # fmt: skip
        weeks=weeks,
        judged=judged,
        advice_title=advice_title,
        advice=advice,
        caution_title="Nights to leave",
        caution=caution,
        lit_side=f"The Moon is drawn as it stands in the {'southern' if southern else 'northern'} sky: "
        f"waxing, its {'left' if southern else 'right'} side is lit.",
        strip=_strip(plan, first, last, width, strip_height),
        strip_words=" ".join(clock_notes(plan, plan.zone, "at home")),
    )


def row_points(weeks: int) -> float:
    """The height of a week's row in points: six weeks must fit as well as four."""
    return {4: 78.0, 5: 69.0, 6: 58.0}.get(weeks, 78.0)


def _weeks(cells: list[Cell], dates: list[dt.date]) -> tuple[tuple[Cell | None, ...], ...]:
    """Cells in weeks from Monday, None where the period has no night."""
    by_date = dict(zip(dates, cells, strict=True))
    monday = dates[0] - dt.timedelta(days=dates[0].weekday())
    count = (dates[-1] - monday).days // 7 + 1
    days = [[monday + dt.timedelta(days=7 * week + day) for day in range(7)] for week in range(count)]
    return tuple(tuple(by_date.get(date) for date in week) for week in days)


def _cell(plan: Plan, row: Row, windows: list[Row], slots: list[Row], southern: bool) -> Cell:
    outcome = row.get("outcome")
    age = float(row["moon_age_angle_deg"])
    spans = [span(*stretch, plan.zone) for stretch in stretches(windows)]
    shown = spans[:2] if len(spans) <= 2 else [spans[0], f"and {len(spans) - 1} more"]
    near = float(row["sun_separation_deg"])
    classes = ["night", f"is-{str(outcome).replace(' ', '-')}" if outcome else "", "has-slots" if slots else ""]
    return Cell(
        number=row["night"].day,
        weekday=formats.WEEKDAYS[row["night"].weekday()],
        disc=charts.moon_disc(age, southern),
        moon=charts.moon_words(age),
        mark=charts.outcome_mark(str(outcome)) if outcome else Markup(""),
        outcome=outcome,
        css_class=" ".join(name for name in classes if name),
        declination=formats.declination(row["declination_deg"]),
        degradation=_decibels(row),
        reach=formats.count(int(row["partners_in_reach"]), "partner"),
        stretches=() if slots else tuple(shown),
        slots=tuple(Meeting(slot["partner"], formats.clock(formats.inward(*_slot_edges(slot))[0].astimezone(plan.zone)))
                    for slot in slots),  # fmt: skip
        near_sun=f"Sun {near:.0f}° away" if near < charts.NEAR_SUN_DEG else None,
    )


def _slot_edges(slot: Row) -> tuple[dt.datetime, dt.datetime]:
    return formats.instant(slot["slot_start_utc"]), formats.instant(slot["slot_end_utc"])


def _decibels(row: Row) -> str | None:
    value = row.get("degradation_db")
    return None if formats.is_missing(value) else f"{formats.decibels(float(value or 0.0))} dB"


def _advice(
    plan: Plan, nights: list[Row], windows: dict[dt.date, list[Row]], judged: bool
) -> tuple[str, tuple[Advice, ...], tuple[Advice, ...]]:
    """(title, best nights, nights to leave); without a ranking yet, the nights with most hours in reach."""
    if judged and "rank" in plan.nights.columns:
        ranked = sorted((row for row in nights if not formats.is_missing(row["rank"])), key=lambda row: row["rank"])
        ranked = [row for row in ranked if windows.get(row["night"])]
        best = ranked[:BEST_NIGHTS]
        bad = [row for row in nights if row["outcome"] in ("unlikely", "no window") and row not in best]
        worst = sorted(bad, key=lambda row: (row["outcome"] == "no window", -float(row.get("degradation_db") or 0)))
        return (
            _best_title(len(best)),
            tuple(_judged(plan, row, windows.get(row["night"], [])) for row in best),
            tuple(_judged(plan, row, []) for row in worst[:WORST_NIGHTS]),
        )
    length = {night: sum((end - start).total_seconds() for start, end in stretches(rows))
              for night, rows in windows.items()}  # fmt: skip
    ordered = sorted((row for row in nights if row["night"] in length), key=lambda row: -length[row["night"]])
    longest = sorted(ordered[:BEST_NIGHTS], key=lambda row: row["night"])
    title = "Longest nights" if longest else "No windows in this month"
    return title, tuple(_by_length(plan, row, windows[row["night"]], length[row["night"]]) for row in longest), ()


def _best_title(count: int) -> str:
    if count == 0:
        return "No night with a window"
    return "The best night" if count == 1 else f"The {NUMBERS[count]} best nights"


def _judged(plan: Plan, row: Row, windows: list[Row]) -> Advice:
    meetings, more = _meetings(plan, windows)
    reason = row.get("reason")
    return Advice(formats.day_long(row["night"]), charts.outcome_mark(str(row["outcome"])), row["outcome"],
                  _decibels(row), "" if formats.is_missing(reason) else str(reason), meetings, more)  # fmt: skip


def _by_length(plan: Plan, row: Row, windows: list[Row], seconds: float) -> Advice:
    meetings, more = _meetings(plan, windows)
    reach = formats.count(int(row["partners_in_reach"]), "partner")
    reason = f"{reach} in reach, {formats.duration(seconds / 60)} in all."
    return Advice(formats.day_long(row["night"]), Markup(""), None, None, reason, meetings, more)


def _meetings(plan: Plan, windows: list[Row], shown: int = 3) -> tuple[tuple[Meeting, ...], str | None]:
    """The best windows of a night: least degradation first, then length; in the order of the clock."""
    def merit(row: Row) -> tuple[float, float]:
        least = row.get("degradation_least_db")
        return (0.0 if formats.is_missing(least) else float(least or 0.0), -float(row["duration_min"]))

    best: list[Row] = []
    for row in sorted(windows, key=merit):
        if len(best) < shown and row["partner"] not in {other["partner"] for other in best}:
            best.append(row)
    best.sort(key=lambda row: row["window_start_utc"])
    others = len({row["partner"] for row in windows}) - len(best)
    meetings = tuple(
        Meeting(row["partner"], span(formats.instant(row["window_start_utc"]), formats.instant(row["window_end_utc"]),
                                     plan.zone))
        for row in best
    )  # fmt: skip
    return meetings, f"and {formats.count(others, 'more partner')}" if others else None


def _strip(plan: Plan, first: dt.date, last: dt.date, width: float, height: float) -> Markup:
    """The curves from the first local midnight shown to the last, on the wall clock's days."""
    frame = plan.strip
    start = pd.Timestamp(dt.datetime.combine(first, dt.time(), tzinfo=plan.zone))
    days_shown = (last - first).days + 2
    times = pd.DatetimeIndex(frame["time_utc"])
    wall = times.tz_convert(plan.zone).tz_localize(None) - start.tz_localize(None)
    days = np.asarray(wall / pd.Timedelta(days=1), dtype=float)
    inside = (days >= 0) & (days <= days_shown)
    days = days[inside]
    pick = {name: frame[name].to_numpy(dtype=float)[inside] for name in frame.columns if name != "time_utc"}
    if not len(days):
        return Markup("")
    labels = [str((first + dt.timedelta(days=day)).day) for day in range(days_shown)]
    curves = [
        charts.Curve("Declination", "degrees", pick["declination_deg"], -30, 30, f"{formats.MINUS}30", "+30",
                     charts.TEAL, True),
        charts.Curve("Distance", "1000 km", pick["distance_km"] / 1000, 355, 408, "355", "408", charts.GREY),
    ]  # fmt: skip
    names = "declination and distance of the Moon"
    if "degradation_db" in pick:
        top = max(4.0, float(np.ceil(np.nanmax(pick["degradation_db"]))))
        # The Sun's few hours may reach far above; the rest of the month must stay readable.
        top = min(top, 8.0)
        curves.append(charts.Curve("Degradation", "dB", np.nan_to_num(pick["degradation_db"], nan=top), 0, top, "0",
                                   f"{top:.0f}", charts.INK))  # fmt: skip
        names = "declination and distance of the Moon and degradation"
    near = pick["sun_separation_deg"] < charts.NEAR_SUN_DEG
    title = f"Strip of {names}, {formats.day(first)} to {formats.day(last)}; days near the Sun shaded"
    return charts.strip_chart(charts.Strip(days, labels, near, curves, title), width, height)
