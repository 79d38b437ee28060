"""What the record holds an agenda to: slots agreed or set by hand, open offers, times refused; and what they break.

From the season's record. A slot agreed is kept even where the policy would forbid it now; it is said which rule it
breaks. Letters (A, B, ...) and UIDs last for life. A slot that is over is told and holds nothing any more.
"""

from __future__ import annotations

import datetime as dt
import string
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count, product

import numpy as np
import numpy.typing as npt

from pipeline.agenda.candidates import Candidates, OneSlot
from pipeline.agenda.notes import (
    Broken,
    HeldByStranger,
    KeptAsAgreed,
    Note,
    OutcomeMissing,
    OutsideNights,
    Rule,
    StillAgreed,
    TooManyNights,
    TooManySlots,
)
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.record.model import DECLINED, FIXED, MADE, RAINED, TENTATIVE, Answer, Offer
from pipeline.record.uid_key import random_part
from pipeline.windows.instants import instant_of_minute, minutes_of

PROPOSED, CONFIRMED = "proposed", "confirmed"
# What the agenda calls a slot of each state: one set by hand waits for its answer like any other.
STATE_WORDS = {FIXED: PROPOSED, DECLINED: PROPOSED, TENTATIVE: TENTATIVE, CONFIRMED: CONFIRMED}
# How a slot went of which nobody has said it: it lies before the date from which is planned.
PAST = "past"


@dataclass(frozen=True)
class Kept(OneSlot):
    """A slot that stays: its pair, operator, label and state; `slot` is one row.

    `outcome` is empty ahead of the slot, then that of the record, or `past` where it says nothing. Of an own proposal
    the partner named the time itself: it is there then, whatever hours its file has.
    """

    pair: int
    operator: str
    label: str
    state: str
    slot: Candidates
    outcome: str = field(default="", kw_only=True)
    is_own_proposal: bool = field(default=False, kw_only=True)

    @property
    def is_over(self) -> bool:
        """Whether it holds the dish no more."""
        return self.outcome != ""


@dataclass(frozen=True)
class Promised:
    """Another time that a letter told for a slot: pair, its own letter, start and end in minutes."""

    pair: int
    label: str
    start: int
    end: int


@dataclass(frozen=True)
class Commitments:
    """Slots kept; the dish's other engagements (start, end); refused times by pair; open offers; labels spent.

    Slots that are over are kept as well, to be told. `lost` are those that the weather took: each is asked for again
    under its letter. `promised` are other times that an open offer names; nobody else gets them.
    `worked` counts contacts by pair and operator.
    """

    kept: tuple[Kept, ...]
    busy: tuple[tuple[int, int], ...]
    refused: tuple[tuple[int, int, int], ...]
    open_offers: tuple[Offer, ...]
    offers: tuple[Offer, ...]
    spent: frozenset[tuple[str, str]]
    notes: tuple[Note, ...]
    lost: tuple[Kept, ...] = ()
    promised: tuple[Promised, ...] = ()
    worked: Mapping[tuple[int, str], int] = field(default_factory=dict)

    def wanted(self, grid: SlotGrid, pair: int, operator: str) -> int:
        """Contacts that an operator still wants with a partner."""
        return grid.inputs.wishes[pair].contacts_wanted - self.worked.get((pair, operator), 0)

    def pairs_wanted(self, grid: SlotGrid) -> npt.NDArray[np.bool_]:
        """Partners with whom anybody at home still wants a contact, (pairs,)."""
        pairs = range(len(grid.inputs.wishes))
        return np.array([any(self.wanted(grid, pair, one) > 0 for one in grid.operators) for pair in pairs], dtype=bool)


