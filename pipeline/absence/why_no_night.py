"""Why a night has no slot, in one sentence: the most decisive cause, and what would change it.

From the ground and the agenda, tried like the reasons of partners.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.absence.counterfactuals import Trials, all_of
from pipeline.absence.why_not import DAY_WORDS, latest_words, listed, longer_words, worth_words
from pipeline.agenda import hours
from pipeline.agenda.agenda import Agenda, make_problem
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Kept, refused_times
from pipeline.agenda.milp_model import Problem
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import Ground
from pipeline.inputs.model import WEEKDAYS
from pipeline.windows.instants import minutes_of

IntArray = npt.NDArray[np.int64]

CALLS_SHOWN = 3
# Rules that are tried off together when none alone is the cause, from the fewest on.
TOGETHER = {
    "hours, late": "hours and latest hour",
    "hours, sun": "hours and distance to the Sun",
    "all": "hours, dates away, latest hour and distance to the Sun",
}


def nights_without_slot(ground: Ground, agenda: Agenda, nights: pd.DataFrame) -> list[str]:
    """A sentence for each night without a slot, empty for the others.

    `nights` has a row a night with `possible` and `partners_in_reach`.
    """
    found = {
        night: _without_trial(ground, agenda, night, bool(row["possible"]), int(row["partners_in_reach"]))
        for night, row in enumerate(nights.to_dict("records"))
        if night not in agenda.nights
    }
    found |= _tried(ground, agenda, [night for night, words in found.items() if not words])
    return [found.get(night, "") for night in range(len(ground.period.dates))]


def _without_trial(ground: Ground, agenda: Agenda, night: int, possible: bool, in_reach: int) -> str:
    """Causes that are plain to see."""
    date = ground.period.dates[night]
    if not possible:
        if any(date in stretch for stretch in ground.inputs.home.unavailable_dates):
            return "home is away"
        return f"{DAY_WORDS[WEEKDAYS[date.weekday()]]} are not among your nights"
    if not in_reach:
        return "no partner has the Moon in sight together with home"
    if (agenda.pool.night == night).any():
        return _not_chosen(ground, agenda, night)
    return ""


def _tried(ground: Ground, agenda: Agenda, nights: list[int]) -> dict[int, str]:
    """Nights without a good slot within the rules: which rule alone is in the way, and for whom."""
    trials, left, found = Trials(ground, agenda.commitments), list(nights), {}
    pairs = [pair for pair, wish in enumerate(ground.inputs.wishes) if wish.contacts_wanted > 0]
    limit = ground.inputs.season.policy.minimum_sun_separation_deg
    for name in ("sun", "late", "home", "partner", "both", "away", *TOGETHER):
        calls = _calls(ground, [_opened(trials, name, pair, left) for pair in pairs] if left else [])
        for night, some in calls.items():
            who = listed(some[:CALLS_SHOWN])
            if name == "sun":
                found[night] = f"the Sun is within {limit:g} degrees of the Moon"
            elif name == "late":
                found[night] = f"{who} could be worked only later than {latest_words(ground.inputs)}"
            elif name == "away":
                found[night] = f"{who} could be worked, but {'is' if len(some) == 1 else 'are'} away"
            elif name in TOGETHER:
                found[night] = f"several rules together leave no time for {who}: {TOGETHER[name]}"
            else:
                found[night] = _hours(trials, name, night, some)
        left = [night for night in left if night not in found]
    return found | {night: _weak(ground, agenda, night) for night in left}


def _opened(trials: Trials, name: str, pair: int, nights: Sequence[int]) -> Candidates:
    if name == "sun":
        return trials.good(pair, sun=False, nights=nights)
    if name == "late":
        return trials.good(pair, home=trials.home_without("latest hour"), nights=nights)
    if name in TOGETHER:
        home, sun = trials.possible if name == "hours, sun" else trials.on_nights, name == "hours, late"
        partner = trials.whenever if name == "all" else trials.awake(pair)
        return trials.good(pair, home=home, partner=partner, sun=sun, nights=nights)
    if name == "away":
        return trials.good(pair, home=trials.possible, partner=trials.whenever, nights=nights)
    if name == "home":
        return trials.good(pair, home=trials.possible, nights=nights)
    if name == "partner":
        return trials.good(pair, partner=trials.awake(pair), nights=nights)
    return trials.good(pair, home=trials.possible, partner=trials.awake(pair), nights=nights)


def _calls(ground: Ground, parts: Sequence[Candidates]) -> dict[int, list[str]]:
    """Partners with a slot by night, those of greatest chance first."""
    if not parts:
        return {}
    slots = all_of(parts)
    found: dict[int, list[str]] = {}
    for row in np.lexsort((slots.pair, -np.round(slots.chance, 3))):
        calls = found.setdefault(int(slots.night[row]), [])
        call = ground.inputs.partners[int(slots.pair[row])].call
        if call not in calls:
            calls.append(call)
    return found


def _hours(trials: Trials, name: str, night: int, calls: list[str]) -> str:
    """The hours do not meet: how much more would do, for the partner who needs least; else who is out of hours."""
    ground = trials.ground
    tried = [
        (longer.minutes, place, call, longer)
        for place, call in enumerate(calls)
        if name != "both" and (longer := trials.shortest_longer(ground.pair_of(call) or 0, night, (name,))) is not None
    ]
    if tried:
        _, _, call, longer = min(tried, key=lambda one: one[:2])
        for_whom = f" for {call}" if longer.end == "home" else ""
        return f"hours do not meet: {longer_words(replace(longer, days=()), call)} would open it{for_whom}"
    who = listed(calls[:CALLS_SHOWN])
    if name != "partner" and not _home_gives(trials, night).size:
        return f"you give no hours for {ground.period.dates[night]:%A} nights; {who} could be worked"
    own, both = ("its own hours", "its") if len(calls) == 1 else ("their own hours", "theirs")
    whose = {"home": "your hours", "partner": own, "both": f"your hours and {both}"}[name]
    return f"hours do not meet: {who} could be worked only outside {whose}"


def _home_gives(trials: Trials, night: int) -> IntArray:
    """Home's stretches of one night."""
    noons = [minutes_of(noon) for noon in trials.ground.period.noons[night : night + 2]]
    return hours.overlap(trials.stretches[0], np.array([noons], dtype=np.int64))


