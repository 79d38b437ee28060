"""Why a partner has no slot, in one sentence: the most decisive cause, and what would change it.

From the ground, the record and the agenda. Every claim is tried on the same ground before it is made (`trials`).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pipeline.absence.counterfactuals import MOST_DB, Longer, Trials, best_few
from pipeline.absence.upgrades import dish_that_would_do, power_that_would_do
from pipeline.agenda.agenda import Agenda, make_problem, slots_on_offer
from pipeline.agenda.candidates import Candidates, station_stretches
from pipeline.agenda.commitments import blocked, refused_times
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import Ground
from pipeline.inputs.model import WEEKDAYS, Inputs
from pipeline.windows.instants import instant_of_minute

MENDS_SHOWN = 3
# The most that a season's policy takes.
MOST_NIGHTS, MOST_SLOTS_A_NIGHT = 31, 20
DAY_WORDS: dict[str, str] = dict(
    zip(
        WEEKDAYS,
        ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays"),
        strict=True,
    )
)


@dataclass(frozen=True)
class Lifted:
    """Whom the best agenda would hold with one limit a little wider; each worked out once, when it is asked for."""

    ground: Ground
    agenda: Agenda

    @cached_property
    def by_night(self) -> set[int]:
        """Pairs served with one night more."""
        return self._served(more_nights=1)[0]

    @cached_property
    def by_slot(self) -> set[int]:
        """Pairs served with one slot a night more."""
        return self._served(more_slots=1)[0]

    @cached_property
    def by_nights(self) -> tuple[set[int], set[int]]:
        """Pairs served with as many nights as are worth it, and these nights."""
        return self._served(more_nights=len(self.ground.period.dates))

    def _served(self, **more: int) -> tuple[set[int], set[int]]:
        """Pairs with a slot in the best agenda of more room, and the nights it takes."""
        problem, people = make_problem(self.ground, self.agenda.commitments, self.agenda.pool, {}, **more)
        taken = choose(problem).taken
        nights = {int(night) for night in np.flatnonzero(problem.open_nights)}
        return {people[number][0] for number, _ in taken}, nights | {int(problem.night[slot]) for _, slot in taken}


@dataclass(frozen=True)
class Case:
    """One partner without a slot."""

    ground: Ground
    agenda: Agenda
    trials: Trials
    lifted: Lifted
    pair: int

    @property
    def call(self) -> str:
        """The partner's call."""
        return self.ground.inputs.partners[self.pair].call

    @property
    def slots(self) -> Candidates:
        """Its slots that no rule forbids, poor ones too."""
        return self.ground.slots.take(np.flatnonzero(self.ground.slots.pair == self.pair))

    @property
    def good(self) -> Candidates:
        """Those that could be proposed."""
        return slots_on_offer(self.ground, self.agenda.commitments, self.slots)


def partners_without_slot(ground: Ground, agenda: Agenda, no_window: Mapping[str, str]) -> list[str]:
    """A sentence for each partner without a slot, empty for the others; `no_window` are the reasons by call."""
    served = {one.pair for one in agenda.slots}
    trials, lifted = Trials(ground, agenda.commitments), Lifted(ground, agenda)
    return [
        "" if pair in served else _partner(Case(ground, agenda, trials, lifted, pair), no_window.get(station.call, ""))
        for pair, station in enumerate(ground.inputs.partners)
    ]


def _partner(case: Case, no_window: str) -> str:
    if case.ground.inputs.wishes[case.pair].contacts_wanted == 0:
        return "no contact is wanted (contacts_wanted is 0)"
    if no_window:
        return f"no window: {no_window}"
    if case.ground.modes[case.pair] is None:
        mine, theirs = (
            station.bands[case.ground.band_of(case.pair)].modes
            for station in (case.ground.inputs.home, case.ground.inputs.partners[case.pair])
        )
        return f"no mode in common: home has {listed(mine)}, {case.call} has {listed(theirs)}"
    if case.good.start.size:
        return _not_chosen(case)
    decisive = _refused(case) or _agreed_in_the_way(case) or _too_weak(case) or _rules(case) or _hours(case)
    return decisive or _too_short(case)


def _refused(case: Case) -> str:
    """Good slots there were, and every one of them touches a time that the partner has refused."""
    slots, held = case.slots, case.agenda.commitments
    fit = slots.chance >= case.ground.least_chance
    if fit.any() and refused_times(slots, held.refused)[fit].all():
        return "what was offered is declined, and no other time of this period fits both ends"
    return ""


