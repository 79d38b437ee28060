"""The month's course: declination, distance, degradation in its parts and Doppler spread on one axis of days."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.link.noise import DEGRADATION_PARTS
from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.outlook.month_course import NOTABLE_AIR_DB, NOTABLE_DB
from pipeline.reports.carpets_view import spans
from pipeline.reports.clocks import clock_notes
from pipeline.reports.course_charts import Axis, Course, Line, Phase, Range, Stack, course_chart
from pipeline.reports.svg import INK, TEAL
from pipeline.reports.views import CoursePage, days_between, month_edges
from pipeline.wording import course as words
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

FloatArray = npt.NDArray[np.float64]
# A part smaller than this on every night has no place in the key.
LEAST_DB = 0.05
# One night near the Sun must not press the others flat.
HIGHEST_DB = 8.0
# Title, the line below it and the lines under the picture, in points; a browser sets text a little lower.
AROUND = 88.0


def course_pages(plan: Plan, width: float, height: float) -> tuple[CoursePage, ...]:
    """One page, or one a calendar month of a long period; width and height of the landscape page in points."""
    return tuple(_page(plan, first, last, width, height) for first, last in spans(plan.first_night, plan.last_night))


def _page(plan: Plan, first: dt.date, last: dt.date, width: float, height: float) -> CoursePage:
    shown = set(plan.course.nights.loc[plan.course.nights["home_degradation_db"].notna(), "night"])
    gaps = not shown.issuperset(days_between(first, last))
    key = words.key_words(plan.course, NOTABLE_DB, bool(len(plan.agenda)), gaps)
    return CoursePage(
        dates=formats.period_title(first, last),
        lead=words.lead_words(),
        chart=course_chart(_course(plan, first, last), width, height - AROUND),
        key=" ".join([key, *clock_notes(plan.zone, month_edges(first, last, plan.zone), "at home")]),
    )


@dataclass(frozen=True)
class Shown:
    """The hours and nights of one picture; `days` (hours,) on home's clock from its first midnight."""

    hours: pd.DataFrame
    days: FloatArray
    nights: pd.DataFrame
    day: npt.NDArray[np.int64]

    def hourly(self, name: str) -> FloatArray:
        """A column by the hour, (hours,), in its unit."""
        return self.hours[name].to_numpy(float)

    def nightly(self, name: str) -> FloatArray:
        """A column by the night, (nights,), in its unit."""
        return self.nights[name].to_numpy(float)


def _shown(plan: Plan, first: dt.date, last: dt.date) -> Shown:
    hours, nights = plan.course.hours, plan.course.nights
    days = _days(hours["time_utc"], plan, first)
    inside = (days >= 0) & (days <= (last - first).days + 1)
    mine = np.array([first <= date <= last for date in nights["night"]], dtype=bool)
    dates = [date for date in nights["night"] if first <= date <= last]
    day = np.array([(date - first).days for date in dates], dtype=np.int64)
    return Shown(hours[inside], days[inside], nights[mine], day)


def _days(instants: pd.Series, plan: Plan, first: dt.date) -> FloatArray:
    """Days from a date's midnight by the clock on home's wall, (n,)."""
    wall = pd.DatetimeIndex(instants).tz_convert(plan.zone).tz_localize(None)
    return np.asarray((wall - pd.Timestamp(first)) / pd.Timedelta(days=1), dtype=float)


def _course(plan: Plan, first: dt.date, last: dt.date) -> Course:
    shown, dates = _shown(plan, first, last), days_between(first, last)
    used = [date for date in plan.nights_with_slots if first <= date <= last]
    whole = shown.nightly("home_degradation_db")
    whole = whole[np.isfinite(whole)]
    declination, distance = shown.hourly("declination_deg"), shown.hourly("distance_km")
    return Course(
        labels=[str(date.day) for date in dates],
        month=formats.MONTHS[first.month - 1] if first.month == last.month else "",
        hours=shown.days,
        near_sun=shown.hourly("sun_separation_deg") < NEAR_SUN_DEG,
        sun=words.sun_words(NEAR_SUN_DEG),
        agenda={(date - first).days: [slot.call for slot in plan.slots if slot.night == date] for date in used},
        phases=_phases(plan, first, last),
        rows=_rows(plan, shown),
        title=words.title_words(
            first,
            last,
            (float(declination.min()), float(declination.max())),
            (float(distance.min()), float(distance.max())),
            (float(whole.min()), float(whole.max())) if whole.size else None,
            used,
        ),
    )


