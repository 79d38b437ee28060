"""The letter to one partner, part by part: slots and the ask on top, then what it needs to know on the air.

From the plan, the agenda and the record; nothing of any other partner is looked at here.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pipeline.letters.document import Letter, Section, SlotView, content_digest
from pipeline.letters.no_slot import no_slot_words
from pipeline.letters.offers import OfferedSlot, offered_slots, refused_labels, withdrawn_slots
from pipeline.letters.on_the_air import aim_words, air_section, expect_section
from pipeline.letters.station_words import station_section
from pipeline.windows.frames import records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.words import (
    CONFIRMED,
    TENTATIVE,
    date_words,
    filled,
    label_list,
    local_words,
    one_line,
    operator_names,
    person,
    short_span,
    span_words,
    utc_words,
)

if TYPE_CHECKING:
    from pipeline.inputs.model import Station
    from pipeline.plan.views import PartnerView

# As many windows as a reader on a telephone will look through; the page attached has all of them.
MOST_WINDOWS = 8
CAUTIONS = (
    "Nobody stands in front of an antenna that may transmit.",
    "Never look at the Sun through a sight or any optics.",
    "Your licence and your local codes come before everything in this letter.",
)


def build_letter(view: PartnerView, with_pdf: bool = True) -> Letter:
    """The whole letter; the season must name a sender."""
    sender = view.letters.sender
    assert sender is not None
    zone = view.station.zone
    slots, withdrawn = offered_slots(view), withdrawn_slots(view)
    values = places(view)
    openers = [slot.planned.opener for slot in slots if slot.planned]
    expected = [expect_section(view, slot, zone) for slot in slots]
    has_table = any(section.tables for section in expected)
    sections = [station_section(view.station, view.band), air_section(view, openers, has_table), *expected]
    if slots:
        sections.append(figures_section())
    sections.append(meet_section(view, slots))
    other = fall_back_section(view, slots, zone) if slots else windows_section(view, zone, with_pdf)
    sections += [part for part in (other, clock_section(view, zone), cautions_section()) if part is not None]
    return Letter(
        call=view.call,
        home_call=view.home.call,
        subject=subject_words(view, slots, withdrawn),
        title=f"{view.home.call} and {view.call} by the Moon",
        greeting=greeting_words(view.letters.greeting, values),
        changes=change_words(slots, withdrawn, refused_labels(view), zone),
        lead=lead_words(view, slots, zone),
        slots=tuple(slot_view(view, slot, zone) for slot in slots),
        ask=ask_words(view, slots),
        sections=tuple(sections),
        closing=filled(view.letters.closing, values),
        sender_name=one_line(sender.name),
        sender_email=one_line(sender.email),
        footer=footer_words(view),
        number=view.number,
    )


def places(view: PartnerView) -> dict[str, str]:
    """What the named places of greeting, closing and meeting place are filled with."""
    sender = view.letters.sender
    return {
        "operator": person(view.station),
        "call": view.call,
        "home": view.home.call,
        "sender": one_line(sender.name) if sender else view.home.call,
        "period": formats.period_title(view.first_night, view.last_night),
    }


def greeting_words(pattern: str, values: dict[str, str]) -> str:
    """The greeting; a comma after it where it ends without any sign."""
    greeting = filled(pattern, values)
    return f"{greeting}," if greeting[-1:].isalnum() else greeting


def footer_words(view: PartnerView) -> str:
    """The last line of a letter and the foot of its page."""
    home, period = view.home, formats.period_title(view.first_night, view.last_night)
    return f"Mutual Moon · {period} · {home.call} {_short_title(home)} · {formats.band(view.band)} · plan {view.number}"


def _short_title(home: Station) -> str:
    return formats.short(one_line(home.title))


def subject_words(view: PartnerView, slots: tuple[OfferedSlot, ...], withdrawn: tuple[OfferedSlot, ...]) -> str:
    """One line that says what is asked."""
    home, period = view.home.call, formats.period_title(view.first_night, view.last_night)
    if any(slot.before for slot in slots) or withdrawn:
        what = "changed times"
    elif not slots:
        what = "no time yet"
    elif all(slot.is_confirmed for slot in slots):
        what = "our agreed times"
    else:
        waiting = sum(not slot.is_confirmed for slot in slots)
        what = "please confirm a time" if waiting == 1 else f"please confirm {waiting} times"
    return f"Moon contact with {home}, {period}: {what}"


def change_words(
    slots: tuple[OfferedSlot, ...], withdrawn: tuple[OfferedSlot, ...], refused: tuple[str, ...], zone: ZoneInfo | None
) -> tuple[str, ...]:
    """What is other than the partner was told before; nothing in a first letter."""
    said = []
    is_first = not (withdrawn or refused or any(slot.offered_before for slot in slots))
    fresh = [slot for slot in slots if not slot.offered_before]
    if refused and fresh:
        said.append(f"You said no to {label_list(list(refused))}. We try again.")
    for slot in slots:
        if slot.before:
            before, now = (_one_time(*edges, zone) for edges in (slot.before, (slot.start_utc, slot.end_utc)))
            where = " to the time that you proposed" if slot.is_own_proposal else ""
            said.append(f"Slot {slot.label} moves{where}. Before: {before}. Now: {now}.")
        elif slot in fresh and not is_first:
            when = _one_time(slot.start_utc, slot.end_utc, zone)
            what = "the time that you proposed" if slot.is_own_proposal else "new"
            said.append(f"Slot {slot.label} is {what}: {when}.")
        elif slot.is_confirmed and slot.offered_before and slot.state_before != CONFIRMED:
            said.append(f"Slot {slot.label} is agreed.")
        elif slot.state == TENTATIVE and slot.offered_before and slot.state_before != TENTATIVE:
            said.append(f"You said maybe to slot {slot.label}. We need a yes or a no.")
    said += [
        f"Slot {slot.label} is withdrawn: {_one_time(slot.start_utc, slot.end_utc, zone)}. "
        "A second mail takes it out of your calendar."
        for slot in withdrawn
    ]
    return tuple(said)


def with_wording_told(letter: Letter, slots: tuple[OfferedSlot, ...]) -> Letter:
    """A letter with the same slots and other words than the last one says so: else nobody sees why it came."""
    told = {slot.told_digest for slot in slots if slot.told_digest}
    digest = content_digest(letter, [slot.entry for slot in slots])
    if letter.changes or not told or digest in told:
        return letter
    line = "The slots are the same. Other lines are new: please use this letter, not the one before."
    return dataclasses.replace(letter, changes=(line,))


def _one_time(start: dt.datetime, end: dt.datetime, zone: ZoneInfo | None) -> str:
    return local_words(start, end, zone) if zone else utc_words(start, end)


def lead_words(view: PartnerView, slots: tuple[OfferedSlot, ...], zone: ZoneInfo | None) -> tuple[str, ...]:
    """What this is about, in two sentences; without a slot, why."""
    on_band = formats.band(view.band)
    if slots:
        waiting = sum(not slot.is_confirmed for slot in slots)
        question = {0: "This is what we agreed.", 1: "Can you be there?"}.get(
            waiting, "Which of these times suit you? All of them would be best."
        )
        words = [f"We would like to make a contact with you by the Moon on {on_band}. {question}"]
    else:
        words = [
            f"We would like to make a contact with you by the Moon on {on_band}.",
            no_slot_words(view),
        ]
    if zone is None:
        words.append("We do not know your time zone, so all times are UTC. Please tell us your zone.")
    return tuple(words)


def slot_view(view: PartnerView, slot: OfferedSlot, zone: ZoneInfo | None) -> SlotView:
    """One slot in words."""
    names = operator_names(view.operators, view.home)
    company = ""
    if len(names) > 1 or slot.operator != view.home.call:
        name = names.get(slot.operator, "")
        company = f"You work {slot.operator}" + (f" ({name})" if name else "") + "."
    yes = "You proposed this time. We confirm it." if slot.is_own_proposal else "Confirmed. Thank you."
    answers = {CONFIRMED: yes, TENTATIVE: "You said maybe: please say yes or no."}
    return SlotView(
        label=slot.label,
        title=f"Slot {slot.label}",
        local=_unbroken(local_words(slot.start_utc, slot.end_utc, zone)) if zone else "",
        utc=_unbroken(span_words(slot.start_utc, slot.end_utc, dt.UTC)),
        company=company,
        answer=answers.get(slot.state, "Please confirm."),
        is_confirmed=slot.is_confirmed,
    )


def _unbroken(span: str) -> str:
    """The hours stay in one line, on the narrowest glass too; an hour after its date does not stand alone."""
    span = re.sub(r"( to [^,]+), (\d\d:\d\d)", "\\1,\N{NO-BREAK SPACE}\\2", span)
    return re.sub(r"(\d\d:\d\d) to (\d\d:\d\d)", "\\1\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}\\2", span)


def ask_words(view: PartnerView, slots: tuple[OfferedSlot, ...]) -> tuple[str, ...]:
    """What answer is asked for, by when, and how."""
    reply_by = view.letters.reply_by
    by = f"by {date_words(reply_by)}" if reply_by else "soon"
    if not slots:
        if len(view.windows):
            return (f"Which other days and hours could you be at your station? Please answer {by}: just reply.",)
        return (
            f"Is your horizon as we know it? From another place, would more be free? Please answer {by}: just reply.",
        )
    waiting = [slot.label for slot in slots if not slot.is_confirmed]
    if not waiting:
        return ("There is nothing to answer. If something comes between, tell us as soon as you can.",)
    example = ", ".join(f"{label} {'yes' if place == 0 else 'no'}" for place, label in enumerate(waiting[:2]))
    said = [
        f"Please answer {by}.",
        "Tap “Accept” or “Decline” in the invitation that comes with this letter, or reply with a line such as: "
        f"{example}.",
    ]
    if len(slots) > 1:
        said.append(
            f"Your mail program may show slot {waiting[0]} only. The files slot-{waiting[0]}.ics and so on hold one "
            "slot each."
        )
    said.append("No time suits you? Tell us which days and hours do.")
    return tuple(said)


def meet_section(view: PartnerView, slots: tuple[OfferedSlot, ...]) -> Section:
    """Where to meet, and what happens when someone is late."""
    meet = filled(view.letters.meet, places(view)).rstrip(".")
    points = [f"Before and during the slot we are here: {meet}." if slots else f"You find us here: {meet}."]
    if slots:
        points += [
            "Is one of us late? The minutes and the frequencies stay the same until the slot ends: just join.",
            "Does something break? Tell us there, or write to us.",
        ]
    return Section("meet", "Where we meet", (), tuple(points))


def fall_back_section(view: PartnerView, slots: tuple[OfferedSlot, ...], zone: ZoneInfo | None) -> Section:
    """Where to go when a slot fails."""
    points, found = [], False
    for slot in slots:
        times: list[str] = []
        for start, end in slot.planned.fall_backs if slot.planned else ():
            other = next((one.label for one in slots if one.start_utc == start), "")
            aim = aim_words(view, start, end)
            time = f"slot {other}." if other else f"{_both_times(start, end, zone)}. {aim}".strip()
            times.append(f"{'Or else' if times else f'Instead of slot {slot.label}'}: {time}")
        found |= bool(times)
        points += times or [f"Instead of slot {slot.label}: no time yet. If it fails, we write to you."]
    lead = "If a slot fails, we try again at another time: the same mode, the same minutes. Nothing to answer now."
    return Section("fall_back", "If it does not work", (lead,) if found else (), tuple(points))


def _both_times(start: dt.datetime, end: dt.datetime, zone: ZoneInfo | None) -> str:
    utc = f"{short_span(start, end, dt.UTC, year=False)} UTC"
    return f"{short_span(start, end, zone, year=False)} your time ({utc})" if zone else utc


def windows_section(view: PartnerView, zone: ZoneInfo | None, with_pdf: bool) -> Section | None:
    """The best times at which the Moon is up for both, for a partner without a slot."""
    rows = records(view.windows)
    if not rows:
        return None
    best = sorted(rows, key=lambda row: (-float(row.get("chance") or 0.0), row["window_start_utc"]))[:MOST_WINDOWS]
    points = []
    for row in sorted(best, key=lambda row: row["window_start_utc"]):
        start, end = formats.inward(as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"]))
        points.append(f"{_both_times(start, end, zone)}.")
    lead = "These are the best times at which the Moon is up for both of us. Does one of them suit you?"
    if len(rows) > len(best):
        lead += f" The file {'windows.pdf' if with_pdf else 'windows.ics'} has all {len(rows)}."
    return Section("windows", "When the Moon is up for both of us", (lead,), tuple(points))


def figures_section() -> Section:
    """How the figures of the slots are to be read."""
    return Section(
        "figures",
        "How to read the figures",
        points=(
            "Azimuth is counted from true north through east. Elevation is where the Moon appears.",
            "Reports may be wrong by 3 dB. All is for clear air: rain and snow cost more.",
        ),
    )


def clock_section(view: PartnerView, zone: ZoneInfo | None) -> Section | None:
    """A notice where the partner's clocks change within the period."""
    changes = formats.clock_changes(zone, *view.edges) if zone else []
    if zone is None or not changes:
        return None
    points = [
        f"On {date_words(moment.astimezone(zone).date())} at {formats.clock(moment)} UTC your clocks change from "
        f"{before} to {after}."
        for moment, before, after in changes
    ]
    return Section(
        "clocks", "Your clocks change", ("The local times in this letter already count with it.",), tuple(points)
    )


def cautions_section() -> Section:
    """Short cautions."""
    return Section("cautions", "Please take care", (), CAUTIONS)


def withdrawal_letter(
    view: PartnerView, letter: Letter, withdrawn: tuple[OfferedSlot, ...], has_letter: bool
) -> Letter:
    """The few lines that go with a withdrawal; the letter itself says the rest, where one goes with it."""
    zone = view.station.zone
    times = tuple(
        f"Slot {slot.label}, {_one_time(slot.start_utc, slot.end_utc, zone)}, is withdrawn." for slot in withdrawn
    )
    labels = label_list([slot.label for slot in withdrawn])
    period = formats.period_title(view.first_night, view.last_night)
    rest = "Our letter says which times are open now." if has_letter else f"We have no other time in {period}."
    return dataclasses.replace(
        letter,
        subject=f"Moon contact with {letter.home_call}: {labels} withdrawn",
        changes=(),
        lead=(*times, "Sorry for the change. This mail takes the time out of your calendar; there is nothing to do."),
        slots=(),
        ask=(rest,),
        sections=(),
    )
