"""The radio sheet: what to dial in each slot, who sends when, how far to search, what to expect, what if it is missed.

From the night's slots, light times at the clock's own minutes, and both ends' frequency accuracy.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipeline.agenda.spares import held_for
from pipeline.link.chance import FADING_SPREAD_DB
from pipeline.link.spread import half_power_share
from pipeline.operating.dialing import AT_THE_MOON, EACH_FOLLOWS, Dialing
from pipeline.operating.dials import SlotDials, slot_dials
from pipeline.operating.ladder_figures import search_in
from pipeline.operating.night_track import NightTrack
from pipeline.operating.other_spots import other_spots
from pipeline.operating.search_width import dial_step_hz
from pipeline.operating.turns import End, turns_of
from pipeline.pairs.corrections import correction_of, pair_spreads_db
from pipeline.plan.views import Slot
from pipeline.reports.views import PAPERS
from pipeline.sheets.evening import make_evening
from pipeline.sheets.own_echo import echo_at, finding_words
from pipeline.sheets.radio_fit import SIZES_PT, TIGHT_PT, text_size_pt
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.ladders import meaning_words, spot_away_words
from pipeline.wording.operating import kilohertz, megahertz, search_words, trouble_words, turn_words

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from pipeline.plan.views import NightView

SLOTS_A_PAGE = 3
ECHO_LINES = 32


@dataclass(frozen=True)
class DialRow:
    """One line of a slot's dial table."""

    utc: str
    transmit: str
    receive: str
    transmit_a_minute: str
    receive_a_minute: str
    fall_back: bool


@dataclass(frozen=True)
class SpotRow:
    """Where they would be heard at the slot's start if they hold the frequency by another rule."""

    utc: str
    holds: str
    receive: str


@dataclass(frozen=True)
class Fact:
    """A head and its words; `care` marks what must not be overlooked."""

    head: str
    words: str
    care: bool = False


@dataclass(frozen=True)
class RadioSlot:
    """A slot on the radio sheet."""

    number: str
    call: str
    name: str
    utc: str
    local: str
    state: str
    operator: str
    facts: tuple[Fact, ...]
    rows: tuple[DialRow, ...]
    spots: tuple[SpotRow, ...]
    transmit_moves: bool
    there: str

    @property
    def title(self) -> str:
        """All that stands in the slot's head."""
        return " ".join((self.call, self.name, self.utc, self.local, self.operator, self.state))


@dataclass(frozen=True)
class EchoRow:
    """The own echo at one instant, for nights without slots."""

    utc: str
    receive: str
    a_minute: str
    shift: str
    delay: str


@dataclass(frozen=True)
class RadioSheet:
    """Everything the radio sheet prints; `pages` holds up to three slots each, their words at `text_pt`."""

    pages: tuple[tuple[RadioSlot, ...], ...]
    text_pt: float
    convention: str
    echo: tuple[EchoRow, ...]
    echo_transmit: str
    note: str

    @property
    def tight(self) -> bool:
        """Whether lines stand closer as well."""
        return self.text_pt <= TIGHT_PT


CONVENTION_WORDS = {
    "each-follows-what-it-hears": "Each end sends on its own frequency and follows what it hears.",
    "home-follows-for-both": "The partner stays on one frequency; we correct what we send and what we hear.",
    "meet-at-the-moon": "Each end corrects half of its own echo's shift, so that both meet at the Moon.",
}


STATES = {"confirmed": "", "proposed": "has not answered"}