def make_commitments(grid: SlotGrid) -> Commitments:
    """The record as far as it concerns this period."""
    record = grid.inputs.record
    answers = [answer for answer in record.answers if _in_nights(grid, _start(answer))]
    outside = [answer for answer in record.answers if _at_the_edge(grid, _start(answer)) and not answer.outcome]
    concerned = tuple(offer for offer in record.offers if _concerns(grid, offer))
    spent = {(offer.partner, offer.label) for offer in concerned} | {
        (answer.partner, answer.label) for answer in answers
    }
    spent |= {(offer.partner, one.label) for offer in concerned for one in offer.all_alternatives}
    # An answer settles its offer, also where another plan holds the slot: it is neither moved nor withdrawn here.
    offers = tuple(one for one in concerned if not any(_settles(grid, answer, one) for answer in outside))
    refused = [answer for answer in answers if answer.state == DECLINED and not answer.outcome]
    held = [answer for answer in answers if answer.state != DECLINED or answer.outcome]
    beyond = [answer for answer in outside if answer.state != DECLINED]
    kept: list[Kept] = []
    lost: list[Kept] = []
    busy = [(_start(answer), _end(grid, answer)) for answer in beyond]
    notes: list[Note] = [_outside(grid, answer) for answer in beyond]
    for answer in held:
        pair, times = grid.pair_of(answer.partner), (_start(answer), _end(grid, answer))
        outcome = answer.outcome or (PAST if grid.is_past(times[0]) else "")
        if pair is None:
            if not outcome:
                busy.append(times)
                notes.append(HeldByStranger(answer.partner, _local(grid, _start(answer))))
            continue
        label = answer.label or _label_of(answer, offers) or next_label(answer.partner, spent)
        spent.add((answer.partner, label))
        slot = grid.slots_at(pair, [times])
        state, own = STATE_WORDS[answer.state], answer.is_own_proposal
        one = Kept(pair, answer.operator, label, state, slot, outcome=outcome, is_own_proposal=own)
        (lost if outcome == RAINED else kept).append(one)
    worked = Counter((one.pair, one.operator) for one in kept if one.outcome == MADE)
    kept = [one for one in kept if not _falls_away(grid, one, offers, worked)]
    taken = {(grid.inputs.partners[one.pair].call, one.label) for one in (*kept, *lost)}
    return Commitments(
        kept=tuple(kept),
        busy=(*busy, *((one.start, one.end) for one in kept if not one.is_over)),
        refused=tuple(
            (pair, _start(answer), _end(grid, answer))
            for answer in refused
            if (pair := grid.pair_of(answer.partner)) is not None
        ),
        open_offers=tuple(
            one
            for one in offers
            if not one.withdrawn
            and (one.partner, one.label) not in taken
            and not any(answer.is_about(one.partner, one.label, one.start_utc) for answer in refused)
            and not grid.is_past(minutes_of(one.start_utc))
        ),
        offers=offers,
        spent=frozenset(spent),
        notes=(*notes, *_of_the_past(grid, kept, worked), *_broken_rules(grid, kept)),
        lost=_to_ask_again(grid, kept, lost, refused),
        promised=_promised(grid, offers, answers),
        worked=worked,
    )


def _falls_away(grid: SlotGrid, one: Kept, offers: Sequence[Offer], worked: Mapping[tuple[int, str], int]) -> bool:
    """Whether a slot was told to be there only if another fails, and all contacts that were wanted are made."""
    if one.is_over or not _is_worked(grid, one, worked):
        return False
    call = grid.inputs.partners[one.pair].call
    told = [offer.told for offer in offers if (offer.partner, offer.label) == (call, one.label)]
    return any(each is not None and each.only_if for each in told)


def _is_worked(grid: SlotGrid, one: Kept, worked: Mapping[tuple[int, str], int]) -> bool:
    """Whether the contacts that a slot's operator wants with its partner are made."""
    return 0 < grid.inputs.wishes[one.pair].contacts_wanted <= worked.get((one.pair, one.operator), 0)


def _promised(grid: SlotGrid, offers: Sequence[Offer], answers: Sequence[Answer]) -> tuple[Promised, ...]:
    """Other times that stand in the last letters, as many as the season allows, of slots that nobody settled yet."""
    most, found = grid.inputs.season.letters.choices - 1, []
    for offer in offers:
        pair = grid.pair_of(offer.partner)
        said = [one for one in answers if one.is_about(offer.partner, offer.label, offer.start_utc)]
        settled = any(one.outcome or one.state in (DECLINED, CONFIRMED) for one in said)
        if pair is None or offer.withdrawn or settled or not grid.inputs.wishes[pair].contacts_wanted:
            continue
        times = [(one.label, minutes_of(one.start_utc), minutes_of(one.end_utc)) for one in offer.alternatives[:most]]
        found += [Promised(pair, label, start, end) for label, start, end in times if not grid.is_past(start)]
    return tuple(found)