def _rows(plan: Plan, shown: Shown) -> list[Line | Stack | Range]:
    rows: list[Line | Stack | Range] = [_declination(shown), _distance(shown)]
    if plan.course.sky_moves_db > NOTABLE_DB:
        sky = shown.hourly("home_sky_db")
        axis = _axis("Sky", ("dB, behind the", "Moon alone"), float(sky.max()))
        rows.append(Line(axis, shown.days, sky, TEAL, 1.2))
    if plan.course.air_moves_db > NOTABLE_AIR_DB:
        air = shown.nightly("home_degradation_air_db")
        axis = _axis("Air", ("dB, own echo,", "Moon highest"), float(np.nanmax(air)))
        rows.append(Line(axis, shown.day.astype(np.float64) + 0.5, air, TEAL, 1.2))
    parts = {name: shown.nightly(f"home_degradation_{name}_db") for name in DEGRADATION_PARTS}
    whole = shown.nightly("home_degradation_db")
    if np.isfinite(whole).any():
        names = {name: words.PARTS[name] for name, part in parts.items() if np.nanmax(part) >= LEAST_DB}
        most_db = max(float(np.nanmax(whole - parts["sun"])), min(float(np.nanmax(whole)), HIGHEST_DB))
        axis = _axis("Degradation", ("dB, own echo,", "Moon highest"), most_db)
        rows.append(Stack(axis, shown.day, parts, names, 1.5))
    most = shown.nightly("home_spread_most_hz")
    if np.isfinite(most).any():
        axis = _axis("Spread", ("Hz, own echo,", "while up"), float(np.nanmax(most)))
        rows.append(Range(axis, shown.day, shown.nightly("home_spread_least_hz"), most, 1.2))
    return rows


def _declination(shown: Shown) -> Line:
    ticks = [(value, f"{formats.signed(value, 0, plus=True)}°") for value in (-20.0, 0.0, 20.0)]
    axis = Axis("Declination", ("north up",), -30.0, 30.0, ticks)
    return Line(axis, shown.days, shown.hourly("declination_deg"), TEAL, 2.6, dated=True)


def _distance(shown: Shown) -> Line:
    thousands = shown.hourly("distance_km") / 1000.0
    axis = Axis("Distance", ("1,000 km",), 355.0, 408.0, [(360.0, "360"), (400.0, "400")])
    return Line(axis, shown.days, thousands, INK, 1.2, notes=_extremes(shown.days, thousands))


def _extremes(days: FloatArray, thousands: FloatArray) -> list[tuple[float, float, str]]:
    """Where the Moon is nearest or farthest for days around: the turning points inside the picture."""
    turns = np.flatnonzero(np.diff(np.sign(np.diff(thousands)))) + 1
    return [
        (
            float(days[place]),
            float(thousands[place]),
            words.extreme_words(bool(thousands[place] < thousands[place - 1]), float(thousands[place]) * 1000.0),
        )
        for place in turns
    ]


def _axis(name: str, below: tuple[str, ...], most: float) -> Axis:
    """From nought to a little above the most; up to four ticks."""
    size = 10.0 ** math.floor(math.log10(max(most, 0.5)))
    step = next(one * size for one in (0.2, 0.5, 1.0, 2.0, 5.0) if most / (one * size) <= 3.5)
    ticks = [(number * step, f"{number * step:g}") for number in range(max(int(most / step), 1) + 1)]
    return Axis(name, below, 0.0, max(most * 1.04, ticks[-1][0]), ticks)


def _phases(plan: Plan, first: dt.date, last: dt.date) -> list[Phase]:
    """Where the Moon's elongation from the Sun passes a quarter turn, read between the nights' highest points."""
    days = _days(plan.nights["moon_highest_utc"], plan, first)
    turned = np.unwrap(plan.nights["moon_elongation_deg"].to_numpy(float), period=360.0)
    southern = plan.inputs.home.position.latitude_deg < 0
    lit = ("none", "left" if southern else "right", "all", "right" if southern else "left")
    found = []
    for quarter in range(math.ceil(turned[0] / 90.0), math.floor(turned[-1] / 90.0) + 1):
        day = float(np.interp(quarter * 90.0, turned, days))
        if 0.0 <= day <= (last - first).days + 1:
            found.append(Phase(day, words.PHASES[quarter % 4], lit[quarter % 4]))
    return found
