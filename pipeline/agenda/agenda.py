"""The agenda: which slot for whom, chosen exactly under the season's policy, steady against what was agreed before.

From the slot grid (windows, hours, chances) and the record. In this order: what was agreed stays; as few open offers
move as can be; then the worth, priority times the chance of each partner and operator less what nights and hours on
site cost, is greatest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from pipeline.agenda import hours
from pipeline.agenda.candidates import GRID_MINUTES, Candidates
from pipeline.agenda.commitments import (
    PAST,
    PROPOSED,
    Commitments,
    Kept,
    blocked,
    make_commitments,
    next_label,
    promised_to_others,
    refused_times,
)
from pipeline.agenda.joint import chance_together, chances_of_pairs, chances_with_one_more
from pipeline.agenda.milp_model import NEVER, Demand, Problem
from pipeline.agenda.milp_solve import Choice, choose
from pipeline.agenda.notes import AskedAgain, KeptAsTold, Note, OfferMoved, OfferWithdrawn, Proof, Ties
from pipeline.agenda.site_hours import site_hours
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.agenda.ties import second_criterion
from pipeline.pairs.assumed import presence_of
from pipeline.record.model import RAINED, TENTATIVE, Offer
from pipeline.windows.instants import instant_of_minute, minutes_of

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Where one contact is wanted, with one partner and operator; who wants more gets a slot for each.
MOST_SLOTS = 2
# A second slot with somebody must better the chance by this much (judgement): less is not worth their evening.
LEAST_GAIN = 0.05
# And by this much on a night on which they have said no to another time beside the one that is agreed (judgement).
LEAST_GAIN_AFTER_NO = 0.25
# A slot that was told keeps its time where so few minutes of it lose the Moon, less than the step in which slots lie,
# and a move by just these brings no more than LEAST_GAIN: that is not worth a mail and a new calendar (judgement).
MOST_MINUTES_SHORT = GRID_MINUTES - 1


@dataclass(frozen=True)
class Chosen(Kept):
    """One slot of the agenda; `uid` is empty where none was sent yet."""

    uid: str = ""


@dataclass(frozen=True)
class Agenda:
    """Slots in order of time, what the record held them to, the pool they came from, and how the choice went."""

    slots: tuple[Chosen, ...]
    commitments: Commitments
    pool: Candidates
    choice: Choice
    withdrawn: tuple[Offer, ...]
    notes: tuple[Note, ...]

    @property
    def nights(self) -> set[int]:
        """Nights in use, also those that are over; one that the weather took was not used."""
        return {one.night for one in self.slots if one.outcome != RAINED}

    @property
    def busy(self) -> tuple[tuple[int, int], ...]:
        """Every engagement of the dish."""
        return tuple(sorted({*self.commitments.busy, *((one.start, one.end) for one in self.slots if not one.is_over)}))


def make_agenda(grid: SlotGrid, bounded: bool = True) -> Agenda:
    """The agenda of a period; with a bound on how good a large one is, where asked for."""
    held = make_commitments(grid)
    pool = slots_on_offer(grid, held)
    pool, offers = _with_open_offers(grid, held, pool)
    problem, people = make_problem(grid, held, pool, offers)
    choice = choose(problem, bounded=bounded)
    new = [(people[number], pool.take(np.array([slot]))) for number, slot in choice.taken]
    slots, withdrawn = _labelled(grid, held, new)
    return Agenda(slots, held, pool, choice, withdrawn, _notes(grid, held, choice, slots, withdrawn))


def proposed(people: Sequence[tuple[int, str]], pool: Candidates, taken: Sequence[tuple[int, int]]) -> tuple[Kept, ...]:
    """The (demand, slot) of a choice as slots without a letter; `people` as from `make_problem`."""
    return tuple(Kept(*people[number], "", PROPOSED, pool.take(np.array([slot]))) for number, slot in taken)


def one_night_more(grid: SlotGrid, agenda: Agenda, night: int) -> tuple[Problem, list[tuple[int, str]], Candidates]:
    """The agenda taken as agreed, one night to choose from for nothing: problem, people of its demands, and pool."""
    held = replace(agenda.commitments, kept=agenda.slots, busy=agenda.busy)
    pool = agenda.pool.take(np.flatnonzero(agenda.pool.night == night))
    problem, people = make_problem(grid, held, pool, {})
    here = np.arange(problem.room.size) == night
    return replace(problem, room=np.where(here, problem.room, 0), open_nights=here, most_nights=0), people, pool


def held_by_nobody() -> Commitments:
    """No commitment at all: what a record says plays no part."""
    return Commitments((), (), (), (), (), frozenset(), ())


def slots_on_offer(grid: SlotGrid, held: Commitments, pool: Candidates | None = None) -> Candidates:
    """Slots good enough to propose: at least marginal, wanted, not refused, clear of what is agreed."""
    slots = grid.slots if pool is None else pool
    wanted = held.pairs_wanted(grid)
    fit = wanted[slots.pair] & (slots.chance >= grid.least_chance) if slots.pair.size else np.zeros(0, dtype=bool)
    fit &= ~blocked(slots, held.busy, grid.inputs.season.policy.gap_minutes)
    fit &= ~refused_times(slots, held.refused)
    fit &= ~promised_to_others(slots, held.promised, grid.inputs.season.policy.gap_minutes)
    return slots if fit.all() else slots.take(np.flatnonzero(fit))


def _with_open_offers(
    grid: SlotGrid, held: Commitments, pool: Candidates
) -> tuple[Candidates, dict[tuple[int, str, int], Offer]]:
    """The pool with the slots of open offers that may still stand, and those offers by pair, operator and slot."""
    offers: dict[tuple[int, str, int], Offer] = {}
    for offer in held.open_offers:
        pair, times = grid.pair_of(offer.partner), tuple(map(minutes_of, (offer.start_utc, offer.end_utc)))
        if pair is None or offer.operator not in grid.operators:
            continue
        if any(times[0] < end and times[1] > start for start, end in grid.operators_taken.get(offer.operator, ())):
            continue
        told = slot_as_told(grid, held, pool, pair, (times[0], times[1]))
        if not told.start.size:
            continue
        same = np.flatnonzero((pool.pair == pair) & (pool.start == times[0]) & (pool.end == times[1]))
        if not same.size:
            same = np.array([pool.start.size])
            pool = join(pool, told)
        offers[pair, offer.operator, int(same[0])] = offer
    return pool, offers


def slot_as_told(grid: SlotGrid, held: Commitments, pool: Candidates, pair: int, times: tuple[int, int]) -> Candidates:
    """A slot at the time that its partner was told, one row; none where it cannot stay there.

    The Moon may be missing for a few minutes of it as long as a move by just these gains little.
    """
    start, end = times
    same = np.flatnonzero((pool.pair == pair) & (pool.start == start) & (pool.end == end))
    if same.size:
        return pool.take(same[:1])
    edges = (0, 0) if grid.stands(pair, start, end) else grid.without_moon(pair, start, end)
    if edges is None or sum(edges) > min(MOST_MINUTES_SHORT, end - start - grid.least[pair]):
        return pool.take(same)
    told = slots_on_offer(grid, held, grid.slots_at(pair, [times]))
    by = edges[0] - edges[1]
    if by and told.start.size:
        moved = grid.slots_at(pair, [(start + by, end + by)])
        if moved.chance_met[0] - told.chance_met[0] > LEAST_GAIN:
            return pool.take(same)
    return told


def join(one: Candidates, other: Candidates) -> Candidates:
    """Both, in this order."""
    names = ("pair", "window", "night", "start", "end", "chance", "success", "presence", "clear")
    return Candidates(**{name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in names})


def make_problem(
    grid: SlotGrid,
    held: Commitments,
    pool: Candidates,
    offers: dict[tuple[int, str, int], Offer],
    more_nights: int = 0,
    more_slots: int = 0,
    ties: bool = True,
) -> tuple[Problem, list[tuple[int, str]]]:
    """What is to be chosen from, and the pair and operator of each demand; with more nights or slots than allowed.

    Without `ties` nothing is worked out that settles them.
    """
    policy, dates = grid.inputs.season.policy, len(grid.period.dates)
    people = [(pair, operator) for pair in range(len(grid.inputs.partners)) for operator in grid.operators]
    demands, keep = [], set()
    for number, (pair, operator) in enumerate(people):
        # What was tried without a contact leaves all to be asked; what nobody has told counts at its chance.
        mine = [one for one in held.kept if (one.pair, one.operator) == (pair, operator) and one.outcome in ("", PAST)]
        taken = grid.operators_taken.get(operator, ())
        rows = np.flatnonzero((pool.pair == pair) & ~blocked(pool, taken, 0))
        kept = {slot for (p, o, slot) in offers if (p, o) == (pair, operator)}
        keep |= {(number, slot) for slot in kept}
        wanted = held.wanted(grid, pair, operator)
        rows = rows if wanted > 0 else rows[:0]
        if wanted == 1 and mine:
            rows = rows[_is_worth_asking(grid, held, pool.take(rows), mine) | np.isin(rows, sorted(kept))]
        stays = np.isin(rows, sorted(kept)) if kept else np.zeros(rows.size, dtype=bool)
        demands.append(_demand(grid, pair, pool.take(rows), rows, mine, stays, wanted))
    # Nights of what is agreed are in use whatever is chosen, and their slots are taken from the night's number.
    used = np.zeros(dates, dtype=np.int64)
    for one in held.kept:
        used[one.night] += 1
    return (
        Problem(
            start=pool.start,
            busy_until=pool.end + policy.gap_minutes,
            night=pool.night,
            demands=tuple(demands),
            night_cost=policy.night_cost,
            room=np.maximum(policy.maximum_slots_per_night + more_slots - used, 0),
            open_nights=used > 0,
            most_nights=max(0, policy.maximum_nights + more_nights - int((used > 0).sum())),
            keep=frozenset(keep),
            second=second_criterion(grid, pool) if ties else None,
            hours=site_hours(grid, held, pool),
        ),
        people,
    )


def _demand(
    grid: SlotGrid,
    pair: int,
    slots: Candidates,
    rows: IntArray,
    mine: Sequence[Kept],
    kept: npt.NDArray[np.bool_],
    wanted: int,
) -> Demand:
    """What slots with one partner and operator are worth, given those agreed already and the contacts wanted still."""
    wish, gap = grid.inputs.wishes[pair], grid.inputs.season.policy.gap_minutes
    if not rows.size:
        return Demand(rows, np.zeros(0), None, 0)
    if wanted > 1:
        return Demand(rows, wish.priority * slots.chance_met, None, max(0, wanted - len(mine)))
    left = MOST_SLOTS - len(mine)
    success, presence = slots.success_clear, presence_of(grid.inputs, pair)
    alone = _gains(grid, pair, slots, mine) if mine else slots.chance_met
    if left < 2:
        worth = np.where((alone >= LEAST_GAIN) | kept | (not mine), alone, 0.0)
        most = int(left > 0 and bool((worth > 0.0).any()))
        fit = worth > 0.0 if mine else np.ones(worth.size, dtype=bool)
        return Demand(rows[fit], wish.priority * worth[fit], None, most)
    together = chances_of_pairs(success, slots.night, presence)
    better = together - np.maximum(alone[:, None], alone[None]) >= LEAST_GAIN
    clash = (slots.start[:, None] < slots.end[None] + gap) & (slots.start[None] < slots.end[:, None] + gap)
    told = kept[:, None] & kept[None]
    # To a letter that is out, and may still be answered, nothing is added: what was told stays or moves.
    allowed = (told if kept.any() else better) & ~clash
    return Demand(rows, wish.priority * alone, np.where(allowed, wish.priority * together, NEVER), 1)


def _is_worth_asking(
    grid: SlotGrid, held: Commitments, slots: Candidates, mine: Sequence[Kept]
) -> npt.NDArray[np.bool_]:
    """Which slots of one partner are worth another question, (n,).

    Those after the slot agreed, which would else stand for the case alone that the new one fails (a perhaps is not
    agreed yet); and none in a night of which a slot was refused and another agreed. But one that brings much is always.
    """
    pair, agreed_until = mine[0].pair, max((one.end for one in mine if one.state != TENTATIVE), default=0)
    refused = {grid.night_of(start) for one, start, _ in held.refused if one == pair}
    nights = sorted(refused & {one.night for one in mine})
    brings_much = _gains(grid, pair, slots, mine) >= LEAST_GAIN_AFTER_NO
    return brings_much | (~np.isin(slots.night, nights) & (slots.start >= agreed_until))


def _gains(grid: SlotGrid, pair: int, slots: Candidates, mine: Sequence[Kept]) -> FloatArray:
    """What a further slot adds to those agreed, in contacts, (n,)."""
    presence = presence_of(grid.inputs, pair)
    agreed = np.concatenate([one.slot.success_clear for one in mine])
    nights = np.array([one.night for one in mine], dtype=np.int64)
    before = chance_together(agreed, nights, presence)
    return chances_with_one_more(slots.success_clear, slots.night, agreed, nights, presence) - before


def _labelled(
    grid: SlotGrid, held: Commitments, new: Sequence[tuple[tuple[int, str], Candidates]]
) -> tuple[tuple[Chosen, ...], tuple[Offer, ...]]:
    """Letters and identifiers: an offer that stays or moves keeps both; the rest get letters never used before."""
    spent = set(held.spent)
    uids = {(offer.partner, offer.label): offer.uid for offer in held.offers}
    calls = [station.call for station in grid.inputs.partners]
    left = [*(_offer_of(one, calls[one.pair], uids) for one in held.lost), *held.open_offers]
    found = [_told(one, calls[one.pair], uids) for one in held.kept]
    waiting = []
    for (pair, operator), slot in sorted(new, key=lambda one: int(one[1].start[0])):
        times = (int(slot.start[0]), int(slot.end[0]))
        same = next((o for o in left if _of(o, calls[pair], operator) and _times(o) == times), None)
        if same is None:
            waiting.append((pair, operator, slot))
            continue
        left.remove(same)
        found.append(Chosen(pair, operator, same.label, PROPOSED, slot, same.uid))
    for pair, operator, slot in waiting:
        moved = next((o for o in left if _of(o, calls[pair], operator)), None)
        if moved is not None:
            left.remove(moved)
            found.append(Chosen(pair, operator, moved.label, PROPOSED, slot, moved.uid))
            continue
        label = next_label(calls[pair], spent)
        spent.add((calls[pair], label))
        found.append(Chosen(pair, operator, label, PROPOSED, slot))
    kept = {(calls[one.pair], one.label) for one in found}
    found += [_told(one, calls[one.pair], uids) for one in held.lost if (calls[one.pair], one.label) not in kept]
    withdrawn = tuple(
        o
        for o in held.offers
        if (o.partner, o.label) not in kept and not o.withdrawn and not grid.is_past(minutes_of(o.start_utc))
    )
    return tuple(sorted(found, key=lambda one: (one.start, one.pair, one.label))), withdrawn


def _told(one: Kept, call: str, uids: Mapping[tuple[str, str], str]) -> Chosen:
    """A slot of the record as one of the agenda."""
    uid = uids.get((call, one.label), "")
    return Chosen(one.pair, one.operator, one.label, one.state, one.slot, uid, outcome=one.outcome)


def _offer_of(one: Kept, call: str, uids: Mapping[tuple[str, str], str]) -> Offer:
    """A slot that the weather took as an offer that must move."""
    edges = instant_of_minute(one.start), instant_of_minute(one.end)
    return Offer(uids.get((call, one.label), ""), call, one.operator, one.label, *edges, 0, False)


def _of(offer: Offer, call: str, operator: str) -> bool:
    return offer.partner == call and offer.operator == operator


def _times(offer: Offer) -> tuple[int, int]:
    return minutes_of(offer.start_utc), minutes_of(offer.end_utc)


def _notes(
    grid: SlotGrid, held: Commitments, choice: Choice, slots: Sequence[Chosen], withdrawn: Sequence[Offer]
) -> tuple[Note, ...]:
    """How good the agenda is proven to be, what settled ties, what moved, what was assumed, what breaks a rule."""
    calls = [station.call for station in grid.inputs.partners]
    stay = {(calls[s.pair], s.label): (s.start, s.end) for s in slots}
    ahead = {(s.pair, s.label): s.start for s in slots if not s.is_over}
    again = [(calls[one.pair], one.label, ahead.get((one.pair, one.label))) for one in held.lost]
    moved = [o for o in held.open_offers if stay.get((o.partner, o.label), _times(o)) != _times(o)]
    stations = (grid.inputs.home, *grid.inputs.partners)
    return (
        Proof(max(choice.gap, 0.0), at_sites=bool(grid.inputs.sites)),
        Ties(),
        *(OfferMoved(one.partner, one.label) for one in moved),
        *_kept_as_told(grid, held, slots),
        *(
            AskedAgain(call, label, None if start is None else instant_of_minute(start).astimezone(grid.period.zone))
            for call, label, start in again
        ),
        *(OfferWithdrawn(one.partner, one.label) for one in withdrawn if one in held.open_offers),
        *held.notes,
        *(note for one in stations if (note := hours.hours_assumed(one)) is not None),
    )


def _kept_as_told(grid: SlotGrid, held: Commitments, slots: Sequence[Chosen]) -> list[KeptAsTold]:
    """Open offers that stay at their time although the Moon is not there for all of it."""
    told, notes = {(one.partner, one.label) for one in held.open_offers}, []
    for one in slots:
        call = grid.inputs.partners[one.pair].call
        if (call, one.label) in told and not grid.stands(one.pair, one.start, one.end):
            when = instant_of_minute(one.start).astimezone(grid.period.zone)
            edges = grid.without_moon(one.pair, one.start, one.end) or (0, 0)
            notes.append(KeptAsTold(call, one.label, when, sum(edges)))
    return notes
