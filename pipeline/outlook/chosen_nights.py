"""Why each night of an agenda was chosen, as values, and from what worth on a night is a good one.

From the judged nights and the agenda's slots. What is few and what is good is judgement and stands here once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

# Dates of a partner that can be met on so many nights at most are told one by one.
FEW_NIGHTS = 3
# By so many contacts a night must pass the others to be called the best of them: a tenth is what pages print.
BETTER_BY = 0.1
# A good night is worth so much of the best one.
GOOD_SHARE = 2 / 3
# Of a month's nights so many at most (judgement).
MOST_GOOD = 0.4


@dataclass(frozen=True)
class ChosenNight:
    """A night of the agenda and what speaks for it; all calls are those of partners with a slot on it.

    `contacts` is what the agenda would lose without it. `only` can be met on no other night, `few` on these dates
    alone; `best_of` is a partner and the number of nights on which it can be met, of which this one is worth most by
    itself. `again` have a slot on another night too.
    """

    night: dt.date
    contacts: float
    only: tuple[str, ...] = ()
    few: tuple[tuple[str, tuple[dt.date, ...]], ...] = ()
    best_of: tuple[str, int] | None = None
    again: tuple[str, ...] = ()


def chosen_nights(nights: pd.DataFrame, agenda: pd.DataFrame) -> tuple[ChosenNight, ...]:
    """The nights with slots in order of time; `nights` are judged against that agenda (see `nights.judge`)."""
    if agenda.empty:
        return ()
    usable = {
        night: str(calls).split() for night, calls in zip(nights["night"], nights["partners_usable"], strict=True)
    }
    worth = dict(zip(nights["night"], nights["contacts_expected"].astype(float), strict=True))
    brings = dict(zip(nights["night"], nights["contacts_in_agenda"].astype(float), strict=True))
    slots = {night: tuple(dict.fromkeys(rows["partner"])) for night, rows in agenda.groupby("night", sort=True)}
    # A slot that was agreed against the rules is no evidence of what can be planned.
    met = {
        call: tuple(night for night, calls in usable.items() if call in calls) for call in agenda["partner"].unique()
    }
    return tuple(
        ChosenNight(
            night=night,
            contacts=brings[night],
            only=tuple(call for call in calls if met[call] == (night,)),
            few=tuple((call, met[call]) for call in calls if night in met[call] and 1 < len(met[call]) <= FEW_NIGHTS),
            best_of=_best_of(night, [call for call in calls if len(met[call]) > FEW_NIGHTS], met, worth),
            again=tuple(call for call in calls if any(call in slots[other] for other in slots if other != night)),
        )
        for night, calls in slots.items()
    )


def _best_of(
    night: dt.date, calls: list[str], met: dict[str, tuple[dt.date, ...]], worth: dict[dt.date, float]
) -> tuple[str, int] | None:
    """The rarest of these partners whose other nights are all worth less by themselves; how many nights it has."""
    for call in sorted(calls, key=lambda one: len(met[one])):
        others = [worth[other] for other in met[call] if other != night]
        if night in met[call] and worth[night] >= max(others) + BETTER_BY:
            return call, len(met[call])
    return None


def good_from(contacts_expected: Sequence[float] | npt.NDArray[np.float64]) -> float | None:
    """From how many contacts by itself, (n,), a night is a good one, to a tenth; None where none stands out.

    Where many nights come near the best, fewer are called good: a mark on most of a month's nights would say nothing.
    """
    tenths = np.round(np.asarray(contacts_expected, dtype=float) * 10.0).astype(int)
    best = int(tenths.max(initial=0))
    least = max(round(best * GOOD_SHARE), 1)
    few = [
        limit for limit in range(least, best + 1) if (tenths >= limit).sum() <= max(tenths.size * MOST_GOOD, FEW_NIGHTS)
    ]
    return few[0] / 10.0 if few else None


def is_good(contacts_expected: float, limit: float | None) -> bool:
    """Whether a night reaches that limit as it is printed, to a tenth."""
    return limit is not None and round(contacts_expected, 1) >= limit
