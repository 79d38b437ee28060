"""How a contact is made and what the partner should expect: who sends when and where, dials, pointing, reports, feed.

From the agenda's slot, the plan's samples and the season's dialing convention; the words are the partner's side of it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from pipeline.letters.document import Section, Table
from pipeline.letters.offers import OfferedSlot
from pipeline.operating.dialing import AT_THE_MOON, EACH_FOLLOWS, HOME_FOLLOWS
from pipeline.operating.pointing import Pointing, pointing_table
from pipeline.operating.search import FOUND_WITHIN_HZ
from pipeline.operating.search_width import dial_step_hz, fastest_hz_per_s, place_hz, search_width_hz
from pipeline.operating.turns import MINUTE_S, End, turns_of
from pipeline.pairs.feed_advice import FeedAdvice
from pipeline.wording import formats, operating
from pipeline.wording.words import short_date

if TYPE_CHECKING:
    import datetime as dt

    from pipeline.inputs.model import BandEquipment
    from pipeline.inputs.modes import Mode
    from pipeline.plan.views import PartnerView, Slot

REPORT_DOUBT_DB = 3
# Oscillators good to less than this together are heard where they are dialled.
WORTH_SEARCHING_HZ = 50.0


def dial_text(frequency_hz: float) -> str:
    """`10368.10812`: a dial in MHz, to its own step."""
    return f"{frequency_hz / 1e6:.{5 if dial_step_hz(frequency_hz) > 1 else 6}f}"


def shift_text(shift_hz: float, frequency_mhz: float) -> str:
    """`8,120 Hz higher`, `60 Hz lower`: Doppler as it arrives."""
    step = dial_step_hz(frequency_mhz * 1e6)
    whole = round(shift_hz / step) * int(step)
    return "right on the frequency" if whole == 0 else f"{abs(whole):,} Hz {'higher' if whole > 0 else 'lower'}"


def air_section(view: PartnerView, openers: list[str], has_table: bool) -> Section:
    """Frequencies, mode, turns and dialing; without an opener nothing is fixed, and turns and dials are left out."""
    points = [frequency_words(view.home.call, view.home_mhz, view.partner_mhz)]
    mode = view.mode
    if mode is None:
        points.append("We found no mode that both of us have: please tell us which modes you can use.")
    else:
        points.append(f"Mode: {mode.title}.")
        points += [turn_words(opener, mode) for opener in dict.fromkeys(openers)]
    if openers:
        points += dialing_words(view.policy.dialing, view.home_mhz, view.partner_mhz, has_table)
    return Section("air", "On the air", (), tuple(points))


def search_words(view: PartnerView, slot: OfferedSlot, period_s: float) -> list[str]:
    """How far home's signal may be from the dial, where oscillators and places are enough to miss it.

    The figure is that of the sheet (`operating.search_width`).
    """
    home, partner, band = view.home, view.station, view.band
    doubt_hz = home.bands[band].frequency_accuracy_hz + partner.bands[band].frequency_accuracy_hz
    known_to_km = home.position.uncertainty_km + partner.position.uncertainty_km
    places_hz = place_hz(known_to_km, view.partner_mhz * 1e6)
    if doubt_hz + places_hz < WORTH_SEARCHING_HZ:
        return []
    drift_hz = fastest_hz_per_s(view.samples, partner.call, slot.start_utc, slot.end_utc) * period_s
    width_hz = search_width_hz(doubt_hz, drift_hz, known_to_km, view.partner_mhz)
    places = f", and {places_hz:,.0f} Hz more as places are known to {known_to_km:.0f} km" if places_hz >= 0.5 else ""
    said = (
        f"Search {math.ceil(width_hz / 10) * 10:,} Hz up and down: our two frequencies together may be "
        f"off by {doubt_hz:,.0f} Hz{places}."
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
    turns = turns_of(opener, mode)
    first, second = ("You send", "we send") if opener == "partner" else ("We send", "you send")
    other: End = "home" if opener == "partner" else "partner"
    mine, yours = operating.turn_words(turns, turns.opener), operating.turn_words(turns, other)
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


def expect_section(view: PartnerView, slot: OfferedSlot, zone: dt.tzinfo | None) -> Section:
    """One slot at the partner's end: chance, reports, Doppler, feed, and the table of pointing and dials."""
    lines = pointing_table(view, slot.start_utc, slot.end_utc)
    date = slot.start_utc.astimezone(zone).date() if zone else slot.start_utc.date()
    return Section(
        key="expect",
        title=f"Slot {slot.label}, {short_date(date, False)}: what to expect",
        points=tuple(_expectations(view, slot, lines, zone)),
        tables=(table_of(view, lines, zone),) if lines else (),
    )