def _to_ask_again(
    grid: SlotGrid, kept: Sequence[Kept], lost: Sequence[Kept], refused: Sequence[Answer]
) -> tuple[Kept, ...]:
    """Of the slots that the weather took those under whose letter nothing came after."""
    later = {(one.pair, one.label) for one in kept}
    last = {(one.pair, one.label): one for one in sorted(lost, key=lambda one: one.start)}
    calls = [station.call for station in grid.inputs.partners]
    return tuple(
        one
        for key, one in last.items()
        if key not in later
        and not any(line.is_about(calls[one.pair], one.label, instant_of_minute(one.start)) for line in refused)
    )


def _of_the_past(grid: SlotGrid, kept: Sequence[Kept], worked: Mapping[tuple[int, str], int]) -> list[Note]:
    """Slots of which nobody has said how they went, and slots still agreed with someone who is worked."""
    notes: list[Note] = []
    for one in kept:
        call, when = grid.inputs.partners[one.pair].call, _local(grid, one.start)
        if one.outcome == PAST:
            notes.append(OutcomeMissing(call, one.label, when))
        elif not one.is_over and _is_worked(grid, one, worked):
            notes.append(StillAgreed(call, one.label, when))
    return notes


# Where our identifiers live: a place that is sure not to exist (RFC 2606).
DOMAIN = "mutual-moon.invalid"


def identifier(name: str) -> str:
    """A name as an identifier that other calendars keep."""
    return f"{name.lower().replace('/', '-')}@{DOMAIN}"


def uid_of(grid: SlotGrid, pair: int, label: str) -> str:
    """The identifier of a slot: of home, partner, band, period and letter, never of the time."""
    home, partner = grid.inputs.home.call, grid.inputs.partners[pair].call
    name = f"{home}-{partner}-{grid.band_of(pair)}-{grid.period.name}-{label}"
    return slot_identifier(name, grid.inputs.record.uid_key)


def slot_identifier(name: str, key: str) -> str:
    """A slot's name as its identifier: with the record's random part, where it has one."""
    plain = identifier(name).partition("@")[0]
    return identifier(f"{plain}-{random_part(key, plain)}" if key else plain)


def next_label(call: str, spent: set[tuple[str, str]] | frozenset[tuple[str, str]]) -> str:
    """The first letter (then two) that this partner was never given."""
    return next(label for label in _labels() if (call, label) not in spent)


def _labels() -> Iterator[str]:
    for length in count(1):
        yield from map("".join, product(string.ascii_uppercase, repeat=length))


def blocked(candidates: Candidates, busy: tuple[tuple[int, int], ...], gap: int) -> npt.NDArray[np.bool_]:
    """Slots that would come within the gap of another engagement of the dish, (n,); `busy` and `gap` in minutes."""
    found = np.zeros(candidates.start.size, dtype=bool)
    for start, end in busy:
        found |= (candidates.start < end + gap) & (candidates.end + gap > start)
    return found


def promised_to_others(candidates: Candidates, promised: Sequence[Promised], gap: int) -> npt.NDArray[np.bool_]:
    """Slots that come within the gap of a time promised to somebody else, (n,)."""
    found = np.zeros(candidates.start.size, dtype=bool)
    for one in promised:
        near = (candidates.start < one.end + gap) & (candidates.end + gap > one.start)
        found |= (candidates.pair != one.pair) & near
    return found


def refused_times(candidates: Candidates, refused: tuple[tuple[int, int, int], ...]) -> npt.NDArray[np.bool_]:
    """Slots that touch a time their partner has refused, (n,); `refused` holds pair, start and end in minutes."""
    found = np.zeros(candidates.start.size, dtype=bool)
    for pair, start, end in refused:
        found |= (candidates.pair == pair) & (candidates.start < end) & (candidates.end > start)
    return found


def _start(answer: Answer) -> int:
    return minutes_of(answer.start_utc)


def _end(grid: SlotGrid, answer: Answer) -> int:
    length = grid.inputs.season.policy.slot_minutes.most
    return _start(answer) + length if answer.end_utc is None else minutes_of(answer.end_utc)


