"""Which weekends to keep free: Friday to Sunday nights, ranked by the contacts that planning them by themselves brings.

From the usable slots of a year (`worth`), by the agenda's own program within both ends' hours; beside it what they
would bring if home were free at any hour. Where the policy takes none of these nights, the nights it takes in a week
stand for the weekend. The order of the facts is judgement.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.agenda.commitments import Kept
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.model import WEEKDAYS
from pipeline.inputs.scalars import Weekday
from pipeline.outlook.facts import NEAR_SUN_DEG, NOISE_PARTS, NOTABLE_DB, STANDS_OUT_DB, Fact, FactKind, moon_kind
from pipeline.outlook.nights import ranks
from pipeline.outlook.worth import Worth
from pipeline.pairs.corrections import rests_on_assumptions
from pipeline.pairs.outcomes import outcome_words
from pipeline.record.inputs import Inputs
from pipeline.windows.frames import is_missing
from pipeline.windows.instants import as_instant

WEEKEND: tuple[Weekday, ...] = ("fri", "sat", "sun")
# Home's columns of the noise parts that a fact may tell.
NOISE_COLUMNS = {f"home_degradation_{part}_db": part for part in NOISE_PARTS}
COLUMNS = (
    "rank", "weekend_start", "weekend_end", "contacts_expected", "contacts_if_free", "partners", "best_night",
    "degradation_db",
)  # fmt: skip


@dataclass(frozen=True)
class Weekend:
    """One weekend: its nights by place and date, and those on which home is away or which the policy leaves out."""

    places: tuple[int, ...]
    dates: tuple[dt.date, ...]
    away: tuple[dt.date, ...]


@dataclass(frozen=True)
class WeekendPartner:
    """A partner of a weekend: the contacts that its slots bring there, and the word of the likeliest of them."""

    call: str
    contacts: float
    outcome: str


@dataclass(frozen=True)
class BestWeekends:
    """All weekends, the best first, with the facts of each and its partners, the most certain first.

    `of_night` is the first night of a night's weekend.
    """

    weekends: pd.DataFrame
    facts: tuple[tuple[Fact, ...], ...]
    partners: tuple[tuple[WeekendPartner, ...], ...]
    of_night: dict[dt.date, dt.date]


def weekend_days(inputs: Inputs) -> tuple[Weekday, ...]:
    """The weekdays whose nights make a weekend."""
    allowed = inputs.season.policy.nights
    return WEEKEND if any(day in allowed for day in WEEKEND) else tuple(allowed)


def weekends_of(inputs: Inputs, dates: Sequence[dt.date]) -> list[Weekend]:
    """The weekends of a span, in order, by the dates of its nights."""
    days = weekend_days(inputs)
    back = WEEKDAYS.index("fri") if days == WEEKEND else 0
    found: dict[dt.date, list[int]] = {}
    for place, date in enumerate(dates):
        if WEEKDAYS[date.weekday()] in days:
            found.setdefault(date - dt.timedelta(days=(date.weekday() - back) % 7), []).append(place)
    return [
        Weekend(tuple(places), mine, tuple(date for date in mine if not inputs.is_possible(date)))
        for places in found.values()
        for mine in [tuple(dates[place] for place in places)]
    ]


def always_free(inputs: Inputs) -> Inputs:
    """The season as if home could be at the dish at any hour of every weekend; the partners' hours stay."""
    home = dataclasses.replace(inputs.home, available="always", unavailable_dates=(), busy_files=())
    policy = dataclasses.replace(inputs.season.policy, nights=weekend_days(inputs), latest_hour_on_work_nights=None)
    return dataclasses.replace(inputs, home=home, season=dataclasses.replace(inputs.season, policy=policy))


