"""Home's own nights, whoever is in reach: how long the Moon is up and what it costs to hear.

From a survey's sky and home's passes. The cost is the degradation of home's own echo, by the same formulas as a pair's,
averaged over the time in which home's rules let it see the Moon.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.link.noise import DEGRADATION_PARTS
from pipeline.pairs.ends import home_alone
from pipeline.pairs.equipment import activity_of
from pipeline.pairs.reception import hear, reception_columns
from pipeline.pairs.survey import Survey
from pipeline.record.inputs import Inputs
from pipeline.windows.moon_passes import MoonPasses
from pipeline.windows.nights import Nights
from pipeline.windows.tables import nights_table

FloatArray = npt.NDArray[np.float64]

HOUR_S = 3600.0


def home_nights(inputs: Inputs, survey: Survey) -> pd.DataFrame:
    """A row for each night: the columns of `nights.csv` so far, hours with the Moon up and usable at home, home's cost.

    `home_degradation_db` with its parts is NaN on a night on which home's rules never let it see the Moon.
    """
    period, sky = survey.period, survey.sky
    edges = period.edges_s(sky.start)
    risen = survey.home_above_horizon(inputs.home)
    nights = nights_table(sky, survey.standpoints.sites, period, survey.windows, risen)
    return nights.assign(
        moon_up_hours=_hours(risen, edges),
        moon_usable_hours=_hours(survey.passes[0], edges),
        **_home_cost(inputs, survey, edges),
    )


def _hours(passes: MoonPasses, edges_s: FloatArray) -> FloatArray:
    """Hours of the passes within each night, (n,), whose n + 1 edges are given in s."""
    start = np.maximum(passes.start_s[None, :], edges_s[:-1, None])
    end = np.minimum(passes.end_s[None, :], edges_s[1:, None])
    return np.asarray(np.maximum(end - start, 0.0).sum(axis=1) / HOUR_S)


def _home_cost(inputs: Inputs, survey: Survey, edges_s: FloatArray) -> dict[str, FloatArray]:
    """Mean degradation of home's echo and its parts over each night, at the policy's step, dB."""
    sky, passes = survey.sky, survey.passes[0]
    step = inputs.season.policy.step_minutes * 60.0
    # Steps lie half way between multiples of UTC, so that a night costs the same in whatever period it is planned.
    midnight = sky.seconds(sky.start.replace(hour=0, minute=0, second=0, microsecond=0))
    time = (
        midnight + (np.arange(np.floor((edges_s[0] - midnight) / step), (edges_s[-1] - midnight) / step) + 0.5) * step
    )
    time = time[(time >= edges_s[0]) & (time < edges_s[-1])]
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


def months_of(period: Nights) -> list[tuple[int, int]]:
    """(year, month) of the calendar months that a period touches, in order."""
    return sorted({(date.year, date.month) for date in period.dates})
