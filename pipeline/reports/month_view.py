"""Page one: the month grid, the best nights in words and the strip of the month, from the plan's nights and windows."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
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
    night_edges,
    records,
    span,
    stretches,
    windows_by_night,
)

if TYPE_CHECKING:
    from pipeline.planning.plan import Plan

BEST_NIGHTS = 5
WARY_NIGHTS = 2
# Points of the month page: the column of advice, its distance from the grid, the title with its line, the same with
# the weekdays, the key under the strip.
ADVICE_WIDTH, GUTTER, TITLE, HEADING, KEY = 208.0, 16.0, 62.0, 76.0, 40.0
# The stylesheet's lines of advice: characters a line (a cautious count), points a line, a paragraph's gap, a heading.
ADVICE_CHARACTERS, ADVICE_LINE, ADVICE_GAP, ADVICE_HEADING = 60, 10.2, 5.0, 26.0
NUMBERS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}
Row = dict[str, Any]


def month_pages(plan: Plan, width: float, height: float) -> tuple[MonthPage, ...]:
    """One page for each calendar month that the period touches; width and height of the landscape page in points."""
    nights = [{**row, "night": as_date(row["night"])} for row in records(plan.nights)]
    months = sorted({(row["night"].year, row["night"].month) for row in nights})
    windows, slots = windows_by_night(plan), _slots_by_night(plan)
    return tuple(
        _month_page(
            plan,
            [row for row in nights if (row["night"].year, row["night"].month) == month],
            windows,
            slots,
            width,
            height,
        )
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
    plan: Plan,
    nights: list[Row],
    windows: dict[dt.date, list[Row]],
    slots: dict[dt.date, list[Row]],
    width: float,
    height: float,
) -> MonthPage:
    first, last = nights[0]["night"], nights[-1]["night"]
    judged = "outcome" in plan.nights.columns
    advice_title, advice, caution = _advice(plan, nights, windows, judged, height - TITLE)
    best = {night.date for night in advice} if judged else set()
    home = plan.inputs.home
    southern = home.position.latitude_deg < 0
    edges = night_edges(plan, first, last)
    offset = formats.offsets(plan.zone, *edges)
    weeks = _weeks(
        [
            _cell(
                plan,
                row,
                windows.get(row["night"], []),
                slots.get(row["night"], []),
                southern,
                formats.day_long(row["night"]) in best,
            )
            for row in nights
        ],
        [row["night"] for row in nights],
    )
    # What the heading and the grid leave is the strip's; a month of six weeks gets a lower one.
    strip_height = min(120.0, height - HEADING - KEY - len(weeks) * (row_points(len(weeks)) + 2))
    return MonthPage(
        anchor=f"month-{first:%Y-%m}",
        title=f"{formats.MONTHS[first.month - 1]} {first.year}",
        at=formats.short(home.title),
        subtitle=" · ".join(
            [
                home.call,
                f"{formats.band(plan.band)}, {formats.frequency(plan.frequency_mhz)}",
                "nights run from local noon to noon and carry the date on which they begin",
                f"times are local ({offset})",
            ]
        ),
        weeks=weeks,
        judged=judged,
        advice_title=advice_title,
        advice=advice,
        lead=_lead(plan) if judged and first == plan.first_night else "",
        caution_title="Nights to be wary of",
        caution=caution,
        lit_side=f"The Moon is drawn as it stands in the {'southern' if southern else 'northern'} sky: "
        f"waxing, its {'left' if southern else 'right'} side is lit.",
        strip=_strip(plan, first, last, width - ADVICE_WIDTH - GUTTER, strip_height),
        strip_words=" ".join(clock_notes(plan.zone, edges, "at home")),
    )


def _lead(plan: Plan) -> str:
    from pipeline.planning.reasons import month_sentence

    return month_sentence(plan.nights)


def row_points(weeks: int) -> float:
    """The height of a week's row in points: six weeks must fit as well as four."""
    return {5: 62.0, 6: 56.0}.get(weeks, 72.0)


def _weeks(cells: list[Cell], dates: list[dt.date]) -> tuple[tuple[Cell | None, ...], ...]:
    """Cells in weeks from Monday, None where the period has no night."""
    by_date = dict(zip(dates, cells, strict=True))
    monday = dates[0] - dt.timedelta(days=dates[0].weekday())
    count = (dates[-1] - monday).days // 7 + 1
    days = [[monday + dt.timedelta(days=7 * week + day) for day in range(7)] for week in range(count)]
    return tuple(tuple(by_date.get(date) for date in week) for week in days)