def best_weekends(
    worth: Worth, if_free: Worth, nights: pd.DataFrame, dry: Mapping[str, npt.NDArray[np.float64]] | None = None
) -> BestWeekends:
    """All weekends of a span; `nights` are judged and have home's cost (`home_nights`).

    `dry` is by partner the share of each month's hours, (12,), that weather leaves: then ranks go by it too.
    `worth` and `if_free` are those of the season as it stands and with home always free.
    """
    grid = worth.grid
    weekends = weekends_of(grid.inputs, grid.period.dates)
    taken = [worth.alone(weekend.places) for weekend in weekends]
    contacts = [contacts_of(mine, grid.inputs.wishes) for mine in taken]
    # Whoever is always free can keep to the hours that there are.
    free = [max(one, if_free.contacts_alone(weekend.places)) for one, weekend in zip(contacts, weekends, strict=True)]
    best = [_best_night(nights, weekend, mine, grid) for weekend, mine in zip(weekends, taken, strict=True)]
    frame = pd.DataFrame(
        {
            "weekend_start": [weekend.dates[0] for weekend in weekends],
            "weekend_end": [weekend.dates[-1] for weekend in weekends],
            "contacts_expected": contacts,
            "contacts_if_free": free,
            "partners": [" ".join(_calls(grid, mine)) for mine in taken],
            "best_night": [None if place is None else grid.period.dates[place] for place in best],
            "degradation_db": [_least(nights, weekend) for weekend in weekends],
        }
    )
    partners = [weekend_partners(grid, mine) for mine in taken]
    counted, columns = list(contacts), list(COLUMNS)
    if dry is not None:
        counted = [
            sum(one.contacts * float(dry[one.call][weekend.dates[0].month - 1]) for one in mine)
            for mine, weekend in zip(partners, weekends, strict=True)
        ]
        frame["contacts_in_weather"] = counted
        columns.append("contacts_in_weather")
    frame["rank"] = ranks(counted, frame["degradation_db"], frame["weekend_start"])
    usual = nights[list(NOISE_COLUMNS)].mean()
    facts = [_facts(grid, nights, usual, *each) for each in zip(weekends, taken, best, strict=True)]
    order = np.argsort(frame["rank"].to_numpy(), kind="stable")
    member = {date: weekend.dates[0] for weekend in weekends for date in weekend.dates}
    ordered = frame.iloc[order][columns].reset_index(drop=True)
    return BestWeekends(
        ordered, tuple(facts[place] for place in order), tuple(partners[place] for place in order), member
    )


def weekend_partners(grid: SlotGrid, taken: Sequence[Kept]) -> tuple[WeekendPartner, ...]:
    """Each partner of slots with what they bring, together the contacts of all; the most certain first."""
    inputs, found = grid.inputs, []
    for pair in sorted({one.pair for one in taken}):
        mine = [one for one in taken if one.pair == pair]
        likeliest = np.array([max(float(one.slot.chance[0]) for one in mine)])
        word = outcome_words(likeliest, inputs.season.policy, rests_on_assumptions(inputs, pair))[0]
        found.append(WeekendPartner(inputs.partners[pair].call, contacts_of(mine, inputs.wishes), str(word)))
    return tuple(sorted(found, key=lambda one: -round(one.contacts, 9)))


def _calls(grid: SlotGrid, taken: Sequence[Kept]) -> list[str]:
    """The partners of slots, by time."""
    ordered = sorted(taken, key=lambda one: one.start)
    return list(dict.fromkeys(grid.inputs.partners[one.pair].call for one in ordered))


def _least(nights: pd.DataFrame, weekend: Weekend) -> float:
    """The least degradation of a usable night, dB; NaN where no night is usable."""
    return float(nights["degradation_db"].iloc[list(weekend.places)].min())


def _best_night(nights: pd.DataFrame, weekend: Weekend, taken: Sequence[Kept], grid: SlotGrid) -> int | None:
    """The night with most of what the weekend brings; without any slot the usable one of best rank, if there is one."""
    by_night = {
        place: contacts_of([one for one in taken if one.night == place], grid.inputs.wishes) for place in weekend.places
    }
    best = max(by_night, key=lambda place: by_night[place])
    if by_night[best] > 0.0:
        return best
    usable = [place for place in weekend.places if nights["partners_usable"].iloc[place]]
    return min(usable, key=lambda place: int(nights["rank"].iloc[place]), default=None)


