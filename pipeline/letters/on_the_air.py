"""How a contact is made and what the partner should expect: who sends when and where, dials, pointing, reports, feed.

From the agenda's slot, the plan's samples and the season's dialing convention; the words are the partner's side of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from pipeline.letters.document import Section, Table
from pipeline.letters.offers import Slot
from pipeline.operating.dialing import AT_THE_MOON, EACH_FOLLOWS, HOME_FOLLOWS, pair_transmit_mhz
from pipeline.operating.pointing import Pointing, pointing_table
from pipeline.operating.turns import MINUTE_S, End, minutes_of
from pipeline.reports.views import partner_bands
from pipeline.windows.frames import is_missing
from pipeline.wording import formats
from pipeline.wording.words import short_date

if TYPE_CHECKING:
    import datetime as dt

    from pipeline.inputs.model import BandEquipment
    from pipeline.inputs.modes import Mode
    from pipeline.plan.plan import Plan

# Above it Doppler is told to 10 Hz, below to 1 Hz.
COARSE_FROM_MHZ = 3000.0
REPORT_DOUBT_DB = 3
# Oscillators good to less than this together are heard where they are dialled.
WORTH_SEARCHING_HZ = 50.0
# Further off than this a signal is at the edge of a passband of 2500 Hz.
FOUND_WITHIN_HZ = 1000.0


def digits_mhz(frequency_mhz: float) -> int:
    """Digits after the point of a frequency in MHz: 10 Hz above 3 GHz, 1 Hz below."""
    return 5 if frequency_mhz >= COARSE_FROM_MHZ else 6


def dial_text(frequency_hz: float) -> str:
    """`10368.10812`: a dial in MHz."""
    return f"{frequency_hz / 1e6:.{digits_mhz(frequency_hz / 1e6)}f}"


def shift_text(shift_hz: float, frequency_mhz: float) -> str:
    """`8,120 Hz higher`, `60 Hz lower`: Doppler as it arrives."""
    step = 10 if frequency_mhz >= COARSE_FROM_MHZ else 1
    whole = round(shift_hz / step) * step
    return "right on the frequency" if whole == 0 else f"{abs(whole):,} Hz {'higher' if whole > 0 else 'lower'}"


def air_section(plan: Plan, call: str, openers: list[str], has_table: bool) -> Section:
    """Frequencies, mode, turns and dialing; without an opener nothing is fixed, and turns and dials are left out."""
    index = plan.inputs.place_of(call)
    home_mhz, partner_mhz = pair_transmit_mhz(plan.inputs, index)
    points = [frequency_words(plan.inputs.home.call, home_mhz, partner_mhz)]
    mode = plan.modes[index]
    if mode is None:
        points.append("We found no mode that both of us have: please tell us which modes you can use.")
    else:
        points.append(f"Mode: {mode.title}.")
        points += [turn_words(opener, mode) for opener in dict.fromkeys(openers)]
    if openers:
        points += dialing_words(plan.inputs.season.policy.dialing, home_mhz, partner_mhz, has_table)
    return Section("air", "On the air", (), tuple(points))


def search_words(ends: tuple[BandEquipment, BandEquipment], lines: Sequence[Pointing], period_s: float) -> list[str]:
    """How far home's signal may be from the dial, where the oscillators' share is enough to miss it.

    Oscillators, half of what the shift moves in a period, and half a step of the dial: a plain sum.
    """
    doubt_hz = sum(end.frequency_accuracy_hz for end in ends)
    if doubt_hz < WORTH_SEARCHING_HZ or not lines:
        return []
    rates = [
        abs(after.shift_hz - line.shift_hz) / (after.time_utc - line.time_utc).total_seconds()
        for line, after in pairwise(lines)
    ]
    step_hz = 10.0 ** (6 - digits_mhz(lines[0].receive_hz / 1e6))
    width_hz = doubt_hz + max(rates, default=0.0) * period_s / 2 + step_hz / 2
    said = (
        f"Search {math.ceil(width_hz / 10) * 10:,} Hz up and down: our two frequencies together may be "
        f"off by {doubt_hz:,.0f} Hz."
    )
    if width_hz > FOUND_WITHIN_HZ:
        said += " That is more than a receiver of 2500 Hz shows: let us meet on a steady carrier or a beacon first."
    return [said]


def frequency_words(home: str, home_mhz: float, partner_mhz: float) -> str:
    """Where each end sends."""
    if home_mhz == partner_mhz:
        return f"Frequency: {formats.frequency(home_mhz)}, both of us."
    return f"Frequency: you send on {formats.frequency(partner_mhz)}, {home} sends on {formats.frequency(home_mhz)}."


def turn_words(opener: str, mode: Any) -> str:
    """Who sends first and on which minutes."""
    periods = minutes_of(opener, mode)
    first, second = ("You send", "we send") if opener == "partner" else ("We send", "you send")
    mine, yours = (
        (periods.partner_words, periods.home_words)
        if opener == "partner"
        else (periods.home_words, periods.partner_words)
    )
    return f"{first} first, {mine}; {second} {yours}. Count by the UTC clock."


def dialing_words(convention: str, home_mhz: float, partner_mhz: float, has_table: bool) -> list[str]:
    """What the partner must do about Doppler; without a table nothing can be said of what changes."""
    sends, listens = formats.frequency(partner_mhz), formats.frequency(home_mhz)
    if convention != HOME_FOLLOWS and not has_table:
        return []
    if convention == EACH_FOLLOWS:
        return [
            f"Doppler: always send on exactly {sends}. To hear us, tune your receiver as the table says; "
            "it changes slowly. We do the same at our end.",
        ]
    if convention == HOME_FOLLOWS:
        return [
            f"Doppler: you have nothing to correct. Send on exactly {sends} and listen on exactly {listens}: "
            "we follow for both of us.",
        ]
    assert convention == AT_THE_MOON
    return [
        "Doppler: each of us corrects for our own way to the Moon. Set your transmitter and your receiver as the table "
        "says, and set them again in every period.",
    ]


def expect_section(plan: Plan, call: str, slot: Slot, zone: dt.tzinfo | None) -> Section:
    """One slot at the partner's end: chance, reports, Doppler, feed, and the table of pointing and dials."""
    lines = pointing_table(plan, call, slot.start_utc, slot.end_utc)
    date = slot.start_utc.astimezone(zone).date() if zone else slot.start_utc.date()
    return Section(
        key="expect",
        title=f"Slot {slot.label}, {short_date(date, False)}: what to expect",
        points=tuple(_expectations(plan, call, slot, lines, zone)),
        tables=(table_of(plan, lines, zone),) if lines else (),
    )


