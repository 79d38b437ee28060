"""Nights without a slot, those of one cause in one sentence: what differs from night to night is told as a range.

From the values of `absence.causes`; a night that stands alone has the sentence of `idle_nights`.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import replace

from pipeline.absence.causes import (
    Absence,
    AfterLatestHour,
    EarnsTooLittle,
    NoHomeHours,
    PartnersAway,
    PartnersOutsideHours,
    RulesTogether,
    WeekdayLeftOut,
)
from pipeline.wording import formats
from pipeline.wording.absences import worth
from pipeline.wording.idle_nights import idle_night_words

CALLS_SHOWN = 4
Night = tuple[dt.date, Absence]


def idle_groups(nights: Sequence[Night]) -> tuple[tuple[tuple[dt.date, ...], str], ...]:
    """(dates, sentence without full stop) of each cause, in the order of their first dates."""
    groups: dict[Hashable, list[Night]] = {}
    for date, absence in nights:
        groups.setdefault(_kind(absence), []).append((date, absence))
    return tuple(
        (tuple(date for date, _ in group), _group_words([absence for _, absence in group])) for group in groups.values()
    )


def _kind(absence: Absence) -> Hashable:
    """What nights of one sentence share."""
    match absence:
        case PartnersOutsideHours(ends=ends):
            return PartnersOutsideHours.__name__, ends
        case RulesTogether(rules=rules):
            return RulesTogether.__name__, rules
        case EarnsTooLittle() | AfterLatestHour() | PartnersAway() | NoHomeHours() | WeekdayLeftOut():
            return type(absence).__name__
    return idle_night_words(absence)


def _group_words(group: list[Absence]) -> str:
    """The sentence of nights of one kind."""
    told = list(dict.fromkeys(map(idle_night_words, group)))
    if len(told) == 1:
        return told[0]
    first = group[0]
    if isinstance(first, EarnsTooLittle):
        most = max(one.worth for one in group if isinstance(one, EarnsTooLittle))
        cost = first.night_cost
        return f"by your priorities none could add more than {worth(most, cost)}, and a set-up must earn {cost:g}"
    if isinstance(first, WeekdayLeftOut | NoHomeHours):
        days = sorted({one.weekday for one in group if isinstance(one, WeekdayLeftOut | NoHomeHours)})
        if isinstance(first, WeekdayLeftOut):
            return f"{formats.listed([f'{formats.WEEKDAYS_LONG[day]}s' for day in days])} are not among your nights"
        named = formats.listed([formats.WEEKDAYS_LONG[day] for day in days])
        return f"you give no hours for {named} nights; {_some_of(group)} could be worked"
    # All others tell the partners that could be worked: the sentence is that of one night with all of them.
    return idle_night_words(replace(first, calls=("{}",))).format(_some_of(group))  # type: ignore[call-arg]


def _some_of(group: Sequence[Absence]) -> str:
    """`one or another of QN1PIK and QT8NUI`: who could be worked on most of these nights first."""
    nights = Counter(call for one in group for call in getattr(one, "calls", ()))
    calls = [call for call, _ in nights.most_common()]
    if len(calls) == 1:
        return calls[0]
    shown = calls if len(calls) <= CALLS_SHOWN else [*calls[: CALLS_SHOWN - 1], "others"]
    return f"one or another of {formats.listed(shown)}"