def _cell(plan: Plan, row: Row, windows: list[Row], slots: list[Row], southern: bool, best: bool) -> Cell:
    outcome = row.get("outcome")
    age = float(row["moon_elongation_deg"])
    spans = [span(*stretch, plan.zone, row["night"]) for stretch in stretches(windows)]
    shown = spans[:2] if len(spans) <= 2 else [spans[0], f"and {len(spans) - 1} more"]
    near = float(row["sun_separation_deg"])
    classes = [
        "night",
        f"is-{str(outcome).replace(' ', '-')}" if outcome else "",
        "has-slots" if slots else "",
        "is-best" if best else "",
    ]
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
        spread=_spread(row),
        reach=formats.count(int(row["partners_in_reach"]), "partner"),
        stretches=() if slots else tuple(shown),
        slots=tuple(
            Meeting(slot["partner"], formats.clock(formats.inward(*_slot_edges(slot))[0].astimezone(plan.zone)))
            for slot in slots
        ),
        near_sun=f"Sun {near:.0f}°" if near < charts.NEAR_SUN_DEG else None,
        not_free=not row.get("possible", True),
    )


def _slot_edges(slot: Row) -> tuple[dt.datetime, dt.datetime]:
    return formats.instant(slot["slot_start_utc"]), formats.instant(slot["slot_end_utc"])


def _decibels(row: Row) -> str | None:
    value = row.get("degradation_db")
    return None if formats.is_missing(value) else f"{formats.decibels(float(value or 0.0))} dB"


def _spread(row: Row) -> str | None:
    """Doppler spread of the night's first partner, to 10 Hz above 10 Hz."""
    value = row.get("doppler_spread_hz")
    if formats.is_missing(value):
        return None
    return f"{float(value or 0.0):.0f} Hz" if float(value or 0.0) < 10 else f"{round(float(value or 0.0), -1):.0f} Hz"


def _advice(
    plan: Plan, nights: list[Row], windows: dict[dt.date, list[Row]], judged: bool, room: float
) -> tuple[str, tuple[Advice, ...], tuple[Advice, ...]]:
    """(title, best nights, nights to leave); without a ranking yet, the nights with most hours in reach."""
    if judged and "rank" in plan.nights.columns:
        ranked = sorted((row for row in nights if not formats.is_missing(row["rank"])), key=lambda row: row["rank"])
        ranked = [row for row in ranked if windows.get(row["night"])]
        best = ranked[:BEST_NIGHTS]
        advice = [_judged(plan, row, windows.get(row["night"], [])) for row in best]
        wary = [_judged(plan, row, []) for row in _wary([row for row in nights if row not in best])]
        advice, wary = _fitting(advice, wary, room)
        return _best_title(len(advice)), tuple(advice), tuple(wary)
    length = {
        night: sum((end - start).total_seconds() for start, end in stretches(rows)) for night, rows in windows.items()
    }
    ordered = sorted((row for row in nights if row["night"] in length), key=lambda row: -length[row["night"]])
    longest = sorted(ordered[:BEST_NIGHTS], key=lambda row: row["night"])
    title = "Longest nights" if longest else "No windows in this month"
    return title, tuple(_by_length(plan, row, windows[row["night"]], length[row["night"]]) for row in longest), ()


def _wary(nights: list[Row]) -> list[Row]:
    """The nights that somebody might take unwarned: without hope, then near the Sun, then the worst of the rest."""

    def concern(row: Row) -> tuple[bool, bool, int, float]:
        least = row.get("degradation_db")
        return (
            row["outcome"] not in ("unlikely", "no window"),
            float(row["sun_separation_deg"]) >= charts.NEAR_SUN_DEG,
            -charts.OUTCOMES.index(row["outcome"]),
            -(0.0 if formats.is_missing(least) else float(least or 0.0)),
        )

    poor = [row for row in nights if row["outcome"] != "strong" or row["sun_separation_deg"] < charts.NEAR_SUN_DEG]
    return sorted(poor, key=concern)[:WARY_NIGHTS]