def _weak(ground: Ground, agenda: Agenda, night: int) -> str:
    """Nothing good at any hour, or nothing that is still free or wanted."""
    wanted = np.array([wish.contacts_wanted > 0 for wish in ground.inputs.wishes], dtype=bool)
    mine = ground.slots.take(np.flatnonzero(ground.slots.night == night))
    mine = mine.take(np.flatnonzero(wanted[mine.pair]))
    good = mine.take(np.flatnonzero(mine.chance >= ground.least_chance))
    if good.start.size:
        every = refused_times(good, agenda.commitments.refused).all()
        return "what could be worked was declined" if every else "what is agreed holds the dish, or was declined"
    if mine.start.size:
        best = ground.inputs.partners[int(mine.pair[np.argmax(mine.chance)])].call
        return f"no chance is better than unlikely; the best partner would be {best}"
    return "no partner in reach has a chance better than unlikely, at whatever hour"


def _not_chosen(ground: Ground, agenda: Agenda, night: int) -> str:
    """Good slots, but none earns the set-up: what the night could add to this agenda at most."""
    policy = ground.inputs.season.policy
    cost, alone = policy.night_cost, _night_alone(ground, agenda, night)
    gain = _bound(alone, policy.maximum_slots_per_night)
    if gain >= cost and len(agenda.nights) >= policy.maximum_nights:
        if policy.maximum_nights == 1:
            return "the one night that your policy allows is worth more on another date"
        return f"the {policy.maximum_nights} nights that your policy allows are worth more on other dates"
    if gain >= cost:
        gain = choose(alone).value
    if gain <= 0.0:
        return "everybody within reach has a slot already, and another would hardly better the chance"
    if gain < cost:
        return f"by your priorities it could add at most {worth_words(gain, cost)}, and a set-up must earn {cost:g}"
    return f"all it could add to this agenda is worth no more than a set-up, {cost:g}"


def _night_alone(ground: Ground, agenda: Agenda, night: int) -> Problem:
    """The agenda taken as agreed, and one night to choose from for nothing."""
    held = agenda.commitments
    chosen = {(one.pair, one.start) for one in held.kept}
    new = [one for one in agenda.slots if (one.pair, one.start) not in chosen]
    kept = (*held.kept, *(Kept(one.pair, one.operator, one.label, one.state, one.slot) for one in new))
    pool = agenda.pool.take(np.flatnonzero(agenda.pool.night == night))
    problem, _ = make_problem(ground, replace(held, kept=kept), pool, {})
    here = np.arange(problem.room.size) == night
    return replace(problem, room=np.where(here, problem.room, 0), open_nights=here, most_nights=0)


def _bound(alone: Problem, slots: int) -> float:
    """What the best demands would add if none stood in another's way."""
    best = [
        max(
            float(one.worth.max(initial=0.0)) * max(1, one.most),
            0.0 if one.pair_worth is None else float(one.pair_worth.max(initial=0.0)),
        )
        for one in alone.demands
        if one.most > 0
    ]
    return sum(sorted(best, reverse=True)[:slots])
