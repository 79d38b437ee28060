"""How a contact is made and what the partner should expect: who sends when and where, dials, pointing, reports, feed.

From the agenda's slot, the plan's samples and the season's dialing convention; the words are the partner's side of it.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

from pipeline.letters.document import BY_TIME, Section, Table
from pipeline.letters.offers import OfferedSlot
from pipeline.operating.dialing import AT_THE_MOON, EACH_FOLLOWS, HOME_FOLLOWS
from pipeline.operating.pointing import Pointing, pointing_table
from pipeline.operating.search import FOUND_WITHIN_HZ
from pipeline.operating.search_width import dial_step_hz, fastest_hz_per_s, place_hz, search_width_hz
from pipeline.operating.turns import MINUTE_S, End, turns_of
from pipeline.pairs.feed_advice import FeedAdvice
from pipeline.wording import formats, operating, phrases, sentences
from pipeline.wording.speech import ENGLISH_SPEECH, Speech, speech_for
from pipeline.wording.words import short_date

if TYPE_CHECKING:
    import datetime as dt

    from pipeline.inputs.model import BandEquipment
    from pipeline.inputs.modes import Mode
    from pipeline.plan.views import PartnerView, Slot

REPORT_DOUBT_DB = 3
# Oscillators good to less than this together are heard where they are dialled.
WORTH_SEARCHING_HZ = 50.0
# What a partner dials besides its own fixed frequency: nothing, the receiver, both.
DIALLED = {HOME_FOLLOWS: 0, EACH_FOLLOWS: 1, AT_THE_MOON: 2}


def dial_text(frequency_hz: float) -> str:
    """`10368.10812`: a dial in MHz, to its own step."""
    return f"{frequency_hz / 1e6:.{5 if dial_step_hz(frequency_hz) > 1 else 6}f}"


def shift_text(shift_hz: float, frequency_mhz: float, speech: Speech) -> str:
    """`8,120 Hz higher`, `60 Hz lower`: Doppler as it arrives."""
    step = dial_step_hz(frequency_mhz * 1e6)
    whole = round(shift_hz / step) * int(step)
    if whole == 0:
        return speech.say(sentences.SHIFT_NONE)
    return speech.say(sentences.SHIFT_UP if whole > 0 else sentences.SHIFT_DOWN, hertz=speech.whole(abs(whole)))


def air_section(view: PartnerView, openers: list[str], has_table: bool) -> Section:
    """Frequencies, mode, turns and dialing; without an opener nothing is fixed, and turns and dials are left out."""
    speech, mode = speech_for(view.station), view.mode
    points = [frequency_words(view)]
    if mode is None:
        points.append(speech.say(sentences.NO_MODE))
    else:
        points.append(speech.say(sentences.MODE, mode=operating.mode_title(mode, speech)))
        points += [turn_words(opener, mode, speech) for opener in dict.fromkeys(openers)]
    if openers:
        points += dialing_words(view, has_table)
    return Section("air", speech.say(sentences.AIR_TITLE), (), tuple(points))


def search_words(view: PartnerView, slot: OfferedSlot, period_s: float) -> list[str]:
    """How far home's signal may be from the dial, where oscillators and places are enough to miss it.

    The figure is that of the sheet (`operating.search_width`).
    """
    home, partner, band = view.home_at(slot.start_utc), view.station, view.band
    doubt_hz = home.bands[band].frequency_accuracy_hz + partner.bands[band].frequency_accuracy_hz
    known_to_km = home.position.uncertainty_km + partner.position.uncertainty_km
    places_hz = place_hz(known_to_km, view.partner_mhz * 1e6)
    if doubt_hz + places_hz < WORTH_SEARCHING_HZ:
        return []
    drift_hz = fastest_hz_per_s(view.samples, partner.call, slot.start_utc, slot.end_utc) * period_s
    width_hz = search_width_hz(doubt_hz, drift_hz, known_to_km, view.partner_mhz)
    speech, told_hz = speech_for(partner), math.ceil(width_hz / 10) * 10
    rest_hz = told_hz - round(doubt_hz) - (round(places_hz) if places_hz >= 0.5 else 0)
    said = speech.say(
        sentences.SEARCH_PLACES if places_hz >= 0.5 else sentences.SEARCH,
        width=speech.whole(told_hz),
        doubt=speech.whole(doubt_hz),
        places=speech.whole(places_hz),
        distance=f"{known_to_km:.0f}",
    )
    said += f" {speech.say(phrases.SEARCH_REST, rest=speech.whole(rest_hz))}"
    if width_hz > FOUND_WITHIN_HZ:
        said += f" {speech.say(phrases.SEARCH_TOO_WIDE)}"
    return [said]


def frequency_words(view: PartnerView) -> str:
    """Where each end sends."""
    say, yours, ours = (
        speech_for(view.station).say,
        formats.frequency(view.partner_mhz),
        formats.frequency(view.home_mhz),
    )
    if view.home_mhz == view.partner_mhz:
        return say(sentences.FREQUENCY_BOTH, frequency=ours)
    return say(sentences.FREQUENCY_EACH, yours=yours, ours=ours, home=view.home.call)


def turn_words(opener: str, mode: Mode, speech: Speech) -> str:
    """Who sends first and on which minutes."""
    turns = turns_of(opener, mode)
    other: End = "home" if turns.opener == "partner" else "partner"
    first, second = (operating.turn_words(turns, end, speech) for end in (turns.opener, other))
    return speech.say(sentences.TURNS[turns.opener], first=first, second=second)


def dialing_words(view: PartnerView, has_table: bool) -> list[str]:
    """What the partner must do about Doppler; without a table nothing can be said of what changes."""
    convention, say = view.policy.dialing, speech_for(view.station).say
    sends, listens = formats.frequency(view.partner_mhz), formats.frequency(view.home_mhz)
    if convention != HOME_FOLLOWS and not has_table:
        return []
    if convention == EACH_FOLLOWS:
        return [say(sentences.DOPPLER_EACH, sends=sends)]
    if convention == HOME_FOLLOWS:
        return [say(sentences.DOPPLER_HOME, sends=sends, listens=listens)]
    assert convention == AT_THE_MOON
    return [say(sentences.DOPPLER_AT_MOON)]


def expect_section(view: PartnerView, slot: OfferedSlot, zone: dt.tzinfo | None) -> Section:
    """One slot at the partner's end: chance, reports, Doppler, feed, and the table of pointing and dials."""
    lines = pointing_table(view, slot.start_utc, slot.end_utc)
    date = slot.start_utc.astimezone(zone).date() if zone else slot.start_utc.date()
    speech = speech_for(view.station)
    shifting = _shifting(view, slot, lines)
    return Section(
        key=BY_TIME,
        title=speech.say(sentences.EXPECT_TITLE, label=slot.label, date=short_date(date, False, speech)),
        points=tuple(_expectations(view, slot, lines, zone, shifting)),
        shifting=shifting,
        tables=(table_of(view, lines, zone),) if lines else (),
    )