def _fitting(best: list[Advice], wary: list[Advice], room: float) -> tuple[list[Advice], list[Advice]]:
    """As much advice as the column holds: a sentence cut off at the foot of the page is worse than none.

    The first warning goes before the fifth best night.
    """

    def points(advice: Advice) -> float:
        meetings = sum(len(meeting.partner) + len(meeting.hours) + 3 for meeting in advice.meetings)
        characters = [len(advice.reason), meetings + len(advice.more or "")]
        lines = 1 + sum(-(-count // ADVICE_CHARACTERS) for count in characters)
        return lines * ADVICE_LINE + ADVICE_GAP

    left = room - 2 * ADVICE_HEADING - ADVICE_LINE - sum(points(advice) for advice in [*best, *wary])
    while left < 0 and (len(wary) > 1 or best):
        left += points(wary.pop() if len(wary) > 1 else best.pop())
    return best, wary


def _best_title(count: int) -> str:
    if count == 0:
        return "No night with a window"
    return "The best night" if count == 1 else f"The {NUMBERS[count]} best nights"


def _judged(plan: Plan, row: Row, windows: list[Row]) -> Advice:
    meetings, more = _meetings(plan, windows)
    reason = row.get("reason")
    return Advice(
        formats.day_long(row["night"]),
        charts.outcome_mark(str(row["outcome"])),
        row["outcome"],
        _decibels(row),
        "" if formats.is_missing(reason) else str(reason),
        meetings,
        more,
    )


def _by_length(plan: Plan, row: Row, windows: list[Row], seconds: float) -> Advice:
    meetings, more = _meetings(plan, windows)
    reach = formats.count(int(row["partners_in_reach"]), "partner")
    reason = f"{reach} in reach, {formats.duration(seconds / 60)} in all."
    return Advice(formats.day_long(row["night"]), Markup(""), None, None, reason, meetings, more)


def _meetings(plan: Plan, windows: list[Row], shown: int = 3) -> tuple[tuple[Meeting, ...], str | None]:
    """The best windows of a night by chance times priority, as the ranking counts, then degradation, then length.

    They are told in the order of the clock.
    """

    priority = {wish.call: wish.priority for wish in plan.inputs.wishes}

    def merit(row: Row) -> tuple[float, float, float]:
        chance, least = row.get("chance"), row.get("degradation_least_db")
        return (
            0.0 if formats.is_missing(chance) else -float(chance or 0.0) * priority.get(row["partner"], 1.0),
            0.0 if formats.is_missing(least) else float(least or 0.0),
            -float(row["duration_min"]),
        )

    best: list[Row] = []
    for row in sorted(windows, key=merit):
        if len(best) < shown and row["partner"] not in {other["partner"] for other in best}:
            best.append(row)
    best.sort(key=lambda row: row["window_start_utc"])
    others = len({row["partner"] for row in windows}) - len(best)
    meetings = tuple(
        Meeting(
            row["partner"],
            span(
                formats.instant(row["window_start_utc"]),
                formats.instant(row["window_end_utc"]),
                plan.zone,
                as_date(row["night"]),
            ),
        )
        for row in best
    )
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
        charts.Curve(
            "Declination", "degrees", pick["declination_deg"], -30, 30, f"{formats.MINUS}30", "+30", charts.TEAL, True
        ),
        charts.Curve("Distance", "1000 km", pick["distance_km"] / 1000, 355, 408, "355", "408", charts.GREY),
    ]
    names = "declination and distance of the Moon"
    degradation = _degradation(plan, first, days, pick)
    if degradation is not None:
        # The Sun's few hours may reach far above; the rest of the month must stay readable.
        top = min(max(4.0, float(np.ceil(np.nanmax(degradation)))), 8.0)
        curves.append(charts.Curve("Degradation", "dB", degradation, 0, top, "0", f"{top:.0f}", charts.INK))
        names = "declination and distance of the Moon and degradation"
    near = pick["sun_separation_deg"] < charts.NEAR_SUN_DEG
    title = f"Strip of {names}, {formats.day(first)} to {formats.day(last)}; days near the Sun shaded"
    return charts.strip_chart(charts.Strip(days, labels, near, curves, title), width, height)


def _degradation(
    plan: Plan, first: dt.date, days: npt.NDArray[np.float64], pick: dict[str, npt.NDArray[np.float64]]
) -> npt.NDArray[np.float64] | None:
    """Degradation on the strip's hours; where the strip has none, each night's figure at its midnight, joined."""
    if "degradation_db" in pick:
        values = pick["degradation_db"]
    elif "degradation_db" in plan.nights.columns:
        middle = np.array([(as_date(night) - first).days + 1.0 for night in plan.nights["night"]])
        figures = plan.nights["degradation_db"].to_numpy(dtype=float)
        known = np.isfinite(figures)
        if not known.any():
            return None
        values = np.interp(days, middle[known], figures[known], left=np.nan, right=np.nan)
        # A night without a figure leaves a gap: nothing was computed there.
        gaps = np.interp(days, middle, known.astype(float)) < 0.5
        values = np.where(gaps, np.nan, values)
    else:
        return None
    return values if np.isfinite(values).any() else None
