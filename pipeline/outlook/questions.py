"""What is worth asking a partner: of all that its file leaves assumed, that whose answer would change most goes first.

From slot grid and agenda. Each thing is tried at two plausible values, one in ten beyond either of them; what lies
between the two, in contacts to expect, is what an answer is worth. Nothing of any other partner bears on it.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from pipeline.absence.changes import assumed_one_by_one
from pipeline.absence.counterfactuals import Trials, best_few
from pipeline.agenda import hours
from pipeline.agenda.agenda import Agenda, Chosen, join
from pipeline.agenda.candidates import LOOKS, Candidates, apparent_deg, with_chances
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.bands import band_table
from pipeline.inputs.model import WEEKDAYS, Hours
from pipeline.pairs.assumed import NINE_IN_TEN, RECEIVE, TRANSMIT, assumed_figures, skyline_is_assumed
from pipeline.pairs.corrections import sides_learnt_of
from pipeline.pairs.equipment import beam_of, pair_frequency_mhz
from pipeline.pairs.measured import measured_correction
from pipeline.record.inputs import Inputs
from pipeline.record.model import CONFIRMED

FloatArray = npt.NDArray[np.float64]

# An answer that moves fewer contacts is not worth a question (judgement).
LEAST_CONTACTS = 0.02
# The hours of somebody who works by day and sleeps before midnight (judgement): the narrow end of what is plausible.
NARROW_HOURS = (
    Hours(WEEKDAYS[:5], dt.time(18, 0), dt.time(23, 0)),
    Hours(WEEKDAYS[5:], dt.time(9, 0), dt.time(23, 0)),
)


class Thing(Enum):
    """What may be asked; the value is the word by which `answer` takes it, but for an antenna, which has two."""

    SKY = "sky"
    HOURS = "hours"
    POWER = "power_w"
    ANTENNA = "antenna"
    NOISE = "noise_figure_db"
    LOSS = "loss_before_preamplifier_db"


@dataclass(frozen=True)
class Question:
    """A thing that a file leaves assumed, and by how many contacts its answer may move what is to be expected."""

    thing: Thing
    contacts: float


def questions_for_partners(grid: SlotGrid, agenda: Agenda) -> tuple[tuple[Question, ...], ...]:
    """The questions to each partner, the decisive one first; none where nothing is assumed or nothing would change."""
    found = []
    for pair in range(len(grid.inputs.partners)):
        is_wanted = agenda.commitments.pairs_wanted(grid)[pair]
        own = tuple(one for one in agenda.slots if one.pair == pair and not one.is_over and one.slot.window[0] >= 0)
        found.append(_ranked(_Case(grid, agenda, pair, own)) if is_wanted or own else ())
    return tuple(found)


def _ranked(case: _Case) -> tuple[Question, ...]:
    values = [Question(thing, case.worth(thing)) for thing in case.assumed]
    worth_it = [one for one in values if one.contacts >= LEAST_CONTACTS]
    return tuple(sorted(worth_it, key=lambda one: -round(one.contacts, 6)))


@dataclass(frozen=True)
class _Case:
    """One partner: its slots ahead (`own`), and, where it has none, the best places that it could have."""

    grid: SlotGrid
    agenda: Agenda
    pair: int
    own: tuple[Chosen, ...]

    @property
    def assumed(self) -> list[Thing]:
        """What its file leaves open; equipment only where no log and no reading has told of it."""
        inputs, band = self.grid.inputs, self.grid.band_of(self.pair)
        station = inputs.partners[self.pair]
        things = [Thing.SKY] if skyline_is_assumed(station) else []
        if station.available is None:
            things.append(Thing.HOURS)
        if sides_learnt_of(inputs, station.call, band) or measured_correction(inputs, station.call, band):
            return things
        return [*things, *map(Thing, assumed_figures(station, band))]

    @property
    def places(self) -> Candidates:
        """Its slots as they are planned; without one every place of its own."""
        if not self.own:
            slots = self.grid.slots
            return slots.take(np.flatnonzero(slots.pair == self.pair))
        found = self.own[0].slot
        for one in self.own[1:]:
            found = join(found, one.slot)
        return found

    def worth(self, thing: Thing) -> float:
        """Contacts to expect between the plausible ends of a thing."""
        if thing is Thing.SKY:
            return self._by_sky()
        return self._by_hours() if thing is Thing.HOURS else self._by_figure(thing)

    def _contacts(self, places: Candidates, stands: npt.NDArray[np.bool_]) -> float:
        """Contacts to expect of its slots that stand, (n,); without a slot those of the best place that would do."""
        if self.own:
            slots = [
                dataclasses.replace(one, slot=places.take(np.array([row])))
                for row, one in enumerate(self.own)
                if stands[row]
            ]
            return contacts_of(slots, self.grid.inputs.wishes)
        fit = stands & (places.chance >= self.grid.least_chance)
        return float(places.chance_met[fit].max(initial=0.0))

    def _by_figure(self, thing: Thing) -> float:
        """With the figure known, at either end of what it may be."""
        band, name = self.grid.band_of(self.pair), thing.value
        level_db = NINE_IN_TEN * band_table()[band].doubt_db[name]
        ends = [end for end, names in (("home", TRANSMIT), ("partner", RECEIVE)) if name in names]
        inputs = _with_stated(self.grid.inputs, self.pair, f"bands.{band}.{name}")
        places = self.places if self.own else best_few(self.places)
        raw = {key: getattr(places, key) for key in ("pair", "window", "night", "start", "end")}
        stands = np.ones(places.start.size, dtype=bool)
        low, high = (
            self._contacts(
                with_chances(inputs, self.grid.modes, self.grid.track, raw, dict.fromkeys(ends, sign * level_db)),
                stands,
            )
            for sign in (-1.0, 1.0)
        )
        return high - low

    def _by_sky(self) -> float:
        """Under a low and under a high skyline: what the Moon is not clear of is lost, nothing else is in doubt."""
        places, assumed = self.places, self.grid.inputs.season.policy.assumed_skyline
        known = dataclasses.replace(places, clear=np.ones(places.start.size))
        above = self._above_deg(places)
        high, low = assumed.nine_in_ten_deg, assumed.median_deg**2 / assumed.nine_in_ten_deg
        return self._contacts(known, above >= low) - self._contacts(known, above >= high)

    def _above_deg(self, places: Candidates) -> FloatArray:
        """The least elevation in each place at the partner, (n,), less half a beam, degrees."""
        inputs, samples, band = self.grid.inputs, self.grid.samples, self.grid.band_of(self.pair)
        station = inputs.partners[self.pair]
        rows = np.flatnonzero(samples["partner"].to_numpy() == station.call)
        every = np.zeros(len(samples))
        every[rows] = apparent_deg(samples, "partner", rows)
        looks = np.linspace(places.start, places.end, LOOKS)
        least = self.grid.track.at(every, looks, np.broadcast_to(places.window, looks.shape)).min(axis=0)
        return least - beam_of(station, band, pair_frequency_mhz(inputs, band)).beamwidth_deg / 2.0

    def _by_hours(self) -> float:
        """What narrow hours would lose, and what others would open; who has agreed to a slot is there."""
        grid, station = self.grid, self.grid.inputs.partners[self.pair]
        edges = grid.period.start - hours.DAY, grid.period.end + hours.DAY
        narrow = hours.weekly_stretches(NARROW_HOURS, station, *edges)
        trials = Trials(grid, dataclasses.replace(self.agenda.commitments, busy=()))
        wide = self._best_place(trials, trials.awake(self.pair))
        if not self.own:
            return max(wide - self._best_place(trials, narrow), 0.0)
        slots, every = self.places, np.ones(len(self.own), dtype=bool)
        # Nothing of the narrow hours joins two days: inside at both ends is inside.
        stands = hours.inside(narrow, slots.start) & hours.inside(narrow, slots.end - 1)
        stands |= np.array([one.state == CONFIRMED or one.is_own_proposal for one in self.own])
        opened = max(wide - self._best_place(trials, trials.stretches[self.pair + 1]), 0.0)
        return self._contacts(slots, every) - self._contacts(slots, stands) + opened

    def _best_place(self, trials: Trials, stretches: npt.NDArray[np.int64]) -> float:
        """What the best place within these hours, (n, 2) minutes, would bring."""
        return float(trials.good(self.pair, partner=stretches).chance_met.max(initial=0.0))


def _with_stated(inputs: Inputs, pair: int, key: str) -> Inputs:
    """The inputs with a partner's figure no longer assumed, at the value that it has."""
    station = inputs.partners[pair]
    assumed = tuple(one for one in assumed_one_by_one(station, key.split(".")[1]) if one != key)
    stated = dataclasses.replace(station, assumed=assumed)
    partners = tuple(stated if place == pair else one for place, one in enumerate(inputs.partners))
    return dataclasses.replace(inputs, partners=partners)
