"""What the month page says: the figure of a night, why it was chosen, who is out of reach, what each set-up buys.

From the nights' figures and the values of `outlook`. Cells have room for a few words only, the key says what they mean.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import groupby, pairwise

from pipeline.outlook.chosen_nights import ChosenNight
from pipeline.outlook.facts import Fact, FactKind
from pipeline.outlook.trips import Trips
from pipeline.wording import formats
from pipeline.wording.nights import night_words

# Facts of a night that stand behind the reasons for which it was chosen.
TOLD_TOO = (FactKind.SUN_NEAR, FactKind.SUN_INSIDE_LIMIT, FactKind.NEAR_PERIGEE)
CALLS_SHOWN = 6
LONGEST_REASON = 100
FURTHER_NIGHTS = 2
LEAST_ADDED = 0.05


# A cell of the grid


def brings_words(contacts: float) -> str:
    """`brings 1.8`."""
    return f"brings {formats.contacts(contacts)}"


def by_itself_words(contacts: float) -> str:
    """`1.4 by itself`."""
    return f"{formats.contacts(contacts)} by itself"


def closed_words(away: bool) -> str:
    """Why home takes no night on a date."""
    return "home away" if away else "not your night"


def would_add_words(contacts: float) -> str:
    """`would add 0.1`; empty where that rounds to nothing."""
    return f"would add {formats.contacts(contacts)}" if contacts >= LEAST_ADDED else ""


def heard_words(heard: int, free: int, in_reach: int) -> str:
    """`9 heard, 3 free`; `5 heard, nobody free`; nobody heard, or not even a window."""
    if not in_reach:
        return "no window"
    if not heard:
        return "nobody heard"
    return f"{heard} heard, {free or 'nobody'} free"


def arrive_words(at: dt.datetime, zone: dt.tzinfo, night: dt.date) -> str:
    """`arrive 14:00, not free`; with the weekday where it is not the night's."""
    return f"arrive {formats.clock_of_night(at, zone, night)}, not free"


def _named(calls: Sequence[str]) -> str:
    """`QX6ICE, QN1PIK`; of many the first few, `and 4 more`."""
    if len(calls) <= CALLS_SHOWN:
        return ", ".join(calls)
    return f"{', '.join(calls[: CALLS_SHOWN - 1])} and {len(calls) - CALLS_SHOWN + 1} more"


# The panel


def lead_words(contacts: float, served: int, partners: int, states: Sequence[str]) -> str:
    """`6.2 contacts to expect, with 8 of 9 partners. Slots: 2 confirmed and 9 proposed.`"""
    whom = formats.count(partners, "partner") if served == partners else f"{served} of {partners} partners"
    told = [(states.count(state), state) for state in ("confirmed", "tentative", "proposed")]
    slots = formats.listed([f"{count} {state}" for count, state in told if count])
    return f"{formats.contacts(contacts)} contacts to expect, with {whom}. Slots: {slots}."


def on_site_words(contacts: float, arrive: dt.datetime, end: dt.datetime, zone: dt.tzinfo, site: str = "") -> str:
    """`brings 0.5, on site 14:00 to 17:00`; `at Salt Beach` where it is one of several."""
    first, last = arrive.astimezone(zone), end.astimezone(zone)
    where = f"at {site}" if site else "on site"
    return f"{brings_words(contacts)}, {where} {formats.clock(first)} to {formats.clock(last)}"


def chosen_words(chosen: ChosenNight, facts: Sequence[Fact]) -> str:
    """Why a night was chosen: as many of its reasons as two or three short lines hold, the most decisive first."""
    told = ""
    for words in (*_reasons(chosen), night_words([fact for fact in facts if fact.kind in TOLD_TOO])):
        longer = f"{told} {words}".strip()
        told = longer if len(longer) <= LONGEST_REASON or not told else told
    return told or night_words(facts)