def _agreed_in_the_way(case: Case) -> str:
    """Good slots there were, but what is agreed with others holds the dish."""
    slots, held, gap = case.slots, case.agenda.commitments, case.ground.inputs.season.policy.gap_minutes
    fit = np.flatnonzero((slots.chance >= case.ground.least_chance) & ~refused_times(slots, held.refused))
    fit = fit[blocked(slots, held.busy, gap)[fit]]
    if not fit.size:
        return ""
    who = [
        f"{case.ground.inputs.partners[one.pair].call} {one.label}"
        for one in held.kept
        if blocked(slots.take(fit), ((one.start, one.end),), gap).any()
    ]
    whom = listed(who) if who else "a station that is no partner now"
    return f"what is agreed with {whom} holds the dish whenever it could be worked"


def _too_weak(case: Case) -> str:
    """Even with nobody asleep the best chance is less than marginal: by how much, and what would mend it."""
    trials, limit = case.trials, case.ground.least_chance
    every = trials.best(case.pair, trials.places(case.pair, home=trials.whenever, partner=trials.whenever, sun=False))
    if every.start.size and every.chance.max() < limit:
        return _weak_words(case, every, "at whatever hour")
    if case.slots.start.size:
        return _weak_words(case, case.slots, "at the hours that both ends have")
    return ""


def _weak_words(case: Case, slots: Candidates, where: str) -> str:
    """How many decibels are missing, and the dish or the power that would bring them."""
    missing = case.trials.missing_db(slots, case.ground.least_chance)
    if missing is None:
        return f"far too weak {where}: even {MOST_DB:.0f} dB more both ways would not do"
    words = f"short by {missing:.1f} dB {where}"
    best = best_few(slots).take(np.array([0]))
    mends = []
    for end, name in (("partner", case.call), ("home", "home")):
        size = dish_that_would_do(case.ground, best, end, missing)
        mends += [f"a dish of {size:.1f} m at {name}"] if size else []
    for end, name in (("partner", case.call), ("home", "home")):
        watts = power_that_would_do(case.trials, slots, end)
        mends += [f"{watts:g} W at {name}"] if watts else []
    return f"{words}; what would do: {' or '.join(mends[:MENDS_SHOWN])}" if mends else words


def _rules(case: Case) -> str:
    """One rule alone keeps all good slots away."""
    trials, pair, policy = case.trials, case.pair, case.ground.inputs.season.policy
    found = trials.good(pair, sun=False)
    if found.start.size:
        return (
            f"the Sun is within {policy.minimum_sun_separation_deg:g} degrees of the Moon whenever both ends could"
            f" work; a smaller limit would open {nights_words(found)}"
        )
    for rule, words in (
        ("latest hour", f"only later than {latest_words(case.ground.inputs)}"),
        ("away", "only when home is away"),
        ("nights", "only on nights that your policy leaves out"),
    ):
        found = trials.good(pair, home=trials.home_without(rule))
        if found.start.size:
            return f"{words}: {_dates(case, found)}"
    station = dataclasses.replace(case.ground.inputs.partners[pair], unavailable_dates=())
    found = trials.good(pair, partner=station_stretches(station, case.ground.period))
    if found.start.size:
        return f"only when {case.call} is away: {_dates(case, found)}"
    return ""


def latest_words(inputs: Inputs) -> str:
    """`your latest hour before a working day (01:00)`."""
    latest = inputs.season.policy.latest_hour_on_work_nights
    return f"your latest hour before a working day ({f'{latest:%H:%M}' if latest else 'none'})"


def _hours(case: Case) -> str:
    """The hours do not meet: the least growth that helps, else when the Moon is in common sight at all."""
    trials, pair = case.trials, case.pair
    longer = trials.shortest_longer(pair)
    if longer is not None:
        return f"hours do not meet: {longer_words(longer, case.call)} would open {_count(len(longer.nights), 'night')}"
    for end, found in (
        ("your hours", trials.good(pair, home=trials.possible)),
        (f"the hours of {case.call}", trials.good(pair, partner=trials.awake(pair))),
        ("your hours and its", trials.good(pair, home=trials.possible, partner=trials.awake(pair))),
    ):
        if found.start.size:
            return f"hours do not meet: good slots lie at {clock_range(case.ground, found)} your time, outside {end}"
    return ""


def _too_short(case: Case) -> str:
    """What is left between the rules is shorter than any slot, or the Moon stands too low in it."""
    mine = case.ground.minutes.of_pair(case.pair)
    edge = np.flatnonzero(np.diff(mine.window, prepend=-1) | np.diff(mine.free.astype(np.int8), prepend=-1))
    sizes = np.diff(np.append(edge, mine.free.size))[mine.free[edge]]
    longest, least = int(sizes.max(initial=0)), case.ground.least[case.pair]
    if 0 < longest < least:
        return f"its longest stretch within all rules lasts {_count(longest, 'minute')}; a slot needs {least}"
    if longest:
        return "within all rules the Moon never stands half a beam clear of the skyline for long enough"
    return "several rules together leave no time: your hours and nights, its hours, and the distance to the Sun"