def radio_sheet(night: NightView, track: NightTrack, changes: Sequence[str] = ()) -> RadioSheet:
    """The sheet of one night; `changes` are told on its first page."""
    convention = night.inputs.season.policy.dialing
    made = [_slot(night, track, slot) for slot in night.slots]
    pages = tuple(tuple(made[start : start + SLOTS_A_PAGE]) for start in range(0, len(made), SLOTS_A_PAGE))
    if made:
        size = text_size_pt(pages, PAPERS[night.inputs.season.report.paper], "; ".join(changes))
        modes = dict.fromkeys(meaning_words(slot.mode) for slot in night.slots if slot.mode is not None)
        words = f"{CONVENTION_WORDS[convention]} Figures are, in {' In '.join(modes)}" if modes else ""
        return RadioSheet(pages, size, words or CONVENTION_WORDS[convention], (), "", "")
    rows, transmit = _own_echo(night, track)
    note = f"No slot tonight. The own echo shows that all works. {_echo_words(night, track)}"
    return RadioSheet(
        (), SIZES_PT[0], "", rows, transmit, note if rows else "No slot tonight, and the Moon is not in reach."
    )


def _only_if(night: NightView, slot: Slot) -> str:
    """`only if slot 1 fails`, where this one is held for that; empty for all others."""
    own = [one for one in night.slots if one.call == slot.call]
    wanted = night.inputs.wishes[night.inputs.place_of(slot.call)].contacts_wanted
    first = held_for([(one.label, one.operator, one.start) for one in own], wanted).get(slot.label)
    return next((f"only if slot {one.number} fails" for one in own if one.label == first), "")


def _slot(night: NightView, track: NightTrack, slot: Slot) -> RadioSlot:
    convention = night.inputs.season.policy.dialing
    dials = slot_dials(night.inputs, track.sky, slot)
    zone = night.zone
    return RadioSlot(
        number=str(slot.number),
        call=slot.call,
        name=formats.short(slot.partner.title, 30),
        utc=f"{formats.slot_span(slot.start, slot.end, dt.UTC)} UTC",
        local=f"{formats.slot_span(slot.start, slot.end, zone)} local",
        state=", ".join(filter(None, (STATES.get(slot.state, slot.state), _only_if(night, slot)))),
        operator=operator_words(night, slot),
        facts=(
            *_sending(slot),
            _worked(convention, slot, dials),
            *_searching(night, slot, dials),
            *_expecting(night, slot, dials),
            _missed(slot, zone),
        ),
        rows=_rows(dials),
        spots=_spots(convention, slot, dials),
        transmit_moves=convention != EACH_FOLLOWS,
        there=_there(slot, dials),
    )


def operator_words(night: NightView, slot: Slot) -> str:
    """Who has our key in this slot: `Ines Calder`, `QM7XYZ Ines Calder` under another call, or nobody named."""
    operators = night.inputs.season.operators
    name = next((one.name for one in operators if one.call == slot.operator), None) or ""
    call = "" if slot.operator == night.inputs.home.call else slot.operator
    return " ".join(filter(None, (call, name)))


def _rows(dials: SlotDials) -> tuple[DialRow, ...]:
    """The dial table, with the fall-back of the same night under it."""
    transmit, receive = dials.dialing.home_transmit_hz, dials.dialing.home_receive_hz
    return tuple(
        DialRow(
            utc=formats.clock(moment),
            transmit=megahertz(transmit[row]),
            receive=megahertz(receive[row]),
            transmit_a_minute=_a_minute(dials.transmit_a_minute_hz[row]),
            receive_a_minute=_a_minute(dials.receive_a_minute_hz[row]),
            fall_back=row >= dials.in_slot,
        )
        for row, moment in enumerate(dials.times)
    )


def _spots(convention: str, slot: Slot, dials: SlotDials) -> tuple[SpotRow, ...]:
    found = other_spots(convention, slot.partner_mhz, dials.shifts, dials.dialing.home_receive_hz)
    utc = formats.clock(slot.start)
    return tuple(SpotRow(utc, spot_away_words(one), megahertz(float(one.receive_hz[0]))) for one in found)


def _a_minute(value_hz: float) -> str:
    return formats.signed(value_hz, 0, plus=True)