def _in_nights(grid: SlotGrid, minute: int) -> bool:
    return 0 <= grid.night_of(minute) < len(grid.period.dates)


def _at_the_edge(grid: SlotGrid, minute: int) -> bool:
    """Outside the nights, yet between noon of the plan's first date and noon after its last, where one looks for it."""
    return grid.period.holds(instant_of_minute(minute)) and not _in_nights(grid, minute)


def _outside(grid: SlotGrid, answer: Answer) -> OutsideNights:
    early = grid.night_of(_start(answer)) < 0
    return OutsideNights(answer.partner, answer.label, _local(grid, _start(answer)), early)


def _settles(grid: SlotGrid, answer: Answer, offer: Offer) -> bool:
    """Whether a line of the record outside the nights answers an offer that lies there as well."""
    about = answer.is_about(offer.partner, offer.label, offer.start_utc)
    return about and not _in_nights(grid, minutes_of(offer.start_utc))


def _concerns(grid: SlotGrid, offer: Offer) -> bool:
    """Whether an offer is of this home and period: by its identifier, or by its time."""
    home = grid.inputs.home.call.lower().replace("/", "-")
    named = offer.uid.startswith(f"{home}-") and f"-{grid.period.name}-" in offer.uid
    return named or _in_nights(grid, minutes_of(offer.start_utc))


def _label_of(answer: Answer, offers: tuple[Offer, ...]) -> str:
    """The letter under which what is answered was offered; empty where it was not."""
    return next((one.label for one in offers if answer.is_about(one.partner, one.label, one.start_utc)), "")


def _local(grid: SlotGrid, minute: int) -> dt.datetime:
    return instant_of_minute(minute).astimezone(grid.period.zone)


def _broken_rules(grid: SlotGrid, kept: list[Kept]) -> list[Note]:
    """Each kept slot that the policy would not choose now, and what they take in all beyond it."""
    policy = grid.inputs.season.policy
    notes: list[Note] = []
    trips = {one.night for one in kept}
    # What is over is not judged any more; its night counts as a trip that was made.
    kept = [one for one in kept if not one.is_over]
    for place, one in enumerate(kept):
        call = grid.inputs.partners[one.pair].call
        broken = rules_broken_by(grid, one)
        for other in (other for other in kept[:place] if _too_close(one, other, policy.gap_minutes)):
            over = one.start < other.end and one.end > other.start
            who = grid.inputs.partners[other.pair].call
            broken.append(Broken(Rule.OVERLAP if over else Rule.GAP, who, other.label))
        if broken:
            notes.append(KeptAsAgreed(call, one.label, _local(grid, one.start), tuple(broken)))
    nights = {one.night for one in kept}
    if nights and len(trips) > policy.maximum_nights:
        notes.append(TooManyNights(len(trips), policy.maximum_nights))
    for night in sorted(nights):
        held = sum(one.night == night for one in kept)
        if held > policy.maximum_slots_per_night:
            notes.append(TooManySlots(grid.period.dates[night], held, policy.maximum_slots_per_night))
    return notes


def _too_close(one: Kept, other: Kept, gap: int) -> bool:
    return one.start < other.end + gap and one.end + gap > other.start


def rules_broken_by(grid: SlotGrid, one: Kept) -> list[Broken]:
    """Which rules a slot breaks by itself, whatever else holds the dish."""
    rows = grid.rows_of(one.pair, one.start, one.end)
    call, minutes = grid.inputs.partners[one.pair].call, grid.minutes
    broken = [] if one.operator in grid.operators else [Broken(Rule.NOT_OUR_OPERATOR, one.operator)]
    if not rows.size:
        return [*broken, Broken(Rule.MOON_DOWN)]
    if rows.size < one.end - one.start:
        broken.append(Broken(Rule.MOON_DOWN_IN_PART))
    if not minutes.home[rows].all():
        broken.append(Broken(Rule.HOME_HOURS))
    if not (minutes.partner[rows].all() or one.is_own_proposal):
        broken.append(Broken(Rule.PARTNER_HOURS, call))
    if not minutes.sun[rows].all():
        broken.append(Broken(Rule.SUN))
    if float(one.slot.chance[0]) < grid.least_chance:
        broken.append(Broken(Rule.CHANCE))
    return broken
