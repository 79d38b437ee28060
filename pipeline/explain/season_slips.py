"""What is odd in a season, as values: late answers, nobody wanted, evenings that end by day, a band home has not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from pipeline.explain.oddities import AnswersLate, BandOfNobody, LatestByDay, NothingWanted, Oddity
from pipeline.explain.usual_figures import unusual_of_season
from pipeline.inputs.model import SeasonFiles

# Nobody ends an evening between these; by a clock of twelve hours the same figures stand for an hour of the night.
MORNING, EVENING = dt.time(7), dt.time(17)
HALF_A_DAY_H = 12
# Where so many of the nights are over, answers come late for more than the first slots.
LATE_SHARE = 1 / 3


def season_oddities(inputs: SeasonFiles, first_night: dt.date, last_night: dt.date) -> tuple[Oddity, ...]:
    """None where nothing is odd; the nights are the first and the last that are planned."""
    return (*_found(inputs, first_night, last_night), *unusual_of_season(inputs.season))


def _found(inputs: SeasonFiles, first_night: dt.date, last_night: dt.date) -> Iterator[Oddity]:
    season, home = inputs.season, inputs.home
    due, nights = season.letters.reply_by, (last_night - first_night).days + 1
    over = 0 if due is None else min((due - first_night).days, nights)
    if due is not None and over > LATE_SHARE * nights:
        yield AnswersLate(due, over, nights)
    unwanted = tuple(one.call for one in inputs.wishes if one.contacts_wanted == 0)
    if unwanted:
        yield NothingWanted(unwanted)
    latest = season.policy.latest_hour_on_work_nights
    if latest is not None and MORNING <= latest < EVENING:
        yield LatestByDay(latest, latest.replace(hour=(latest.hour + HALF_A_DAY_H) % (2 * HALF_A_DAY_H)))
    own = tuple(band for band in home.bands if f"bands.{band}" not in home.assumed)
    if own and season.band not in own:
        yield BandOfNobody(season.band, home.file, own)