def _sending(slot: Slot) -> tuple[Fact, ...]:
    if slot.mode is None:
        return (Fact("Mode", f"none in common with {slot.call}: agree one before the night", care=True),)
    turns = turns_of(slot.opener, slot.mode)
    first, then = ("We", slot.call) if slot.opener == "home" else (slot.call, "we")
    other: End = "partner" if slot.opener == "home" else "home"
    # A slot from a quarter past begins on an odd minute: nobody sends before the opener.
    begins = formats.clock(turns.first_start(turns.opener, slot.start))
    words = f"{first} first, at {begins}, {turn_words(turns, turns.opener)}; {then} {turn_words(turns, other)}."
    return Fact("Mode", slot.mode.title), Fact("Sending", words, care=True)


def _worked(convention: str, slot: Slot, dials: SlotDials) -> Fact:
    """The convention with the figures of the slot's first minute, so that the dials can be checked by hand."""
    now, start = dials.dialing, formats.clock(slot.start)
    home, partner = slot.home_mhz * 1e6, slot.partner_mhz * 1e6
    listen = _sum(partner, now.home_receive_hz[0])
    if convention == EACH_FOLLOWS:
        return Fact("Dial", f"Send on {megahertz(home)} throughout. At {start} listen on {listen}.")
    send = _sum(home, now.home_transmit_hz[0])
    why = "half our own echo's shift" if convention == AT_THE_MOON else "the shift of each way"
    return Fact("Dial", f"At {start} send on {send}, listen on {listen} ({why}).")


def _sum(nominal_hz: float, dial_hz: float) -> str:
    """`10368.100 00 MHz + 12.34 kHz = 10368.112 34 MHz`: the printed figures add up."""
    step = dial_step_hz(nominal_hz)
    shift = round(dial_hz / step) * step - round(nominal_hz / step) * step
    sign = formats.MINUS if shift < 0 else "+"
    return f"{megahertz(nominal_hz)} MHz {sign} {kilohertz(abs(shift), step)} = {megahertz(dial_hz)} MHz"


def _searching(night: NightView, slot: Slot, dials: SlotDials) -> tuple[Fact, ...]:
    """The shift, how far to search and whether the mode follows."""
    shift = dials.shifts.partner_to_home_hz[: dials.in_slot]
    rate = (
        np.diff(shift).mean() / max((dials.times[1] - dials.times[0]).total_seconds(), 1.0) if shift.size > 1 else 0.0
    )
    step = dial_step_hz(slot.partner_mhz * 1e6)
    span = f"{kilohertz(shift[0], step, plus=True)} at first, {kilohertz(shift[-1], step, plus=True)} at last"
    # The dials then hold each end's own half of it, another figure.
    before = ", uncorrected" if night.inputs.season.policy.dialing == AT_THE_MOON else ""
    search = search_in(night, slot)
    facts = [
        Fact("Their shift", f"{span} ({formats.signed(rate, 1, plus=True)} Hz a second{before})."),
        Fact("Search", search_words(search)),
    ]
    if search.troubles:
        facts.append(Fact("", trouble_words(search, slot.call), care=True))
    return tuple(facts)


def _expecting(night: NightView, slot: Slot, dials: SlotDials) -> tuple[Fact, ...]:
    facts = []
    if not math.isnan(slot.report_at_partner_db):
        spread = pair_spreads_db(night.inputs, slot.call, slot.band)
        here = _report(slot.report_at_home_db, spread["home"])
        there = _report(slot.report_at_partner_db, spread["partner"])
        ends = (night.inputs.home.call, slot.call)
        known = any(correction_of(night.inputs, call, slot.band) is not None for call in ends)
        learnt = ", corrected from the log" if known else ""
        facts.append(Fact("Reports", f"we hear {here}, {slot.call} hears {there} (in 2500 Hz{learnt})."))
    words = f"{dials.delay_s:.1f} s on the way."
    if not math.isnan(slot.doppler_spread_hz):
        width = slot.doppler_spread_hz
        half = width * float(half_power_share(slot.home_mhz))
        words = f"{_tens(width)} Hz from edge to edge, {_tens(half)} Hz at half power; {words}"
    return (*facts, Fact("Spread, delay", words))


