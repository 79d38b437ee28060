"""Page one: the month grid, the best nights in words and the strip of the month, from the plan's nights and windows."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from markupsafe import Markup

from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.reports import charts
from pipeline.reports.month_advice import BEST_NIGHTS, advice_of, decibels_of, ranked
from pipeline.reports.views import (
    Cell,
    Meeting,
    MonthPage,
    NoNightCell,
    clock_notes,
    days_between,
    span,
    stretches,
    windows_by_night,
)
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.nights import month_sentence, night_words, no_night_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# Points of the month page: the column of advice, its distance from the grid, the title with its line, the same with
# the weekdays, the key under the strip.
ADVICE_WIDTH, GUTTER, TITLE, HEADING, KEY = 208.0, 16.0, 62.0, 76.0, 40.0
Row = dict[str, Any]


def month_pages(plan: Plan, width: float, height: float) -> tuple[MonthPage, ...]:
    """One page for each calendar month that the period touches; width and height of the landscape page in points."""
    nights = [
        {**row, "night": as_date(row["night"]), "reason": night_words(facts)}
        for row, facts in zip(records(plan.nights), plan.night_facts, strict=True)
    ]
    dates = days_between(plan.first_night, plan.last_night)
    months = sorted({(date.year, date.month) for date in dates})
    windows, slots = windows_by_night(plan), _slots_by_night(plan)
    return tuple(
        _month_page(
            plan,
            [date for date in dates if (date.year, date.month) == month],
            [row for row in nights if (row["night"].year, row["night"].month) == month],
            windows,
            slots,
            width,
            height,
        )
        for month in months
    )


def _slots_by_night(plan: Plan) -> dict[dt.date, list[Row]]:
    """The agenda's slots."""
    found: dict[dt.date, list[Row]] = {}
    for row in records(plan.agenda):
        found.setdefault(as_date(row["night"]), []).append(row)
    return found


def _month_page(
    plan: Plan,
    dates: list[dt.date],
    nights: list[Row],
    windows: dict[dt.date, list[Row]],
    slots: dict[dt.date, list[Row]],
    width: float,
    height: float,
) -> MonthPage:
    first, last = dates[0], dates[-1]
    advice_title, advice, caution = advice_of(plan, nights, windows, slots, height - TITLE)
    best = {row["night"] for row in ranked(nights)[:BEST_NIGHTS]}
    home = plan.inputs.home
    southern = home.position.latitude_deg < 0
    edges = month_edges(first, last, plan.zone)
    offset = formats.offsets(plan.zone, *edges)
    lines = lines_in_cell(week_count(dates))
    cells: dict[dt.date, Cell | NoNightCell] = {
        row["night"]: _cell(
            plan,
            row,
            windows.get(row["night"], []),
            slots.get(row["night"], []),
            southern,
            row["night"] in best,
            lines,
        )
        for row in nights
    }
    weeks = _weeks(cells | {date: no_night_cell(plan, date) for date in dates if date not in cells}, dates)
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
                "a night is one passage of the Moon, by the date on which it stands highest",
                f"times are local ({offset})",
            ]
        ),
        weeks=weeks,
        advice_title=advice_title,
        advice=advice,
        lead=_lead(plan) if first == plan.first_night else "",
        caution_title="Nights to be wary of",
        caution=caution,
        lit_side=f"The Moon is drawn as it stands in the {'southern' if southern else 'northern'} sky: "
        f"waxing, its {'left' if southern else 'right'} side is lit.",
        strip=_strip(plan, first, last, width - ADVICE_WIDTH - GUTTER, strip_height),
        strip_words=" ".join(clock_notes(plan.zone, edges, "at home")),
    )


def _lead(plan: Plan) -> str:
    states = [str(row["state"]) for row in records(plan.agenda)]
    counts = [(state, states.count(state)) for state in ("confirmed", "tentative", "proposed")]
    told = [f"{count} {state}" for state, count in counts if count]
    words = f" Slots: {formats.listed(told)}." if told else ""
    return month_sentence(plan.nights) + words


def row_points(weeks: int) -> float:
    """The height of a week's row in points: six weeks must fit as well as four."""
    return {5: 62.0, 6: 56.0}.get(weeks, 72.0)


def lines_in_cell(weeks: int) -> int:
    """Lines below a cell's date that such a row holds."""
    return 5 if weeks in (5, 6) else 6


def week_count(dates: list[dt.date]) -> int:
    """Weeks from Monday that these dates touch."""
    return (dates[-1] - dates[0] + dt.timedelta(days=dates[0].weekday())).days // 7 + 1