def begin_words(slot: OfferedSlot, mode: Mode, zone: dt.tzinfo | None, speech: Speech) -> list[str]:
    """Who sends first at which minute: where a slot begins on an odd one, nobody sends in it."""
    opener: End = "partner" if slot.planned and slot.planned.opener == "partner" else "home"
    first = turns_of(opener, mode).first_start(opener, slot.start_utc)
    if first >= slot.end_utc:
        return []
    utc = formats.clock(first)
    why = f" {speech.say(phrases.FIRST_TURN)}" if first > slot.start_utc else ""
    if zone is None:
        return [speech.say(sentences.YOU_BEGIN_UTC if opener == "partner" else sentences.WE_BEGIN_UTC, utc=utc) + why]
    utc = f"{_other_date(first, zone, speech)} {utc}".strip()
    sentence = sentences.YOU_BEGIN if opener == "partner" else sentences.WE_BEGIN
    return [speech.say(sentence, local=formats.clock(first.astimezone(zone)), utc=utc) + why]


def _other_date(moment: dt.datetime, zone: dt.tzinfo | None, speech: Speech) -> str:
    """The date by UTC where the partner's clock has another one; empty where both agree."""
    utc = moment.astimezone(dt.UTC).date()
    return "" if zone is None or moment.astimezone(zone).date() == utc else short_date(utc, False, speech)


def _expectations(
    view: PartnerView,
    slot: OfferedSlot,
    lines: tuple[Pointing, ...],
    zone: dt.tzinfo | None,
    shifting: tuple[str, ...],
) -> list[str]:
    mode, planned, speech = view.mode, slot.planned, speech_for(view.station)
    said = begin_words(slot, mode, zone, speech) if mode is not None else []
    if not lines:
        said = [speech.say(sentences.MOON_NOT_UP)]
    equipment = view.station.bands[view.band]
    return [*said, *shifting, feed_words(planned.feed_advice if planned else None, equipment, speech)]


def _shifting(view: PartnerView, slot: OfferedSlot, lines: tuple[Pointing, ...]) -> tuple[str, ...]:
    """Chance, reports, shift, search and the aims of other times."""
    mode, speech = view.mode, speech_for(view.station)
    said = _hopes(view, slot, lines)
    if lines and view.policy.dialing == EACH_FOLLOWS:
        first, last = (shift_text(line.shift_hz, view.home_mhz, speech) for line in (lines[0], lines[-1]))
        same = first == last
        said.append(
            speech.say(sentences.DOPPLER_SAME, shift=first)
            if same
            else speech.say(sentences.DOPPLER_MOVES, first=first, last=last)
        )
    period_s = mode.period_s if mode is not None else MINUTE_S
    said += search_words(view, slot, period_s) if lines else []
    said += [
        speech.say(sentences.IF_YOU_CHOOSE, label=one.label, aim=aim)
        for one in slot.alternatives
        if (aim := aim_words(view, one.start_utc, one.end_utc))
    ]
    return tuple(said)