def _report(value_db: float, station_spread_db: float) -> str:
    """`−15 ± 3 dB`: the doubt of the stations' figures and of fading together."""
    doubt = math.hypot(station_spread_db, FADING_SPREAD_DB)
    return f"{formats.signed(value_db, 0)} ± {math.floor(doubt + 0.5)} dB"


def _tens(value: float) -> str:
    """To what is known of it: tens from 20 Hz, tenths below 10."""
    return f"{round(value, -1):.0f}" if value >= 20 else f"{value:.0f}" if value >= 10 else f"{value:.1f}"


def _missed(slot: Slot, zone: ZoneInfo) -> Fact:
    """When to try again: tonight in UTC, like all on this sheet; another night in home's time, to agree upon."""
    words = []
    if slot.again_tonight is not None:
        start, end = slot.again_tonight
        words.append(f"{formats.clock(start)}–{formats.clock(end)} UTC tonight, the table's last two lines")
    if slot.again_later is not None:
        words.append(f"{formats.slot_span(*slot.again_later, zone)} local")
    return Fact("If missed", f"{'; else '.join(words) or 'no other time in this period'}.")


def _there(slot: Slot, dials: SlotDials) -> str:
    """The partner's own dials, to be read to them by telephone."""
    now: Dialing = dials.dialing
    last = dials.in_slot - 1
    sent, heard = now.partner_transmit_hz, now.partner_receive_hz
    sends = megahertz(sent[0]) if np.ptp(sent) < 1.0 else f"{megahertz(sent[0])} to {megahertz(sent[last])}"
    hears = megahertz(heard[0]) if np.ptp(heard) < 1.0 else f"{megahertz(heard[0])} to {megahertz(heard[last])}"
    return f"At {slot.call}: sends on {sends}, listens on {hears} MHz (start to end)."


def _echo_words(night: NightView, track: NightTrack) -> str:
    """What to expect of the own echo when it is loudest, while the dish sees the Moon; or that it is not heard."""
    rows = np.flatnonzero(track.usable)
    if not rows.size:
        return ""
    first, last = (as_instant(track.time_utc[row]) for row in (rows[0], rows[-1]))
    evening = make_evening(night.inputs, night.inputs.season.band, first, last + dt.timedelta(minutes=1))
    heard = np.where(np.isin(np.arange(evening.minutes), rows - rows[0]), evening.echo_db, -np.inf)
    best = evening.instant(int(np.nanargmax(heard)))
    found = echo_at(night.inputs, evening, best)
    return f"Loudest at {formats.clock(best)}: {finding_words(float(evening.echo_db[evening.index(best)]), found)}"


def _own_echo(night: NightView, track: NightTrack) -> tuple[tuple[EchoRow, ...], str]:
    """Lines of the own echo while the dish sees the Moon."""
    rows = np.flatnonzero(track.usable & (track.time_utc.minute.to_numpy() % 30 == 0))[:ECHO_LINES]
    nominal = echo_nominal_hz(night)
    moves = np.gradient(track.home_echo_doppler_hz, track.time_s) * 60.0
    made = tuple(
        EchoRow(
            utc=f"{track.time_utc[row]:%H:%M}",
            receive=megahertz(nominal + track.home_echo_doppler_hz[row]),
            a_minute=_a_minute(moves[row]),
            shift=kilohertz(track.home_echo_doppler_hz[row], dial_step_hz(nominal), plus=True),
            delay=f"{track.echo_delay_s[row]:.2f} s",
        )
        for row in rows
    )
    return made, megahertz(nominal)


def echo_nominal_hz(night: NightView) -> float:
    """What is sent to hear the own echo."""
    band = night.inputs.season.band
    return (night.inputs.home.bands[band].frequency_mhz or night.frequency_mhz) * 1e6
