"""The chat message: the same slots and the same ask in 600 characters at most, plain letters only."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.letters.offers import OfferedSlot, offered_slots, withdrawn_slots
from pipeline.letters.station_words import short_station
from pipeline.letters.templates import FOLDER, MESSAGE, TemplateFault, Templates
from pipeline.operating.turns import turns_of
from pipeline.wording import formats
from pipeline.wording.operating import turn_words
from pipeline.wording.words import label_list, offset_words, person, plain_letters, short_date, short_span

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from pipeline.plan.views import PartnerView

LONGEST = 600
PLAIN = {formats.MINUS: "-", "±": "+-", "°": " deg", "·": "-", "–": "-", "“": '"', "”": '"', "…": "..."}


@dataclass(frozen=True)
class Message:
    """What the template is given; `slots` are lines, `more` says how many slots did not fit."""

    name: str
    home_call: str
    band: str
    period: str
    slots: tuple[str, ...]
    more: str
    station: str
    frequency: str
    turn: str
    mode: str
    withdrawn: str
    ask: str
    number: str


def chat_message(view: PartnerView, templates: Templates) -> str:
    """The message; what matters least is left out first where it would be too long."""
    slots = offered_slots(view)
    text = ""
    # First without the station and the mode, then with fewer slots: the ask always stays.
    for shown, with_station, with_mode in [
        (len(slots), True, True),
        (len(slots), False, True),
        *((count, False, False) for count in range(len(slots), -1, -1)),
    ]:
        message = _message(view, slots, shown, with_station, with_mode)
        text = plain(templates.render(MESSAGE, message=message)).strip() + "\n"
        if len(text) <= LONGEST:
            return text
    raise TemplateFault(
        f"{FOLDER}/{MESSAGE}: the message for {view.call} has {len(text)} characters; at most {LONGEST} are meant"
    )


def plain(text: str) -> str:
    """The text in letters that every chat shows; a sign without a plain form is left out."""
    for sign, instead in PLAIN.items():
        text = text.replace(sign, instead)
    return text.encode("ascii", "ignore").decode()


def _message(
    view: PartnerView, slots: tuple[OfferedSlot, ...], shown: int, with_station: bool, with_mode: bool
) -> Message:
    station, zone, mode = view.station, view.station.zone, view.mode
    turn, wanted = "", view.is_wanted
    first = slots[0].planned if slots else None
    if mode is not None and first is not None:
        opener = first.opener
        words = turn_words(turns_of(opener, mode), "partner")
        turn = (
            f"You send {'first, ' if opener == 'partner' else 'second, '}{words} UTC."
            if with_mode
            else ("You send first." if opener == "partner" else "We send first.")
        )
    left, gone = len(slots) - shown, withdrawn_slots(view)
    return Message(
        name=plain_letters(person(station)) or view.call,
        home_call=view.home.call,
        band=formats.band(view.band),
        period=formats.period_title(view.first_night, view.last_night),
        slots=tuple(_slot_line(view, slot, zone) for slot in slots[:shown]),
        more=f"And {formats.count(left, 'more slot')}: ask us." if left else "",
        station=f"We assumed {short_station(station, view.band)}: right?" if with_station and wanted else "",
        frequency=_frequency(view) if wanted else "",
        turn=turn,
        mode=f"{mode.title}." if mode is not None and with_mode and wanted else "",
        withdrawn=f"Withdrawn: {label_list([one.label for one in gone])}." if gone else "",
        ask=_ask(view, slots, wanted),
        number=view.number,
    )


def _slot_line(view: PartnerView, slot: OfferedSlot, zone: ZoneInfo | None) -> str:
    utc = f"{short_span(slot.start_utc, slot.end_utc, dt.UTC, year=zone is None)} UTC"
    who = f" with {slot.operator}" if slot.operator != view.home.call else ""
    own = slot.is_own_proposal
    agreed = " (as you proposed)" if own else " (agreed)" if slot.is_confirmed else " (moved)" if slot.before else ""
    if zone is None:
        return f"{slot.label}: {utc}{who}{agreed}"
    local = short_span(slot.start_utc, slot.end_utc, zone)
    return f"{slot.label}: {local} your time ({offset_words(slot.start_utc, slot.end_utc, zone)}) = {utc}{who}{agreed}"


def _frequency(view: PartnerView) -> str:
    home_mhz, partner_mhz = view.home_mhz, view.partner_mhz
    if home_mhz == partner_mhz:
        return f"Both send on {formats.frequency(home_mhz)}."
    return f"You send on {formats.frequency(partner_mhz)}, we on {formats.frequency(home_mhz)}."


def _ask(view: PartnerView, slots: tuple[OfferedSlot, ...], wanted: bool) -> str:
    reply_by = view.letters.reply_by
    by = f"by {short_date(reply_by)}" if reply_by else "soon"
    waiting = [slot.label for slot in slots if not slot.is_confirmed]
    if not slots and not wanted:
        return "Sorry for the change. There is nothing to answer."
    if not slots:
        return f"No slot found yet: which days and hours could you be there? Please answer {by}."
    if not waiting:
        return "All agreed. Please tell us if something changes."
    example = " ".join(f"{label} {'yes' if place == 0 else 'no'}" for place, label in enumerate(waiting[:2]))
    return f"Please answer {by}, for instance: {example}"