def begin_words(slot: OfferedSlot, mode: Mode, zone: dt.tzinfo | None) -> list[str]:
    """Who sends first at which minute: where a slot begins on an odd one, nobody sends in it."""
    opener: End = "partner" if slot.planned and slot.planned.opener == "partner" else "home"
    first = turns_of(opener, mode).first_start(opener, slot.start_utc)
    if first >= slot.end_utc:
        return []
    utc = f"{formats.clock(first)} UTC"
    when = f"{formats.clock(first.astimezone(zone))} your time ({utc})" if zone else utc
    return [f"{'You begin' if opener == 'partner' else 'We begin'} at {when}."]


def _expectations(
    view: PartnerView, slot: OfferedSlot, lines: tuple[Pointing, ...], zone: dt.tzinfo | None
) -> list[str]:
    mode, planned = view.mode, slot.planned
    said = begin_words(slot, mode, zone) if mode is not None else []
    if not lines:
        said = ["By our figures the Moon is not up for both of us then. Is the time right?"]
    if lines and planned and not math.isnan(planned.chance):
        words = formats.chance(planned.chance, view.policy.outcome_thresholds.limits)
        said.append(f"Chance of a contact: {words}.")
    reports = report_words(planned) if planned else ""
    if reports:
        said.append(reports)
    if lines and view.policy.dialing == EACH_FOLLOWS:
        first, last = (shift_text(line.shift_hz, view.home_mhz) for line in (lines[0], lines[-1]))
        change = f"{first} at the start, {last} at the end" if first != last else first
        said.append(f"Doppler: you hear us {change}.")
    equipment = view.station.bands[view.band]
    period_s = mode.period_s if mode is not None else MINUTE_S
    said += search_words(view, slot, period_s) if lines else []
    said += [
        f"If you choose {one.label}: {aim[:1].lower()}{aim[1:]}"
        for one in slot.alternatives
        if (aim := aim_words(view, one.start_utc, one.end_utc))
    ]
    return [*said, feed_words(planned.feed_advice if planned else None, equipment)]


def aim_words(view: PartnerView, start: dt.datetime, end: dt.datetime) -> str:
    """Where to point and what to dial from the start to the end of a stretch without a table of its own."""
    lines = pointing_table(view, start, end)
    if not lines:
        return ""
    first, last = lines[0], lines[-1]
    convention = view.policy.dialing
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


def report_words(slot: Slot) -> str:
    """Expected reports both ways."""
    values = (slot.report_at_partner_db, slot.report_at_home_db)
    if any(math.isnan(value) for value in values):
        return ""
    there, here = (formats.signed(value, 0) for value in values)
    return f"You hear us at about {there} dB, we hear you at about {here} dB (in 2500 Hz, ±{REPORT_DOUBT_DB} dB)."


def feed_words(advice: FeedAdvice | None, equipment: BandEquipment) -> str:
    """What the partner does with its feed. Where either end could turn, home does."""
    kind = equipment.polarization
    if kind == "circular":
        return "Your feed: circular, nothing to turn."
    stands = "horizontal" if kind == "rotatable" else kind
    if advice is FeedAdvice.RANDOM:
        return "Your feed: leave it as it is. On this band the polarization turns at random."
    if advice is not None and advice.partner_turns:
        return f"Your feed: please set it {'vertical' if stands == 'horizontal' else 'horizontal'}."
    if advice is not None and advice.home_turns:
        return f"Your feed: {stands}. We turn ours."
    return f"Your feed: {stands}."


def table_of(view: PartnerView, lines: tuple[Pointing, ...], zone: dt.tzinfo | None) -> Table:
    """Pointing and dials every ten minutes, local time first."""
    convention = view.policy.dialing
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
