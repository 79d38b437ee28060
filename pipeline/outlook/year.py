"""A year's outlook: every night of up to two years, what it is worth, what it costs at home, and the best weekends.

The same stages and figures as a month's plan, month by month; agreed slots play no part here. Nothing is read or
written.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.agenda.agenda import held_by_nobody
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grids
from pipeline.outlook.facts import Fact
from pipeline.outlook.home_nights import home_nights, months_of
from pipeline.outlook.lunar_course import Course, lunar_course
from pipeline.outlook.nights import judge
from pipeline.outlook.weather import dry_shares
from pipeline.outlook.weekends import WeekendPartner, always_free, best_weekends
from pipeline.outlook.worth import Worth
from pipeline.pairs.survey import Progress, Survey, make_survey
from pipeline.record.inputs import Inputs
from pipeline.record.model import Record
from pipeline.windows.nights import Nights, joined
from pipeline.windows.span import Span, month_after, plan_number, span_of

MOST_MONTHS = 24


@dataclass(frozen=True)
class Year:
    """The outlook. `nights` has a row a night, `partner_months` one a partner and month, `weekends` the best first.

    `weekend_facts` and `weekend_partners` go along with the weekends.
    """

    inputs: Inputs
    number: str
    period: Nights
    months: tuple[tuple[int, int], ...]
    nights: pd.DataFrame
    partner_months: pd.DataFrame
    weekends: pd.DataFrame
    weekend_facts: tuple[tuple[Fact, ...], ...]
    weekend_partners: tuple[tuple[WeekendPartner, ...], ...]
    course: Course
    kernel: str
    notes: tuple[str, ...]

    @property
    def middle_year(self) -> int:
        """The calendar year in which most of the nights lie."""
        dates = self.period.dates
        return dates[len(dates) // 2].year


def year_period(inputs: Inputs, months: int, today: dt.date) -> Span:
    """Whole calendar months from the season's first month on, or from the month after `today`."""
    if not 1 <= months <= MOST_MONTHS:
        raise ValueError(f"a year view has 1 to {MOST_MONTHS} months, not {months}")
    first = span_of(inputs, today).first_night.replace(day=1)
    after = first
    for _ in range(months):
        after = month_after(after)
    return Span(first, after - dt.timedelta(days=1), inputs.zone)


def make_year(inputs: Inputs, months: int, today: dt.date, progress: Progress | None = None) -> Year:
    """The outlook of so many months (1 to 24).

    Raises EphemerisUnavailable where the kernel is missing or does not cover a month, ValueError for other counts.
    """
    tell = progress or (lambda _: None)
    span = year_period(inputs, months, today)
    # What was agreed plays no part; what logs have taught does.
    inputs = dataclasses.replace(
        inputs, record=Record(corrections=inputs.record.corrections, measurements=inputs.record.measurements)
    )
    surveys: list[Survey] = []
    for month in _months(span):
        tell(f"{month.first_night:%Y-%m}")
        surveys.append(make_survey(inputs, month, lambda _: None, shifts=False, figures=False))
    period = joined(span, [survey.period for survey in surveys])
    tell("Nights and weekends")
    # Beside the season as it is, what the nights would be worth if home were always free.
    worth, if_free = (Worth(grid, held_by_nobody()) for grid in _grids(inputs, period, surveys))
    nights = judge(worth, pd.concat([home_nights(inputs, survey) for survey in surveys], ignore_index=True))
    best = best_weekends(worth, if_free, nights, dry_shares(inputs, worth.grid.samples))
    nights["weekend"] = [best.of_night.get(date) for date in nights["night"]]
    dates, sky = period.dates, surveys[-1].sky
    return Year(
        inputs=inputs,
        number=plan_number(inputs, period),
        period=period,
        months=tuple(months_of(period)),
        nights=nights,
        partner_months=_partner_months(worth, months_of(period)),
        weekends=best.weekends,
        weekend_facts=best.facts,
        weekend_partners=best.partners,
        course=lunar_course(dates[len(dates) // 2].year, inputs.season.ephemeris.file),
        kernel=sky.kernel,
        notes=(f"Moon and Sun from JPL kernel {sky.kernel}", sky.clock_note, *inputs.warnings),
    )


def _months(span: Span) -> list[Span]:
    """The calendar months of whole months, each a span of its own."""
    found, first = [], span.first_night
    while first <= span.last_night:
        after = month_after(first)
        found.append(Span(first, after - dt.timedelta(days=1), span.zone))
        first = after
    return found


def _grids(inputs: Inputs, period: Nights, surveys: Sequence[Survey]) -> list[SlotGrid]:
    """Slot grids over all months, as it is and with home always free: windows and samples of a partner by time."""
    place = {station.call: number for number, station in enumerate(inputs.partners)}
    windows, samples = (
        _joined([getattr(survey, name) for survey in surveys], place, time)
        for name, time in (("windows", "window_start_utc"), ("samples", "time_utc"))
    )
    return make_slot_grids([inputs, always_free(inputs)], period, windows, samples, surveys[0].modes)


def _joined(frames: Sequence[pd.DataFrame], place: dict[str, int], time: str) -> pd.DataFrame:
    """All rows of all months by partner and time; months without any would spoil the columns' kinds."""
    filled = [frame for frame in frames if len(frame)]
    if not filled:
        return frames[0].reset_index(drop=True)
    whole = pd.concat(filled, ignore_index=True)
    order = np.lexsort((pd.DatetimeIndex(whole[time]).asi8, whole["partner"].map(place).to_numpy()))
    return whole.iloc[order].reset_index(drop=True)


def _partner_months(worth: Worth, months: Sequence[tuple[int, int]]) -> pd.DataFrame:
    """For each partner and month: windows, their hours, usable nights, the best usable chance (NaN) and its night."""
    grid, best = worth.grid, worth.best
    night = pd.Series(grid.windows["night"], dtype=object)
    frame = grid.windows.assign(month=[f"{date:%Y-%m}" for date in night])
    by = dict(iter(frame.groupby(["partner", "month"], sort=False)))
    dates = [grid.period.dates[index] for index in best.night]
    made = []
    for pair, station in enumerate(grid.inputs.partners):
        for year, month in months:
            name = f"{year:04d}-{month:02d}"
            rows = by.get((station.call, name))
            mine = [
                row for row in np.flatnonzero(best.pair == pair) if (dates[row].year, dates[row].month) == (year, month)
            ]
            top = max(mine, key=lambda row: round(float(best.chance[row]), 3), default=None)
            made.append(
                (
                    station.call, name, 0 if rows is None else len(rows),
                    0.0 if rows is None else float(rows["duration_min"].sum()) / 60.0, len(mine),
                    np.nan if top is None else float(best.chance[top]), None if top is None else dates[top],
                )
            )  # fmt: skip
    names = ["partner", "month", "windows", "hours", "nights_usable", "chance", "best_night"]
    return pd.DataFrame(made, columns=names)
