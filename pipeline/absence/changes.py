"""What a remedy changes: the words that `--what-if` takes, and the inputs as reading those words would make them.

From the remedy and the season's inputs. Both come from one assignment of a value to a key, so that neither can say
what the other does not do; a value stated is no longer assumed.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from pipeline.absence.remedies import (
    DatesGivenBack,
    LargerDish,
    LaterHour,
    LongerHours,
    LowerNightCost,
    ModeAdded,
    MoreNights,
    MorePower,
    MoreSlots,
    NightsAdded,
    Remedy,
    SmallerSunSeparation,
)
from pipeline.agenda.hours import hours_of
from pipeline.inputs.bands import band_table
from pipeline.inputs.model import WEEKDAYS, Antenna, DateRange, Hours, Station
from pipeline.record.inputs import Inputs

DAY_MINUTES = 24 * 60
WEEK_MINUTES = 7 * DAY_MINUTES
ONE_DAY = dt.timedelta(days=1)
SEASON = "season"


@dataclass(frozen=True)
class Assignment:
    """A value put at a key: `end` is home, partner or season."""

    end: str
    keys: tuple[str, ...]
    value: Any


def change_words(inputs: Inputs, pair: int, remedy: Remedy) -> str:
    """`QF4LUM.bands.3cm.power_w=100`: the change as `--what-if` takes it, without a blank."""
    return assignment_words(inputs, pair, _assignment(inputs, pair, remedy))


def assignment_words(inputs: Inputs, pair: int, made: Assignment) -> str:
    """The same of a value put at a key."""
    target = SEASON if made.end == SEASON else _station(inputs, pair, made.end).call
    return f"{'.'.join((target, *made.keys))}={_text(made.value)}"


def changed_inputs(inputs: Inputs, pair: int, remedy: Remedy) -> Inputs:
    """The inputs with the remedy in them, as if its words had been read; the files' hashes stay."""
    return assigned(inputs, pair, _assignment(inputs, pair, remedy))


def assigned(inputs: Inputs, pair: int, made: Assignment) -> Inputs:
    """The same of a value put at a key."""
    if made.end == SEASON:
        policy = dataclasses.replace(inputs.season.policy, **{made.keys[-1]: made.value})
        return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, policy=policy))
    station = _with_value(_station(inputs, pair, made.end), made.keys, made.value)
    if made.end == "home":
        return dataclasses.replace(inputs, home=station)
    partners = tuple(station if place == pair else one for place, one in enumerate(inputs.partners))
    return dataclasses.replace(inputs, partners=partners)


def all_changed(inputs: Inputs, pair: int, remedies: Iterable[Remedy]) -> tuple[Inputs, str]:
    """The inputs with several remedies, each made upon those before it, and the words of all, blanks between."""
    words = []
    for remedy in remedies:
        words.append(change_words(inputs, pair, remedy))
        inputs = changed_inputs(inputs, pair, remedy)
    return inputs, " ".join(words)


def _station(inputs: Inputs, pair: int, end: str) -> Station:
    return inputs.home if end == "home" else inputs.partners[pair]


def _assignment(inputs: Inputs, pair: int, remedy: Remedy) -> Assignment:
    """The key that a remedy changes, and its value there."""
    policy, band = inputs.season.policy, ("bands", inputs.bands[pair])
    match remedy:
        case LongerHours(end=end):
            weekly = hours_of(_station(inputs, pair, end))
            return Assignment(end, ("available",), "always" if weekly is None else longer(weekly, remedy))
        case DatesGivenBack(end=end, dates=dates):
            left = without_dates(_station(inputs, pair, end).unavailable_dates, dates)
            return Assignment(end, ("unavailable_dates",), left)
        case LargerDish(end=end, diameter_m=diameter_m):
            return Assignment(end, (*band, "antenna", "dish_diameter_m"), diameter_m)
        case MorePower(end=end, power_w=power_w):
            return Assignment(end, (*band, "power_w"), power_w)
        case ModeAdded(end=end, mode=mode):
            modes = _station(inputs, pair, end).bands[inputs.bands[pair]].modes
            return Assignment(end, (*band, "modes"), (*modes, mode))
        case NightsAdded(days=days):
            nights = tuple(day for day in WEEKDAYS if day in policy.nights or day in days)
            return Assignment(SEASON, ("policy", "nights"), nights)
        case LaterHour(latest=latest):
            return Assignment(SEASON, ("policy", "latest_hour_on_work_nights"), latest)
        case SmallerSunSeparation(limit_deg=limit_deg):
            return Assignment(SEASON, ("policy", "minimum_sun_separation_deg"), limit_deg)
        case MoreNights(nights=count):
            return Assignment(SEASON, ("policy", "maximum_nights"), count)
        case MoreSlots(slots=count):
            return Assignment(SEASON, ("policy", "maximum_slots_per_night"), count)
        case LowerNightCost(night_cost=night_cost):
            return Assignment(SEASON, ("policy", "night_cost"), night_cost)


