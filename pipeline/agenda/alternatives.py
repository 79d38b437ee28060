"""Other times that a letter may offer for a slot: free of every slot and of each other, and as good: they cost nothing.

From the agenda and its pool. Whoever takes which of them, the policy holds: a night never gets more slots than it may
have, and no night more is set up for. What a letter has told stays as long as it stands, and nothing is added to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import Agenda, Chosen, join, slot_as_told, slots_on_offer
from pipeline.agenda.candidates import Candidates, OneSlot
from pipeline.agenda.commitments import PROPOSED, blocked, next_label
from pipeline.agenda.contacts import chance_of_one
from pipeline.agenda.joint import chances_with_one_more
from pipeline.agenda.site_hours import minutes_outside, spans_of
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.record.model import RAINED, TENTATIVE, Offer, OfferedTime
from pipeline.windows.instants import minutes_of

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

# Another time is as good where it brings so little less, in contacts, hours on site included (judgement).
LEAST_LOSS = 0.05
# Losses closer than this are equal: then the earlier time goes first.
SAME_LOSS = 0.01


@dataclass(frozen=True)
class Alternative(OneSlot):
    """Another time for one slot: pair, operator, its own letter, that of the slot; `slot` is one row."""

    pair: int
    operator: str
    label: str
    instead_of: str
    slot: Candidates


def alternatives_of(grid: SlotGrid, agenda: Agenda) -> tuple[Alternative, ...]:
    """The other times of every slot that waits for an answer, in order of slots and letters.

    `letters.choices` says how many times a slot may have in all. Each slot gets its first one before any its second.
    """
    most = grid.inputs.season.letters.choices - 1
    search = _Search(grid, agenda)
    waiting = [one for one in agenda.slots if not one.is_over and one.state in (PROPOSED, TENTATIVE)]
    for one in waiting:
        for told in search.told(one)[:most]:
            search.keep(one, told)
    for _ in range(most):
        for one in waiting:
            if not search.stands_as_told(one) and len(search.of(one)) < most:
                search.add(one)
    order = {(one.pair, one.label): place for place, one in enumerate(waiting)}
    return tuple(sorted(search.found, key=lambda one: (order[one.pair, one.instead_of], len(one.label), one.label)))


class _Search:
    """What is given away so far, and what is free beside it."""

    def __init__(self, grid: SlotGrid, agenda: Agenda) -> None:
        self.grid, self.agenda = grid, agenda
        self.calls = [station.call for station in grid.inputs.partners]
        self.found: list[Alternative] = []
        self.offers = {(one.partner, one.label): one for one in agenda.commitments.offers if not one.withdrawn}
        self.spent = {*agenda.commitments.spent, *((self.calls[one.pair], one.label) for one in agenda.slots)}
        self.pool = slots_on_offer(grid, agenda.commitments)
        self.ahead = [one for one in agenda.slots if not one.is_over]
        self.spans = spans_of(self.ahead)
        # Whose slot may come to lie on a night: none of them can be promised to more than it holds.
        self.claims: dict[int, set[tuple[int, str]]] = {}
        for one in agenda.slots:
            if one.outcome != RAINED:
                self.claims.setdefault(one.night, set()).add((one.pair, one.label))

    def of(self, one: Chosen) -> list[Alternative]:
        """What a slot has."""
        return [other for other in self.found if (other.pair, other.instead_of) == (one.pair, one.label)]

    def offer(self, one: Chosen) -> Offer | None:
        """What its partner was told of a slot."""
        return self.offers.get((self.calls[one.pair], one.label))

    def stands_as_told(self, one: Chosen) -> bool:
        """Whether its partner knows the slot at this very time: then nothing new is told about it."""
        offer = self.offer(one)
        return offer is not None and (minutes_of(offer.start_utc), minutes_of(offer.end_utc)) == (one.start, one.end)

    def told(self, one: Chosen) -> tuple[OfferedTime, ...]:
        """The other times that its last letter told."""
        offer = self.offer(one)
        return () if offer is None else offer.alternatives

    def keep(self, one: Chosen, told: OfferedTime) -> None:
        """A time that was told, where it may still stand."""
        times = minutes_of(told.start_utc), minutes_of(told.end_utc)
        slots = slot_as_told(self.grid, self.agenda.commitments, self.pool, one.pair, times)
        if self.is_free(one, slots).any():
            self.put(one, slots, told.label)

    def add(self, one: Chosen) -> None:
        """The best time that is free and as good, if there is one: another night of the agenda goes before its own."""
        slots = self.pool.take(np.flatnonzero(self.pool.pair == one.pair))
        loss = self.loss(one, slots)
        fit = np.flatnonzero(self.is_free(one, slots) & (loss <= LEAST_LOSS))
        if not fit.size:
            return
        mine = [other.night for other in self.of(one)]
        on_agenda, own = np.isin(slots.night, sorted(self.spans)), slots.night == one.night
        rank = np.select([np.isin(slots.night, mine), own, on_agenda], [3, 1, 0], 2)
        best = fit[np.lexsort((slots.start[fit], np.round(loss[fit] / SAME_LOSS), rank[fit]))[0]]
        self.put(one, slots.take(np.array([best])), "")

    def put(self, one: Chosen, slot: Candidates, label: str) -> None:
        """Give it away, under the letter that this partner knows for it or one never used."""
        call, times = self.calls[one.pair], (int(slot.start[0]), int(slot.end[0]))
        label = label or self.known_label(call, times) or next_label(call, self.spent)
        self.spent.add((call, label))
        self.found.append(Alternative(one.pair, one.operator, label, one.label, slot))
        self.claims.setdefault(int(slot.night[0]), set()).add((one.pair, one.label))

    def known_label(self, call: str, times: tuple[int, int]) -> str:
        """The letter under which this partner was told a time before; empty where it was not, or it has it in use."""
        told = [other for (partner, _), one in self.offers.items() if partner == call for other in one.all_alternatives]
        in_use: list[Chosen | Alternative] = [*self.ahead, *self.found]
        used = {one.label for one in in_use if self.calls[one.pair] == call}
        same = (one for one in told if (minutes_of(one.start_utc), minutes_of(one.end_utc)) == times)
        return next((one.label for one in same if one.label not in used), "")

    def is_free(self, one: Chosen, slots: Candidates) -> BoolArray:
        """Which slots nobody holds and no rule of the policy forbids, whoever takes which alternative, (n,)."""
        policy, me = self.grid.inputs.season.policy, (one.pair, one.label)
        given = tuple((other.start, other.end) for other in self.found)
        free = ~blocked(slots, (*self.agenda.busy, *given), policy.gap_minutes)
        nights = [int(night) for night in np.unique(slots.night)]
        open_nights = [night for night in nights if self.has_room(one, night, policy.maximum_slots_per_night)]
        # Two slots with one partner stay on nights of their own: who is not there, is not there for a night.
        others = {
            night
            for night, claims in self.claims.items()
            if any(pair == one.pair and (pair, label) != me for pair, label in claims)
        }
        free &= np.isin(slots.night, sorted(set(open_nights) - others))
        if policy.setup_within_hours:
            free &= minutes_outside(self.grid, slots.start, policy.setup_minutes.arrive) == 0.0
        return np.asarray(free)

    def has_room(self, one: Chosen, night: int, most: int) -> bool:
        """Whether one slot more may come to lie on a night; one not set up for only in place of the slot's own."""
        me, claims = (one.pair, one.label), self.claims.get(night, set())
        if night not in self.spans:
            return claims <= {me} and self.claims[one.night] == {me}
        # A night that may be given up for another stays its slot's alone.
        return len(claims | {me}) <= most and (night not in self.given_up or claims <= {me})

    @property
    def given_up(self) -> set[int]:
        """Nights of the agenda whose only slot may go to a night that is not set up for."""
        return {one.night for one in self.ahead if any(other.night not in self.spans for other in self.of(one))}

    def loss(self, one: Chosen, slots: Candidates) -> FloatArray:
        """Contacts that the slot's partner would bring less at each of these times, and what more hours cost, (n,)."""
        return self._contacts_less(one, slots) + self._hours_more(one, slots)

    def _contacts_less(self, one: Chosen, slots: Candidates) -> FloatArray:
        others = [s for s in self.ahead if (s.pair, s.operator) == (one.pair, one.operator) and s is not one]
        if self.grid.inputs.wishes[one.pair].contacts_wanted > 1 or not others:
            return np.asarray(float(one.slot.chance_met[0]) - slots.chance_met)
        rest = others[0].slot
        for other in others[1:]:
            rest = join(rest, other.slot)
        presence = float(one.slot.presence[0])
        after = chances_with_one_more(slots.success_clear, slots.night, rest.success_clear, rest.night, presence)
        return np.asarray(chance_of_one([one.slot, *(other.slot for other in others)]) - after)

    def _hours_more(self, one: Chosen, slots: Candidates) -> FloatArray:
        """What the hours on site cost more, in contacts, where a night must begin earlier or end later, (n,)."""
        policy = self.grid.inputs.season.policy
        arrive = policy.setup_minutes.arrive
        rest = spans_of(other for other in self.ahead if other is not one)
        first, last = (
            np.array([rest.get(int(night), (start, end))[edge] for night, start, end in _rows(slots)], dtype=float)
            for edge in (0, 1)
        )
        begin, end = np.minimum(first, slots.start), np.maximum(last, slots.end)
        after = end - begin + minutes_outside(self.grid, begin, arrive)
        alone = [int(night) not in rest for night in slots.night]
        before = np.where(alone, one.end - one.start, last - first)
        before = before + minutes_outside(self.grid, np.where(alone, float(one.start), first), arrive)
        return np.asarray(np.maximum(after - before, 0.0) * policy.hour_cost / 60.0)


def _rows(slots: Candidates) -> Sequence[tuple[int, int, int]]:
    return list(zip(slots.night.tolist(), slots.start.tolist(), slots.end.tolist(), strict=True))