def begin_words(slot: Slot, mode: Mode, zone: dt.tzinfo | None) -> list[str]:
    """Who sends first at which minute: where a slot begins on an odd one, nobody sends in it."""
    opener: End = "partner" if str(slot.row["opener"]) == "partner" else "home"
    first = minutes_of(opener, mode).first_start(opener, slot.start_utc)
    if first >= slot.end_utc:
        return []
    utc = f"{_moment(first)} UTC"
    when = f"{_moment(first.astimezone(zone))} your time ({utc})" if zone else utc
    return [f"{'You begin' if opener == 'partner' else 'We begin'} at {when}."]


def _moment(moment: dt.datetime) -> str:
    """`22:16`, or `22:16:30` where a period begins within a minute."""
    return f"{moment:%H:%M:%S}" if moment.second else f"{moment:%H:%M}"


def _expectations(plan: Plan, call: str, slot: Slot, lines: tuple[Pointing, ...], zone: dt.tzinfo | None) -> list[str]:
    index = plan.inputs.place_of(call)
    mode = plan.modes[index]
    said = begin_words(slot, mode, zone) if mode is not None else []
    if not lines:
        said = ["By our figures the Moon is not up for both of us then. Is the time right?"]
    chance = slot.row.get("chance")
    if lines and not is_missing(chance):
        words = formats.chance(float(chance or 0.0), plan.inputs.season.policy.outcome_thresholds.limits)
        said.append(f"Chance of a contact: {words}.")
    reports = report_words(slot.row)
    if reports:
        said.append(reports)
    if lines and plan.inputs.season.policy.dialing == EACH_FOLLOWS:
        home_mhz, _ = pair_transmit_mhz(plan.inputs, index)
        first, last = (shift_text(line.shift_hz, home_mhz) for line in (lines[0], lines[-1]))
        change = f"{first} at the start, {last} at the end" if first != last else first
        said.append(f"Doppler: you hear us {change}.")
    band = partner_bands(plan)[call]
    equipment = plan.inputs.partners[index].bands[band]
    period_s = mode.period_s if mode is not None else MINUTE_S
    said += search_words((plan.inputs.home.bands[band], equipment), lines, period_s)
    return [*said, feed_words(str(slot.row.get("polarization_advice") or ""), equipment)]