def _with_value(station: Station, keys: tuple[str, ...], value: Any) -> Station:
    """A station with one value stated."""
    if keys[0] != "bands":
        assumed = tuple(key for key in station.assumed if key != keys[0])
        return dataclasses.replace(station, **{keys[0]: value}, assumed=assumed)
    _, band, name, *inner = keys
    place, assumed_before = f"bands.{band}", assumed_one_by_one(station, band)
    stated = f"{place}.{name}"
    assumed = tuple(key for key in assumed_before if key != stated)
    if inner:
        # A dish stated where no antenna was has the efficiency that such a file leaves open.
        fresh = stated in assumed_before
        antenna = Antenna() if fresh else station.bands[band].antenna
        value = dataclasses.replace(antenna, dish_diameter_m=value)
        assumed = (*assumed, f"{stated}.aperture_efficiency") if fresh else assumed
    equipment = dataclasses.replace(station.bands[band], **{name: value})
    return dataclasses.replace(station, bands=station.bands | {band: equipment}, assumed=assumed)


def assumed_one_by_one(station: Station, band: str) -> tuple[str, ...]:
    """A station's assumed keys; those of a band of which the file says nothing are named each."""
    place = f"bands.{band}"
    if place not in station.assumed:
        return station.assumed
    others = tuple(key for key in station.assumed if key != place)
    return (*others, *(f"{place}.{name}" for name in band_table()[band].equipment))


def longer(weekly: Sequence[Hours], remedy: LongerHours) -> tuple[Hours, ...] | str:
    """Weekly hours made longer; `always` where they leave no minute of the week out.

    A start before midnight moves to the day before; what lasts a day or longer is parted at midnight.
    """
    pieces: dict[tuple[int, int], set[int]] = {}
    covered = np.zeros(WEEK_MINUTES, dtype=bool)
    for one in weekly:
        for day in one.days:
            begin, end = _grown(one, day, remedy)
            covered[np.arange(begin, min(end, begin + WEEK_MINUTES)) % WEEK_MINUTES] = True
            for first, last in _parted(begin, end):
                days = pieces.setdefault((first % DAY_MINUTES, last % DAY_MINUTES), set())
                days.add(first // DAY_MINUTES % 7)
    if covered.all():
        return "always"
    return tuple(
        Hours(tuple(WEEKDAYS[day] for day in sorted(days)), _time(first), _time(last))
        for (first, last), days in pieces.items()
    )


def _grown(one: Hours, day: str, remedy: LongerHours) -> tuple[int, int]:
    """Begin and end of one stretch in minutes of the week."""
    begin = WEEKDAYS.index(day) * DAY_MINUTES + one.start.hour * 60 + one.start.minute
    lasts = (one.until.hour - one.start.hour) * 60 + one.until.minute - one.start.minute
    end = begin + (lasts if lasts > 0 else lasts + DAY_MINUTES)
    if remedy.days and day not in remedy.days:
        return begin, end
    return (begin - remedy.minutes, end) if remedy.edge == "before" else (begin, end + remedy.minutes)


def _parted(begin: int, end: int) -> list[tuple[int, int]]:
    """A stretch as it is, or by days where a file could not name it as one."""
    if end - begin < DAY_MINUTES:
        return [(begin, end)]
    midnights = [day * DAY_MINUTES for day in range(begin // DAY_MINUTES + 1, -(-end // DAY_MINUTES))]
    edges = [begin, *midnights, end]
    return list(pairwise(edges))


def _time(minutes: int) -> dt.time:
    return dt.time(minutes // 60, minutes % 60)


def without_dates(ranges: Sequence[DateRange], dates: Sequence[dt.date]) -> tuple[DateRange, ...]:
    """What is left of date ranges once these dates are out."""
    left: list[DateRange] = []
    for one in ranges:
        first = one.first
        for date in sorted(date for date in set(dates) if date in one):
            if first < date:
                left.append(DateRange(first, date - ONE_DAY))
            first = date + ONE_DAY
        if first <= one.last:
            left.append(DateRange(first, one.last))
    return tuple(left)


def _text(value: Any) -> str:
    """A value as a file may hold it; lists and mappings as JSON without blanks."""
    if isinstance(value, tuple):
        return json.dumps([_plain(one) for one in value], separators=(",", ":"))
    if isinstance(value, dt.time):
        return f"{value:%H:%M}"
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def _plain(value: Any) -> Any:
    if isinstance(value, Hours):
        until = "24:00" if value.until == dt.time(0) else f"{value.until:%H:%M}"
        return {"days": list(value.days), "from": f"{value.start:%H:%M}", "to": until}
    if isinstance(value, DateRange):
        return str(value.first) if value.first == value.last else f"{value.first}/{value.last}"
    return value
