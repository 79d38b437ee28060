"""Home's own nights, whoever is in reach: when the Moon stands highest in the night's time and what it costs to hear.

From a survey's sky and home's passes. The cost is the degradation of home's own echo, by the same formulas as a pair's,
averaged over the time in which home's rules let it see the Moon.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.link.noise import DEGRADATION_PARTS
from pipeline.pairs.ends import home_alone
from pipeline.pairs.equipment import activity_of
from pipeline.pairs.reception import hear, reception_columns
from pipeline.pairs.survey import Survey
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import utc
from pipeline.windows.moon_passes import MoonPasses
from pipeline.windows.span import Span
from pipeline.windows.tables import nights_table

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

HOUR_S = 3600.0


@dataclass(frozen=True)
class Shares:
    """What of each pass lies in each night, (nights, passes): start and end in seconds; end <= start where nothing."""

    start_s: FloatArray
    end_s: FloatArray

    @property
    def length_s(self) -> FloatArray:
        """Seconds of each share, never negative."""
        return np.maximum(self.end_s - self.start_s, 0.0)


def shares_of_nights(passes: MoonPasses, edges_s: FloatArray) -> Shares:
    """Each night's part of each pass; `edges_s` are the noons that bound the nights."""
    start = np.maximum(passes.start_s[None, :], edges_s[:-1, None])
    end = np.minimum(passes.end_s[None, :], edges_s[1:, None])
    return Shares(start, end)


def longest_passes(shares: Shares) -> IntArray:
    """The pass that has the longest part of each night, by index; -1 on nights without any."""
    if not shares.length_s.shape[1]:
        return np.full(shares.length_s.shape[0], -1)
    longest = np.argmax(shares.length_s, axis=1)
    return np.where(shares.length_s.max(axis=1) > 0.0, longest, -1)


def _of_pass(values: FloatArray, which: IntArray) -> FloatArray:
    """The value of each night's pass; NaN on nights without any: index -1 is the one put at the end."""
    return np.append(values, np.nan)[which]


def home_nights(inputs: Inputs, survey: Survey) -> pd.DataFrame:
    """A row for each night: the columns of `nights.csv` so far, the Moon's figures at `moon_middle_utc`, home's cost.

    `moon_middle_utc` is the middle of the night's longest stretch with the Moon up, local midnight on a night without;
    `moon_pass_...` are the rise and set of that stretch, which may lie beyond the night's noons.
    `home_degradation_db` with its parts is NaN on a night on which home's rules never let it see the Moon.
    """
    period, sky = survey.period, survey.sky
    edges = np.array([sky.seconds(noon) for noon in period.noons])
    midnight = np.array([sky.seconds(instant) for instant in period.midnights])
    risen = survey.home_above_horizon(inputs.home)
    up = shares_of_nights(risen, edges)
    which = longest_passes(up)
    rows = np.arange(len(which))
    middle = midnight
    if risen.start_s.size:
        middle = np.where(which < 0, midnight, (up.start_s[rows, which] + up.end_s[rows, which]) / 2.0)
    nights = nights_table(sky, survey.standpoints.sites, period, survey.windows, risen, middle)
    usable = shares_of_nights(survey.passes[0], edges)
    return nights.assign(
        moon_middle_utc=utc(sky.start, middle),
        moon_pass_start_utc=utc(sky.start, _of_pass(risen.start_s, which)),
        moon_pass_end_utc=utc(sky.start, _of_pass(risen.end_s, which)),
        moon_up_hours=up.length_s.sum(axis=1) / HOUR_S,
        moon_usable_hours=usable.length_s.sum(axis=1) / HOUR_S,
        **_home_cost(inputs, survey, edges),
    )


def _home_cost(inputs: Inputs, survey: Survey, edges_s: FloatArray) -> dict[str, FloatArray]:
    """Mean degradation of home's echo and its parts over each night, at the policy's step, dB."""
    passes = survey.passes[0]
    step = inputs.season.policy.step_minutes * 60.0
    time = np.arange(edges_s[0] + step / 2.0, edges_s[-1], step)
    # Starts and ends alternate: between a start and its end the count of those gone by is odd.
    time = time[np.searchsorted(np.stack([passes.start_s, passes.end_s], axis=1).ravel(), time) % 2 == 1]
    end, centre = home_alone(inputs, inputs.season.band, survey.standpoints, time)
    heard = hear(end, centre.elongation_deg, activity_of(inputs.season.policy))
    columns = reception_columns(end, end, {"home": heard, "partner": heard})
    night = np.searchsorted(edges_s, time, side="right") - 1
    nights = edges_s.size - 1
    count = np.bincount(night, minlength=nights).astype(float)
    found = {}
    for name in ("degradation_db", *(f"degradation_{part}_db" for part in DEGRADATION_PARTS)):
        total = np.bincount(night, weights=columns[name].astype(float), minlength=nights)
        found[f"home_{name}"] = np.divide(total, count, out=np.full(nights, np.nan), where=count > 0)
    return found


def months_of(period: Span) -> list[tuple[int, int]]:
    """(year, month) of the calendar months that a period touches, in order."""
    return sorted({(date.year, date.month) for date in period.dates})