def _hopes(view: PartnerView, slot: OfferedSlot, lines: tuple[Pointing, ...]) -> list[str]:
    """The chance and the reports."""
    planned, speech = slot.planned, speech_for(view.station)
    said = []
    if lines and planned and not math.isnan(planned.chance):
        words = operating.chance_words(planned.chance, view.policy.outcome_thresholds.limits, speech)
        said.append(speech.say(sentences.CHANCE, chance=words))
    reports = report_words(planned, speech) if planned else ""
    return [*said, reports] if reports else said


def reports_told(slot: Slot | None) -> tuple[float, ...]:
    """The reports at the partner and at home as a letter says them, whole decibels; empty where there are none."""
    values = () if slot is None else (slot.report_at_partner_db, slot.report_at_home_db)
    return () if any(map(math.isnan, values)) else tuple(float(round(one)) for one in values)


def aim_words(view: PartnerView, start: dt.datetime, end: dt.datetime) -> str:
    """Where to point and what to dial from the start to the end of a stretch without a table of its own."""
    lines = pointing_table(view, start, end)
    if not lines:
        return ""
    speech = speech_for(view.station)
    pairs = [_aim(one) for one in (lines[0], lines[-1])]
    figures = {name: _from_to(pairs[0][name], pairs[1][name], speech) for name in pairs[0]}
    return speech.say(sentences.AIM_THROUGH[DIALLED[view.policy.dialing]], **figures)


def aim_at_start(view: PartnerView, slot: OfferedSlot) -> str:
    """The same at the start alone, for a chat; empty where the Moon is not up for both."""
    lines = pointing_table(view, slot.start_utc, slot.end_utc)
    if not lines:
        return ""
    zone, speech = view.station.zone, speech_for(view.station)
    at = lines[0].time_utc
    time = formats.clock(at.astimezone(zone)) if zone else speech.say(sentences.CHAT_UTC, time=formats.clock(at))
    return speech.say(sentences.AIM_AT_START[DIALLED[view.policy.dialing]], time=time, **_aim(lines[0]))


def _aim(line: Pointing) -> dict[str, str]:
    """The figures of one line of a table."""
    return {
        "azimuth": formats.azimuth(line.azimuth_deg),
        "elevation": formats.elevation(line.elevation_deg),
        "listen": dial_text(line.receive_hz),
        "send": dial_text(line.transmit_hz),
    }


def _from_to(first: str, last: str, speech: Speech) -> str:
    return first if first == last else speech.say(sentences.FROM_TO, first=first, last=last)


def report_words(slot: Slot, speech: Speech = ENGLISH_SPEECH) -> str:
    """Expected reports both ways."""
    values = (slot.report_at_partner_db, slot.report_at_home_db)
    if any(math.isnan(value) for value in values):
        return ""
    there, here = (formats.signed(value, 0) for value in values)
    return speech.say(sentences.REPORTS, there=there, here=here, doubt=REPORT_DOUBT_DB)


def feed_words(advice: FeedAdvice | None, equipment: BandEquipment, speech: Speech) -> str:
    """What the partner does with its feed. Where either end could turn, home does."""
    kind = equipment.polarization
    if kind == "circular":
        return speech.say(sentences.FEED_CIRCULAR)
    stands = "horizontal" if kind == "rotatable" else kind
    if advice is FeedAdvice.RANDOM:
        return speech.say(sentences.FEED_RANDOM)
    if advice is not None and advice.partner_turns:
        return speech.say(sentences.FEED_SET["vertical" if stands == "horizontal" else "horizontal"])
    if advice is not None and advice.home_turns:
        return speech.say(sentences.FEED_WE_TURN[stands])
    return speech.say(sentences.FEED_STANDS[stands])


def table_of(view: PartnerView, lines: tuple[Pointing, ...], zone: dt.tzinfo | None) -> Table:
    """Pointing and dials every ten minutes, local time first."""
    convention, speech = view.policy.dialing, speech_for(view.station)
    say = speech.say
    head = [say(sentences.HEAD_AZIMUTH), say(sentences.HEAD_ELEVATION)]
    aims = [_aim(line) for line in lines]
    columns = [[aim[name] for aim in aims] for name in ("azimuth", "elevation")]
    if convention != HOME_FOLLOWS:
        head.append(say(sentences.HEAD_LISTEN))
        columns.append([aim["listen"] for aim in aims])
    if convention == AT_THE_MOON:
        head.append(say(sentences.HEAD_SEND))
        columns.append([aim["send"] for aim in aims])
    # Six columns are too wide for a telephone.
    if zone is None or convention != AT_THE_MOON:
        date = _other_date(lines[0].time_utc, zone, speech) if lines else ""
        head.insert(0, ", ".join(filter(None, (say(sentences.HEAD_UTC), date))))
        columns.insert(0, [formats.clock(line.time_utc) for line in lines])
    if zone is not None:
        head.insert(0, say(sentences.HEAD_LOCAL))
        columns.insert(0, [formats.clock(line.time_utc.astimezone(zone)) for line in lines])
    title = say(sentences.POINT_AND_DIAL if convention != HOME_FOLLOWS else sentences.POINT)
    return Table(title, tuple(head), tuple(zip(*columns, strict=True)))
