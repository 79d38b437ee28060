"""What is odd in a season, as values: late answers, nobody wanted, evenings that end by day, a band home has not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence

from pipeline.explain.frequencies import frequency_oddities
from pipeline.explain.oddities import AnswersLate, BandOfNobody, LatestByDay, NothingWanted, Oddity
from pipeline.explain.slip_values import CalendarOver, NightsOfNobody, SeasonOver, YearLeft
from pipeline.explain.usual_figures import unusual_of_season
from pipeline.inputs.busy import last_entry
from pipeline.inputs.dates_said import months_before
from pipeline.inputs.model import Hours, SeasonFiles, Station
from pipeline.inputs.scalars import WEEKDAYS

# Nobody ends an evening between these; by a clock of twelve hours the same figures stand for an hour of the night.
MORNING, EVENING = dt.time(7), dt.time(17)
MONTHS = 12
HALF_A_DAY_H, NOON = 12, dt.time(12)
# Where so many of the nights are over, answers come late for more than the first slots.
LATE_SHARE = 1 / 3
# Nobody asks for answers earlier than so long before the first night.
EARLY = dt.timedelta(days=200)

# A calendar whose last entry is so long before the first night was exported for another season.
LONG_OVER = dt.timedelta(days=60)

Stretches = list[tuple[dt.date, dt.date]]


def season_oddities(inputs: SeasonFiles, first_night: dt.date, last_night: dt.date) -> tuple[Oddity, ...]:
    """None where nothing is odd; the nights are the first and the last that are planned."""
    season = inputs.season
    return (
        *_found(inputs, first_night, last_night),
        *frequency_oddities(season.frequency_mhz, season.band, "frequency_mhz"),
        *unusual_of_season(season),
    )


def months_over(
    months: Sequence[str], found: Iterable[Oddity], last_night: dt.date, today: dt.date
) -> SeasonOver | None:
    """Where a season is over and dates of its files are of a later year: its months are most likely last year's."""
    later = [one.dates[0][0].year - one.meant[0][0].year for one in found if isinstance(one, YearLeft)]
    if last_night >= today or not months or not later or min(later) <= 0:
        return None
    return SeasonOver(tuple(months), tuple(f"{int(one[:4]) + min(later)}{one[4:]}" for one in months))


def dates_left(station: Station, first_night: dt.date, last_night: dt.date) -> tuple[Oddity, ...]:
    """Absences none of which touches the season, while in its year one would: left from another year."""
    stretches = [(one.first, one.last) for one in station.unavailable_dates]
    calendars = ((one.name, last_entry(one)) for one in station.busy_files)
    old = [CalendarOver(name, last) for name, last in calendars if last is not None and last < first_night - LONG_OVER]
    left = (*_year_left("unavailable_dates", stretches, first_night, last_night), *old)
    return left or tuple(_turned("unavailable_dates", stretches, first_night, last_night))


def _days_of(station: Station) -> set[str] | None:
    """The weekdays whose nights the hours of a station touch; None where it states none, or always."""
    if not isinstance(station.available, tuple) or not station.available:
        return None
    hours = [one for one in station.available if isinstance(one, Hours)]
    days = {day for one in hours for day in one.days}
    # Hours of a morning belong to the night before.
    early = {day for one in hours if one.start < NOON for day in one.days}
    return days | {WEEKDAYS[WEEKDAYS.index(day) - 1] for day in early}


def _year_left(key: str, stretches: Stretches, first: dt.date, last: dt.date) -> Iterator[YearLeft]:
    """The dates moved by the least number of whole years that brings one of them between two days."""
    if not stretches or any(begin <= last and end >= first for begin, end in stretches):
        return
    for years in sorted({year - one.year for one, _ in stretches for year in (first.year, last.year)}, key=abs):
        moved = [(_in_year(begin, years), _in_year(end, years)) for begin, end in stretches]
        if years and any(begin <= last and end >= first for begin, end in moved):
            yield YearLeft(key, tuple(stretches), tuple(moved))
            return


def _turned(key: str, stretches: Stretches, first: dt.date, last: dt.date) -> Iterator[YearLeft]:
    """Dates outside the season that are in it with day and month exchanged; of a stretch both ends."""
    for begin, end in stretches:
        if (end < first or begin > last) and max(begin.day, end.day) <= MONTHS:
            turned = begin.replace(month=begin.day, day=begin.month), end.replace(month=end.day, day=end.month)
            if first <= turned[0] <= turned[1] <= last:
                yield YearLeft(key, ((begin, end),), (turned,))


def _in_year(date: dt.date, years: int) -> dt.date:
    """The same day so many years later; 29 February becomes the day before March."""
    try:
        return date.replace(year=date.year + years)
    except ValueError:
        return date.replace(year=date.year + years, day=28)


def _found(inputs: SeasonFiles, first_night: dt.date, last_night: dt.date) -> Iterator[Oddity]:
    season, home = inputs.season, inputs.home
    due, nights = season.letters.reply_by, (last_night - first_night).days + 1
    over = 0 if due is None else min((due - first_night).days, nights)
    earliest = first_night - EARLY
    asked = [] if due is None else list(_year_left("letters.reply_by", [(due, due)], earliest, first_night))
    if due is not None and asked and not earliest <= due <= last_night:
        yield asked[0]
    elif due is not None and over > LATE_SHARE * nights:
        yield AnswersLate(due, over, nights, months_before(due, first_night))
    unwanted = tuple(one.call for one in inputs.wishes if one.contacts_wanted == 0)
    if unwanted:
        yield NothingWanted(unwanted)
    latest = season.policy.latest_hour_on_work_nights
    if latest is not None and MORNING <= latest < EVENING:
        yield LatestByDay(latest, latest.replace(hour=(latest.hour + HALF_A_DAY_H) % (2 * HALF_A_DAY_H)))
    allowed, here = season.policy.nights, _days_of(home)
    if here is not None and not here & set(allowed):
        yield NightsOfNobody(tuple(allowed), tuple(day for day in WEEKDAYS if day in here), home.file)
    own = tuple(band for band in home.bands if f"bands.{band}" not in home.assumed)
    if own and season.band not in own:
        yield BandOfNobody(season.band, home.file, own)