def month_edges(first: dt.date, last: dt.date, zone: dt.tzinfo) -> tuple[dt.datetime, dt.datetime]:
    """From midnight of one date to midnight after another, UTC."""
    begin, end = (dt.datetime.combine(date, dt.time(), tzinfo=zone) for date in (first, last + dt.timedelta(days=1)))
    return begin.astimezone(dt.UTC), end.astimezone(dt.UTC)


def no_night_cell(plan: Plan, date: dt.date) -> NoNightCell:
    """A date that no passage of the Moon carries, with the next Moonrise after its noon."""
    noon = dt.datetime.combine(date, dt.time(12), tzinfo=plan.zone)
    rises = [
        as_instant(row["home_moonrise_utc"]) for row in records(plan.nights) if not is_missing(row["home_moonrise_utc"])
    ]
    after = min((rise for rise in rises if rise > noon), default=None)
    return NoNightCell(date.day, formats.WEEKDAYS[date.weekday()], no_night_words(after, date, plan.zone))


def _weeks(
    by_date: dict[dt.date, Cell | NoNightCell], dates: list[dt.date]
) -> tuple[tuple[Cell | NoNightCell | None, ...], ...]:
    """Cells in weeks from Monday, None where the period has no date."""
    monday = dates[0] - dt.timedelta(days=dates[0].weekday())
    days = [[monday + dt.timedelta(days=7 * week + day) for day in range(7)] for week in range(week_count(dates))]
    return tuple(tuple(by_date.get(date) for date in week) for week in days)


def _slots_in_cell(plan: Plan, slots: list[Row], night: dt.date, lines: int) -> tuple[Meeting, ...]:
    """Who begins when; the outcome's line is left free, and what that cannot hold is counted."""
    shown = slots if len(slots) < lines else slots[: lines - 2]
    found = [Meeting(one["partner"], _begins(as_instant(one["slot_start_utc"]), plan.zone, night)) for one in shown]
    if len(shown) < len(slots):
        found.append(Meeting("more", f"and {len(slots) - len(shown)}"))
    return tuple(found)


def _cell(plan: Plan, row: Row, windows: list[Row], slots: list[Row], southern: bool, best: bool, lines: int) -> Cell:
    outcome = row.get("outcome")
    age = float(row["moon_elongation_deg"])
    spans = [span(*stretch, plan.zone, row["night"]) for stretch in stretches(windows)]
    shown = spans[:2] if len(spans) <= 2 else [spans[0], f"and {len(spans) - 1} more"]
    near = float(row["sun_separation_deg"])
    named = _slots_in_cell(plan, slots, row["night"], lines)
    # The rows keep their height, or the page would run over: of the facts those go first that the strip shows too.
    left = lines - len(named)
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
        declination=formats.declination(row["declination_deg"]) if left > 2 else None,
        degradation=decibels_of(row) if left > 1 else None,
        spread=_spread(max(slots, key=_width) if slots else row),
        reach=formats.count(len(str(row["partners_usable"]).split()), "partner"),
        stretches=() if slots else tuple(shown),
        slots=named,
        near_sun=f"Sun {near:.0f}°" if near < NEAR_SUN_DEG else None,
        not_free=not row.get("possible", True),
    )


def _begins(start: dt.datetime, zone: dt.tzinfo, night: dt.date) -> str:
    """`22:15`; `Sat 01:15` where it is the day after the night's date."""
    return span(start, start, zone, night).partition("–")[0]


def _width(row: Row) -> float:
    value = row.get("doppler_spread_hz")
    return -1.0 if is_missing(value) else float(value or 0.0)


def _spread(row: Row) -> str | None:
    """Doppler spread of a slot, or of the night's first partner, to 10 Hz above 10 Hz."""
    value = row.get("doppler_spread_hz")
    if is_missing(value):
        return None
    return f"{float(value or 0.0):.0f} Hz" if float(value or 0.0) < 10 else f"{round(float(value or 0.0), -1):.0f} Hz"


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
    near = pick["sun_separation_deg"] < NEAR_SUN_DEG
    title = f"Strip of {names}, {formats.day(first)} to {formats.day(last)}; days near the Sun shaded"
    return charts.strip_chart(charts.Strip(days, labels, near, curves, title), width, height)


def _degradation(
    plan: Plan, first: dt.date, days: npt.NDArray[np.float64], pick: dict[str, npt.NDArray[np.float64]]
) -> npt.NDArray[np.float64] | None:
    """Degradation on the strip's hours; where the strip has none, its figure at each night's highest Moon, joined."""
    if "degradation_db" in pick:
        values = pick["degradation_db"]
    elif "degradation_db" in plan.nights.columns:
        wall = pd.DatetimeIndex(plan.nights["moon_highest_utc"]).tz_convert(plan.zone).tz_localize(None)
        middle = np.asarray((wall - pd.Timestamp(first)) / pd.Timedelta(days=1), dtype=float)
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
