"""A year's outlook: every night of up to two years, what it costs at home, who is in reach, and the best weekends.

The same stages as a month's plan, month by month at a coarser step; agreed slots play
no part here. Nothing is read or written.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.outlook.facts import Fact
from pipeline.outlook.home_nights import home_nights, months_of
from pipeline.outlook.lunar_course import Course, lunar_course
from pipeline.outlook.nights import judge
from pipeline.outlook.weekends import best_weekends
from pipeline.pairs.survey import Progress, Survey, make_survey
from pipeline.record.inputs import Inputs
from pipeline.windows.frames import rows_by_night
from pipeline.windows.nights import Nights, joined
from pipeline.windows.span import Span, month_after, plan_number, span_of

MOST_MONTHS = 24
# The link changes little in half an hour; window edges do not depend on the step.
STEP_MINUTES = 30
WINDOW_COLUMNS = [
    "partner", "band", "night", "window_start_utc", "window_end_utc", "duration_min", "slot_start_utc",
    "degradation_slot_db", "doppler_spread_hz", "chance", "outcome",
]  # fmt: skip
FIRST_COLUMNS = [
    "night", "outcome", "rank", "partners_in_reach", "partners", "windows", "window_hours", "expected_contacts",
    "score", "best_partner", "home_degradation_db", "degradation_db", "declination_deg", "distance_km",
    "sun_separation_deg", "moon_lit_fraction", "moon_highest_utc", "home_moonrise_utc", "home_moonset_utc",
    "moon_up_hours", "moon_usable_hours", "possible", "weekend",
]  # fmt: skip


@dataclass(frozen=True)
class Year:
    """The outlook. `nights` has a row a night, `partner_months` one a partner and month, `weekends` the best first.

    `weekend_facts` go along with the weekends.
    """

    inputs: Inputs
    number: str
    period: Nights
    months: tuple[tuple[int, int], ...]
    nights: pd.DataFrame
    windows: pd.DataFrame
    partner_months: pd.DataFrame
    weekends: pd.DataFrame
    weekend_facts: tuple[tuple[Fact, ...], ...]
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
    policy = dataclasses.replace(
        inputs.season.policy, step_minutes=max(STEP_MINUTES, inputs.season.policy.step_minutes)
    )
    coarse = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, policy=policy))
    parts: list[tuple[pd.DataFrame, pd.DataFrame]] = []
    spans: list[Nights] = []
    kernel, clock_note = "", ""
    for month in _months(span):
        tell(f"{month.first_night:%Y-%m}")
        survey = make_survey(coarse, month, lambda _: None)
        kernel, clock_note = survey.sky.kernel, survey.sky.clock_note
        spans.append(survey.period)
        parts.append((home_nights(coarse, survey), _windows(survey)))
    period = joined(span, spans)
    nights = pd.concat([part for part, _ in parts], ignore_index=True)
    windows = _joined([part for _, part in parts])
    nights = _with_reach(judge(coarse, period, nights, windows), windows, period)
    tell("Weekends")
    best = best_weekends(coarse, period, nights, windows)
    nights["weekend"] = [best.of_night.get(date) for date in nights["night"]]
    dates = period.dates
    return Year(
        inputs=inputs,
        number=plan_number(inputs, period),
        period=period,
        months=tuple(months_of(period)),
        nights=nights[[*FIRST_COLUMNS, *(name for name in nights.columns if name not in FIRST_COLUMNS)]],
        windows=windows,
        partner_months=_partner_months(inputs, months_of(period), windows),
        weekends=best.weekends,
        weekend_facts=best.facts,
        course=lunar_course(dates[len(dates) // 2].year, inputs.season.ephemeris.file),
        kernel=kernel,
        notes=(f"Moon and Sun from JPL kernel {kernel}", clock_note, *inputs.warnings),
    )


def _months(span: Span) -> list[Span]:
    """The calendar months of whole months, each a span of its own."""
    found, first = [], span.first_night
    while first <= span.last_night:
        after = month_after(first)
        found.append(Span(first, after - dt.timedelta(days=1), span.zone))
        first = after
    return found


def _windows(survey: Survey) -> pd.DataFrame:
    return survey.windows[WINDOW_COLUMNS]


def _joined(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """All windows of all months; months without any would spoil the columns' kinds."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled, ignore_index=True) if filled else frames[0].reset_index(drop=True)


def _with_reach(nights: pd.DataFrame, windows: pd.DataFrame, period: Nights) -> pd.DataFrame:
    """Who is in reach on each night by name, in how many windows and for how many hours together."""
    by_night = rows_by_night(windows, period.dates)
    rows = [np.array(by_night[date], dtype=np.int64) for date in nights["night"]]
    partner, hours = windows["partner"].to_numpy(), windows["duration_min"].to_numpy(float) / 60.0
    return nights.assign(
        partners=[" ".join(dict.fromkeys(partner[mine])) for mine in rows],
        windows=[len(mine) for mine in rows],
        window_hours=[float(hours[mine].sum()) for mine in rows],
    )


def _partner_months(inputs: Inputs, months: Sequence[tuple[int, int]], windows: pd.DataFrame) -> pd.DataFrame:
    """For each partner and month: windows, nights, hours, the best chance (NaN without a window) and its night."""
    night = pd.Series(windows["night"], dtype=object)
    frame = windows.assign(month=[f"{date:%Y-%m}" for date in night])
    by = dict(iter(frame.groupby(["partner", "month"], sort=False)))
    made = []
    for station in inputs.partners:
        for year, month in months:
            name = f"{year:04d}-{month:02d}"
            rows = by.get((station.call, name))
            if rows is None:
                made.append((station.call, name, 0, 0, 0.0, np.nan, None, "no window"))
                continue
            # The plan's order: best chance to the third digit, then least degradation, then the earlier one.
            best = rows.assign(rounded=rows["chance"].round(3)).sort_values(
                ["rounded", "degradation_slot_db", "window_start_utc"], ascending=[False, True, True], kind="stable"
            ).iloc[0]  # fmt: skip
            made.append(
                (
                    station.call, name, len(rows), rows["night"].nunique(), float(rows["duration_min"].sum()) / 60.0,
                    float(rows["chance"].max()), best["night"], str(best["outcome"]),
                )
            )  # fmt: skip
    names = ["partner", "month", "windows", "nights", "hours", "chance", "best_night", "outcome"]
    return pd.DataFrame(made, columns=names)
