"""How active the Sun is on a date: by the flux that was observed then, where the operator saved it, else by the policy.

From `inputs.observed_flux` (daily 10.7 cm flux of a text table) and `policy.solar_activity`.
"""

from __future__ import annotations

import bisect
import datetime as dt
from dataclasses import dataclass

from pipeline.pairs.equipment import activity_of
from pipeline.radio_sky.sun_flux import flux_uncertainty
from pipeline.record.inputs import Inputs

# The Sun turns once in 27 days: an older figure tells little of today's (judgement).
OLDEST_DAYS = 27
# A flux that was observed holds for its day to so much, bursts aside (judgement).
OBSERVED_SHARE = 0.05


@dataclass(frozen=True)
class Activity:
    """A word or a 10.7 cm flux, as the flux table takes it; `observed` is the date of the observation, None without."""

    value: str | float
    observed: dt.date | None = None

    @property
    def share(self) -> float:
        """By how much of itself the flux may be off: what was observed is near, what a word says is not."""
        return flux_uncertainty(self.value) if self.observed is None else OBSERVED_SHARE


def activity_on(inputs: Inputs, date: dt.date) -> Activity:
    """The last flux observed up to a date, if it is not too old; else the season's policy."""
    flux = inputs.observed_flux
    place = bisect.bisect_right([day for day, _ in flux], date) - 1
    if place >= 0 and (date - flux[place][0]).days <= OLDEST_DAYS:
        return Activity(flux[place][1], flux[place][0])
    return Activity(activity_of(inputs.season.policy))