def _reasons(chosen: ChosenNight) -> list[str]:
    few = [f"{call} can be met on {_dates(dates)} only." for call, dates in chosen.few]
    words = [f"The only night for {formats.listed(chosen.only)}."] if chosen.only else []
    words += few
    if chosen.best_of is not None:
        call, nights = chosen.best_of
        words.append(f"Worth most of the {nights} nights on which {call} can be met.")
    # Who can be met on no other night has no second slot elsewhere but by agreement.
    again = [call for call in chosen.again if call not in chosen.only]
    words += [f"{formats.listed(again)} {'has' if len(again) == 1 else 'have'} another night too."] if again else []
    return words


def _dates(dates: Sequence[dt.date]) -> str:
    """`5, 6 and 27 March`, `30 April and 1 May`: a few dates, each told."""
    months = [
        f"{formats.listed([str(date.day) for date in days])} {formats.MONTHS[month - 1]}"
        for month, days in ((month, list(days)) for month, days in groupby(dates, lambda date: date.month))
    ]
    return formats.listed(months)


def reserve_note(reserve: dt.date | None, calls: Sequence[str]) -> str:
    """`In reserve: Thu 18 March, for QX6ICE and QN1PIK.`"""
    if reserve is None:
        return "No later night could hold any of them."
    return f"In reserve: {formats.day_and_month(reserve)}, for {formats.listed(calls)}."


def out_of_reach_words(no_window: Sequence[str], no_usable_slot: Sequence[str]) -> str:
    """`Out of reach: QI9TEA (no window).`; empty where everybody can be met."""
    groups = [(no_window, "no window"), (no_usable_slot, "no usable slot")]
    told = [f"{_named(calls)} ({why})" for calls, why in groups if calls]
    return f"Out of reach: {'; '.join(told)}." if told else ""


# What each set-up buys


def set_ups_words(rows: Sequence[Trips], night_cost: float) -> str:
    """`A fifth night would add 0.2, a sixth hardly anything; a set-up must earn 0.3.`"""
    chosen = next((place for place, row in enumerate(rows) if row.chosen), None)
    if chosen is None:
        return "This agenda has other nights than the best of any number, for what is agreed or not allowed."
    further = rows[chosen : chosen + FURTHER_NIGHTS + 1]
    added = [
        f"a {_ordinal(after.count)}{'' if place else ' night would add'} "
        f"{_added(after.contacts_expected - before.contacts_expected)}"
        for place, (before, after) in enumerate(pairwise(further))
    ]
    words = ", ".join(added) or "a further night would add hardly anything"
    return f"{words[0].upper()}{words[1:]}; a set-up must earn {night_cost:g} by your priorities."


def set_ups_title(rows: Sequence[Trips]) -> str:
    """The message of the curve, for whoever cannot see it."""
    told = [f"{formats.contacts(row.contacts_expected)} from {row.count}" for row in rows]
    chosen = "".join(f"; this agenda has {formats.count(row.count, 'night')}" for row in rows if row.chosen)
    return f"Contacts to expect by number of nights: {formats.listed(told)}{chosen}"


def _ordinal(number: int) -> str:
    return formats.ORDINALS[number - 1] if number <= len(formats.ORDINALS) else f"{number}th"


def _added(contacts: float) -> str:
    return formats.contacts(contacts) if contacts >= LEAST_ADDED else "hardly anything"


# The key


def tint_words(good_from: float) -> str:
    """What the tint of a cell says."""
    return f"{formats.contacts(good_from)} contacts or more by itself"


def key_words(southern: bool) -> tuple[str, ...]:
    """What each figure of a cell is."""
    return (
        "Brings: contacts that this agenda would lose without the night.",
        "By itself: contacts to expect from that night alone, inside both ends' hours, 0 where it earns no set-up.",
        "Would add: what its slots would add to this agenda.",
        "Heard: a chance of marginal or better at any hour; free: inside both ends' hours.",
        "Arrive, not free: before your hours begin.",
        f"The Moon as it stands in the {'southern' if southern else 'northern'} sky.",
    )