def _not_chosen(case: Case) -> str:
    """Good slots there are, and others were worth more: which limit, lifted, would let it in."""
    ground, policy = case.ground, case.ground.inputs.season.policy
    priority = ground.inputs.wishes[case.pair].priority
    best = priority * float(case.good.chance.max())
    on_nights = np.isin(case.good.night, sorted(case.agenda.nights))
    if not on_nights.any() and best < policy.night_cost:
        return (
            f"not worth a set-up: with its priority it earns {worth_words(best, policy.night_cost)} at best,"
            f" and a night costs {policy.night_cost:g}"
        )
    less = _better(case, on_nights)
    if case.pair in case.lifted.by_night and policy.maximum_nights < MOST_NIGHTS:
        return f"{less}; with {policy.maximum_nights + 1} nights it would have a slot"
    if case.pair in case.lifted.by_slot and policy.maximum_slots_per_night < MOST_SLOTS_A_NIGHT:
        return f"{less}; with {policy.maximum_slots_per_night + 1} slots a night it would have one"
    served, nights = case.lifted.by_nights
    if case.pair in served and policy.maximum_nights < len(nights) <= MOST_NIGHTS:
        return f"{less}; with {len(nights)} nights it would have a slot"
    if on_nights.any():
        return f"{less} at every time it could have"
    if case.pair not in served and not np.isin(case.good.night, sorted(nights)).any():
        return "not worth a set-up: all it and others could earn on its nights is less than a night costs"
    return f"{less}, and one night or one slot a night more would not change that"


def _better(case: Case, on_nights: np.ndarray) -> str:
    """Who has the slots instead: on the nights it shares with them, else on all."""
    nights = set(case.good.night[on_nights].tolist()) or case.agenda.nights
    calls = [case.ground.inputs.partners[one.pair].call for one in case.agenda.slots if one.night in nights]
    return f"worth less than {listed(list(dict.fromkeys(calls))[:4])}"


def longer_words(longer: Longer, call: str) -> str:
    """`45 minutes earlier on Saturdays at QF4LUM`."""
    whose = "your hours" if longer.end == "home" else f"the hours of {call}"
    edge = "beginning" if longer.edge == "before" else "ending"
    when = f" on {listed([DAY_WORDS[day] for day in longer.days])}" if longer.days else ""
    direction = "earlier" if longer.edge == "before" else "later"
    return f"{whose} {edge} {span_words(longer.minutes)} {direction}{when}"


def span_words(minutes: int) -> str:
    """`45 minutes`, `1 hour`, `1 hour 30 minutes`."""
    whole, rest = divmod(minutes, 60)
    parts = [_count(whole, "hour")] if whole else []
    return " ".join([*parts, *([_count(rest, "minute")] if rest else [])])


def clock_range(ground: Ground, slots: Candidates) -> str:
    """`03:10 to 08:30`: the shortest stretch of home's clock that holds all these slots."""
    zone = ground.period.zone
    clocks = [
        [moment.hour * 60 + moment.minute for moment in (instant_of_minute(m).astimezone(zone) for m in edges)]
        for edges in zip(slots.start, slots.end, strict=True)
    ]
    busy = np.zeros(1440, dtype=bool)
    for first, last in clocks:
        busy[np.arange(first, last if last > first else last + 1440) % 1440] = True
    if busy.all():
        return "any hour"
    used = np.flatnonzero(busy)
    gaps = np.diff(np.append(used, used[0] + 1440))
    widest = int(np.argmax(gaps))
    begin, end = int(used[(widest + 1) % used.size]), int(used[widest]) + 1
    return f"{begin // 60:02}:{begin % 60:02} to {end // 60 % 24:02}:{end % 60:02}"


def nights_words(slots: Candidates) -> str:
    """`3 nights`."""
    return _count(int(np.unique(slots.night).size), "night")


def _dates(case: Case, slots: Candidates) -> str:
    """The first few nights by date."""
    dates = [case.ground.period.dates[int(night)] for night in np.unique(slots.night)]
    shown = [f"{date:%a} {date.day} {date:%B}" for date in dates[:3]]
    return listed(shown) if len(dates) <= 3 else f"{', '.join(shown)} and {len(dates) - 3} more"


def listed(words: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else "nobody"


def worth_words(value: float, below: float) -> str:
    """`0.2 of a contact`: rounded up to a tenth, or finer where that would not lie below the limit it fails."""
    for digits in (1, 2, 3):
        shown = math.ceil(value * 10**digits - 1e-9) / 10**digits
        if shown < below:
            return contacts_words(f"{shown:.{digits}f}")
    return f"hardly less than {contacts_words(f'{below:g}')}"


def contacts_words(figure: str) -> str:
    """`0.2 of a contact`, `1 contact`, `3.2 contacts`."""
    value = float(figure)
    return f"{figure} of a contact" if value < 1.0 else "1 contact" if value == 1.0 else f"{figure} contacts"


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