def aim_words(plan: Plan, call: str, start: dt.datetime, end: dt.datetime) -> str:
    """Where to point and what to dial from the start to the end of a stretch without a table of its own."""
    lines = pointing_table(plan, call, start, end)
    if not lines:
        return ""
    first, last = lines[0], lines[-1]
    convention = plan.inputs.season.policy.dialing
    parts = [
        f"azimuth {_from_to(formats.azimuth(first.azimuth_deg), formats.azimuth(last.azimuth_deg))}",
        f"elevation {_from_to(formats.elevation(first.elevation_deg), formats.elevation(last.elevation_deg))}",
    ]
    if convention != HOME_FOLLOWS:
        parts.append(f"listen on {_from_to(dial_text(first.receive_hz), dial_text(last.receive_hz))} MHz")
    if convention == AT_THE_MOON:
        parts.append(f"send on {_from_to(dial_text(first.transmit_hz), dial_text(last.transmit_hz))} MHz")
    return f"From start to end: {', '.join(parts)}."


def _from_to(first: str, last: str) -> str:
    return first if first == last else f"{first} to {last}"


def report_words(row: dict[str, Any]) -> str:
    """Expected reports both ways."""
    values = [row.get(f"report_at_{end}_db") for end in ("partner", "home")]
    if any(is_missing(value) for value in values):
        return ""
    there, here = (formats.signed(float(value or 0.0), 0) for value in values)
    return f"You hear us at about {there} dB, we hear you at about {here} dB (in 2500 Hz, ±{REPORT_DOUBT_DB} dB)."


def feed_words(advice: str, equipment: BandEquipment) -> str:
    """What the partner does with its feed. Where either end could turn, home does."""
    kind = equipment.polarization
    if kind == "circular":
        return "Your feed: circular, nothing to turn."
    stands = "horizontal" if kind == "rotatable" else kind
    if advice == "random by Faraday rotation":
        return "Your feed: leave it as it is. On this band the polarization turns at random."
    if advice.startswith("turn partner "):
        return f"Your feed: please set it {'vertical' if stands == 'horizontal' else 'horizontal'}."
    if advice.startswith("turn home "):
        return f"Your feed: {stands}. We turn ours."
    return f"Your feed: {stands}."


def table_of(plan: Plan, lines: tuple[Pointing, ...], zone: dt.tzinfo | None) -> Table:
    """Pointing and dials every ten minutes, local time first."""
    convention = plan.inputs.season.policy.dialing
    head = ["azimuth", "elevation"]
    columns = [
        [formats.azimuth(line.azimuth_deg) for line in lines],
        [formats.elevation(line.elevation_deg) for line in lines],
    ]
    if convention != HOME_FOLLOWS:
        head.append("listen MHz")
        columns.append([dial_text(line.receive_hz) for line in lines])
    if convention == AT_THE_MOON:
        head.append("send MHz")
        columns.append([dial_text(line.transmit_hz) for line in lines])
    # Six columns are too wide for a telephone.
    if zone is None or convention != AT_THE_MOON:
        head.insert(0, "UTC")
        columns.insert(0, [formats.clock(line.time_utc) for line in lines])
    if zone is not None:
        head.insert(0, "your time")
        columns.insert(0, [formats.clock(line.time_utc.astimezone(zone)) for line in lines])
    title = "Point your antenna" + (" and set your dial" if convention != HOME_FOLLOWS else "")
    return Table(title, tuple(head), tuple(zip(*columns, strict=True)))
