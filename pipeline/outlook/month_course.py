"""The Moon's course through a period: hour by hour where it stands, night by night what that costs home's own echo.

From the survey's sky and home's passes by the formulas of a pair's link, home standing at both ends. A night's figures
are those at the Moon's highest over home; its spread is the least and the most while home sees the Moon.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.ephemeris.tracks import Geocentre
from pipeline.link.noise import DEGRADATION_PARTS
from pipeline.link.spread import limb_to_limb_hz
from pipeline.pairs.ends import PairEnd, home_alone
from pipeline.pairs.equipment import activity_of
from pipeline.pairs.pattern_met import pattern_at_zenith
from pipeline.pairs.reception import hear, reception_columns
from pipeline.pairs.survey import Survey
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import utc
from pipeline.windows.moon_passes import MoonPasses

FloatArray = npt.NDArray[np.float64]

HOUR_S = 3600.0
# So many looks from the opening of a pass to its close find the spread's least and most: it may dip within minutes.
LOOKS = 145
# A sky whose cost moves by less over the period is not worth a curve; the air stands in the bars and needs more.
NOTABLE_DB, NOTABLE_AIR_DB = 0.3, 1.0


@dataclass(frozen=True)
class MonthCourse:
    """`hours`: a row an hour of `time_utc`, `declination_deg`, `distance_km`, `sun_separation_deg`, `home_sky_db`.

    `nights`: a row a night of `night`, `home_degradation_db` with its parts, `home_spread_least_hz` and
    `home_spread_most_hz`; NaN where the Moon stays below home's skyline, or home's rules never let it be seen.
    """

    hours: pd.DataFrame
    nights: pd.DataFrame

    @property
    def sky_moves_db(self) -> float:
        """By how much the cost of the sky behind the Moon changes along its path."""
        return _moves(self.hours["home_sky_db"])

    @property
    def air_moves_db(self) -> float:
        """By how much the cost of the air changes between the nights, at the Moon's highest; 0 without any figure."""
        return _moves(self.nights["home_degradation_air_db"])


def _moves(column: pd.Series) -> float:
    values = column.to_numpy(float)
    values = values[np.isfinite(values)]
    return float(np.ptp(values)) if values.size else 0.0


def month_course(inputs: Inputs, survey: Survey) -> MonthCourse:
    """The course of a survey's period."""
    return MonthCourse(_hours(inputs, survey), _nights(inputs, survey))


def _hours(inputs: Inputs, survey: Survey) -> pd.DataFrame:
    # The sky begins at midnight at home: its steps are whole hours there.
    time = np.arange(0.0, survey.sky.duration_s, HOUR_S)
    home, centre = home_alone(inputs, inputs.season.band, survey.standpoints, time)
    return pd.DataFrame(
        {
            "time_utc": utc(survey.sky.start, time),
            "declination_deg": centre.declination_deg,
            "distance_km": centre.distance_km,
            "sun_separation_deg": home.seen.sun_separation_deg,
            "home_sky_db": _own_echo(inputs, _at_zenith(home), centre)["degradation_sky_db"].astype(float),
        }
    )


def _at_zenith(home: PairEnd) -> PairEnd:
    """Home with the Moon and the sky behind it as they are, but free of ground, low air and Sun: whatever the hour."""
    return dataclasses.replace(
        home,
        pattern=pattern_at_zenith(home.antenna, home.atmosphere, home.seen),
        sun_is_up=np.zeros_like(home.sun_is_up),
        air_db=home.zenith_air_db,
    )


def _own_echo(inputs: Inputs, home: PairEnd, centre: Geocentre) -> dict[str, npt.NDArray[np.generic]]:
    heard = hear(home, centre.elongation_deg, activity_of(inputs.season.policy))
    return reception_columns(home, home, {"home": heard, "partner": heard})


def _nights(inputs: Inputs, survey: Survey) -> pd.DataFrame:
    period = survey.period
    highest = np.array([survey.sky.seconds(instant) for instant in period.highest])
    home, centre = home_alone(inputs, inputs.season.band, survey.standpoints, highest)
    columns, seen = _own_echo(inputs, home, centre), home.clearance_deg > 0.0
    names = ("degradation_db", *(f"degradation_{part}_db" for part in DEGRADATION_PARTS))
    least, most = _spread(survey, home.transmit_mhz)
    return pd.DataFrame(
        {
            "night": period.dates,
            **{f"home_{name}": np.where(seen, columns[name].astype(float), np.nan) for name in names},
            "home_spread_least_hz": least,
            "home_spread_most_hz": most,
        }
    )


def _spread(survey: Survey, frequency_mhz: float) -> tuple[FloatArray, FloatArray]:
    """The least and the most spread of home's own echo in each night's passes over home, (n,), Hz; else NaN."""
    sky, passes = survey.sky, _inside(survey.passes[0], survey.period_s)
    time = np.linspace(passes.start_s, passes.end_s, LOOKS)
    site = survey.standpoints.sites.take(np.zeros(time.shape, dtype=np.int64))
    width = limb_to_limb_hz(sky, site, site, time, frequency_mhz)
    least, most = np.full((2, len(survey.period.dates)), np.nan)
    night = survey.period.night_index(passes.start_s, sky.start)
    np.fmin.at(least, night, width.min(axis=0))
    np.fmax.at(most, night, width.max(axis=0))
    return least, most


def _inside(passes: MoonPasses, edges_s: tuple[float, float]) -> MoonPasses:
    """The passes that begin within the period: home's are parted at the lowest points, so that each lies in a night."""
    mine = (passes.start_s >= edges_s[0] - 1.0) & (passes.start_s < edges_s[1] - 1.0)
    return MoonPasses(
        np.maximum(passes.start_s[mine], edges_s[0]),
        passes.end_s[mine],
        passes.opened_by[mine],
        passes.closed_by[mine],
    )