def _facts(
    grid: SlotGrid, nights: pd.DataFrame, usual: pd.Series, weekend: Weekend, taken: Sequence[Kept], best: int | None
) -> tuple[Fact, ...]:
    """The facts of one weekend, in the order in which they are told; `usual` are the span's mean noise parts."""
    mine = nights.iloc[list(weekend.places)]
    return (
        *_away(grid.inputs, weekend),
        *_sun(mine, grid.inputs.season.policy.minimum_sun_separation_deg),
        _met(grid, nights, taken, best),
        _moon(mine),
        *_standing_out(nights, usual, best),
    )


def _away(inputs: Inputs, weekend: Weekend) -> list[Fact]:
    away = tuple(date for date in weekend.away if inputs.home.is_away(date))
    return [Fact(FactKind.HOME_AWAY, nights=away)] if away else []


def _sun(nights: pd.DataFrame, limit_deg: float) -> list[Fact]:
    least = nights.loc[nights["sun_separation_deg"].idxmin()]
    angle = float(least["sun_separation_deg"])
    if angle >= NEAR_SUN_DEG:
        return []
    kind = FactKind.SUN_INSIDE_LIMIT if angle < limit_deg else FactKind.SUN_NEAR
    return [Fact(kind, nights=(least["night"],), angle_deg=angle, limit_deg=limit_deg)]


def _met(grid: SlotGrid, nights: pd.DataFrame, taken: Sequence[Kept], best: int | None) -> Fact:
    """Who can be worked, the best night, and when the Moon is up on it."""
    calls = tuple(_calls(grid, taken))
    if best is None:
        return Fact(FactKind.NOBODY_FREE)
    row = nights.iloc[best]
    return Fact(
        FactKind.CAN_BE_MET, calls=calls, of_partners=len(grid.inputs.partners), best_night=row["night"],
        moon_up=_moon_up(grid, row),
    )  # fmt: skip


def _moon_up(grid: SlotGrid, night: pd.Series) -> tuple[dt.datetime, dt.datetime] | None:
    """Rise and set of a night, its edges where the Moon stays up through it; None where one alone lies in it."""
    crossings = [night["home_moonrise_utc"], night["home_moonset_utc"]]
    if all(map(is_missing, crossings)) and night["moon_up_hours"] > 0.0:
        return grid.period.edges_of(night["night"])
    if any(map(is_missing, crossings)):
        return None
    return as_instant(crossings[0]), as_instant(crossings[1])


def _moon(nights: pd.DataFrame) -> Fact:
    """Distance and declination over the weekend."""
    nearest, farthest = float(nights["distance_km"].min()), float(nights["distance_km"].max())
    kind = moon_kind(nearest, farthest)
    distance = {FactKind.NEAR_PERIGEE: nearest, FactKind.NEAR_APOGEE: farthest}
    declinations = float(nights["declination_deg"].min()), float(nights["declination_deg"].max())
    mean = float(nights["distance_km"].mean())
    return Fact(kind, distance_km=distance.get(kind, mean), declinations_deg=declinations)


def _standing_out(nights: pd.DataFrame, usual: pd.Series, best: int | None) -> list[Fact]:
    """The noise part at home that stands out most from the span's mean on the best night, where it matters."""
    if best is None:
        return []
    now = nights.iloc[best][list(NOISE_COLUMNS)].astype(float)
    above = now - usual
    if above.isna().all():
        return []
    name = str(above.idxmax())
    if now[name] < NOTABLE_DB or above[name] < STANDS_OUT_DB:
        return []
    return [Fact(FactKind.NOISE, part=NOISE_COLUMNS[name], loss_db=float(now[name]))]
