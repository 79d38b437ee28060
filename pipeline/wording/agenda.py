"""What pages and files say of an agenda: its notes and what a night planned again has changed, a sentence each.

From the values of `agenda`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.agenda.commitments import PAST
from pipeline.agenda.notes import (
    AskedAgain,
    Broken,
    HeldByStranger,
    HoursAssumed,
    KeptAsAgreed,
    KeptAsTold,
    Note,
    OfferMoved,
    OfferWithdrawn,
    OutcomeMissing,
    OutsideNights,
    Proof,
    Rule,
    StillAgreed,
    Ties,
    TooManyNights,
    TooManySlots,
    TripsAmong,
)
from pipeline.agenda.replan import Change, Fate, Stretch
from pipeline.agenda.reserves import Reserve
from pipeline.wording import formats

AT_SITES = "at these sites "
BROKEN_WORDS = {
    Rule.NOT_OUR_OPERATOR: "its operator {call} is not among yours",
    Rule.MOON_DOWN: "the Moon is not above both horizons then",
    Rule.MOON_DOWN_IN_PART: "the Moon is not above both horizons all that time",
    Rule.HOME_HOURS: "it lies outside your hours and nights",
    Rule.PARTNER_HOURS: "it lies outside the hours of {call}",
    Rule.SUN: "the Sun is nearer than your limit",
    Rule.CHANCE: "its chance is less than marginal",
    Rule.OVERLAP: "it overlaps {call} {label}",
    Rule.GAP: "it leaves no gap to {call} {label}",
}
CHANGE_WORDS = {
    Fate.DROPPED: "{call} {before} is dropped",
    Fate.WORKED: "{call} is worked, as was noted",
    Fate.FAILED: "{call} {before} failed, as was noted",
    Fate.ENDED: "{call} {before} has ended",
    Fate.NO_PLACE: "{call} {before} finds no place any more",
    Fate.GIVEN_UP: "{call} {before} is given up: what was noted since leaves it hardly a chance; tell them",
    Fate.MOVED: "{call} moves from {before} to {after}: ask them",
    Fate.NEW: "{call} {after} is new: ask them",
    Fate.NOTHING: "nothing changes",
}


def note_words(note: Note) -> str:
    """One note of an agenda as a sentence."""
    match note:
        case Proof(gap, at_sites) if gap > 0.0:
            return (
                f"The search ended at its limit: another agenda {AT_SITES if at_sites else ''}may be better,"
                f" but by no more than {gap:.2g} of a contact."
            )
        case Proof(_, at_sites):
            return (
                f"This agenda is proven the best: no other {AT_SITES if at_sites else ''}is worth more by your"
                " priorities, chances and what nights and hours cost."
            )
        case TripsAmong(nights, of):
            return (
                f"What each trip buys was sought among {nights} of the {of} nights that have slots: those that this"
                " agenda would miss most, then those of the best slots."
            )
        case Ties():
            return (
                "Of agendas equal to a ten-thousandth of a contact the one was taken whose slots leave another time the"
                " same night, then lie farther from the Sun, have less degradation, are earlier."
            )
        case OfferMoved(partner, label):
            return f"{partner} {label} moves: its old time breaks a rule or stands in the way now."
        case KeptAsTold(partner, label, start, short):
            minutes = "a minute" if short == 1 else f"{short} minutes"
            return f"{partner} {label} of {_when(start)} stays as told: the Moon is clear for all of it but {minutes}."
        case OfferWithdrawn(partner, label):
            return f"{partner} {label} is withdrawn."
        case HeldByStranger(partner, start):
            return f"The slot with {partner} of {_when(start)} holds the dish; it is no partner now."
        case OutsideNights(partner, label, start, before):
            slot = f"{partner} {label}" if label else f"The slot with {partner}"
            where, which = ("before the first", "earlier") if before else ("after the last", "later")
            return (
                f"{slot} of {_when(start)} lies {where} night of this plan: it stays agreed,"
                f" and a plan of {which} dates holds it."
            )
        case OutcomeMissing(partner, label, start):
            return (
                f"{partner} {label} of {_when(start)} is past, and nobody has said how it went: "
                f"`answer {partner} {label}=made`, or failed, absent, rained."
            )
        case StillAgreed(partner, label, start):
            return (
                f"{partner} is worked, and slot {label} of {_when(start)} is still agreed: "
                f"`answer {partner} {label}=no` frees it."
            )
        case AskedAgain(partner, label, start):
            found = "it finds no other time." if start is None else f"{_when(start)} is proposed now: ask them."
            return f"{partner} {label} was lost to the weather; {found}"
        case KeptAsAgreed(partner, label, start, broken):
            why = " and ".join(_broken_words(one) for one in broken)
            return f"{partner} {label} of {_when(start)} is kept as agreed, although {why}."
        case TooManyNights(held, allowed):
            return f"Slots agreed take {held} nights; your policy has {allowed}."
        case TooManySlots(night, held, allowed):
            return f"Slots agreed on {formats.day_and_month(night)}: {held}; your policy has {allowed} a night."
        case HoursAssumed(call, hours, zone):
            what = "no hours: 07:00 to 23:30" if hours else "no time zone: its hours"
            clock = "by the mean Sun at its longitude" if zone else "local time"
            said = f"{call} names {what} {clock} are assumed."
            return f"{said[0].upper()}{said[1:]}"


def reserve_words(reserve: Reserve) -> str:
    """Where a night's partners could go if it is lost."""
    lost = f"If the night of {formats.day_and_month(reserve.night)} is lost"
    if reserve.reserve is None:
        return f"{lost}, no later night that is free could hold any of its partners."
    return (
        f"{lost}, that of {formats.day_and_month(reserve.reserve)} could hold {formats.listed(list(reserve.partners))}."
    )


def slot_words(row: Mapping[str, Any]) -> str:
    """How a slot of the agenda's table stands, or how it went."""
    outcome = str(row["slot_outcome"])
    return f"{row['state']}, past" if outcome == PAST else outcome or str(row["state"])


def worked_words(dates: Sequence[dt.date]) -> str:
    """`worked on Fri 7 May`."""
    return f"worked on {formats.listed([formats.day(date) for date in dates])}" if dates else "worked"


def only_if_words(first: dt.datetime | None, start: dt.datetime, zone: dt.tzinfo) -> str:
    """`only if 09:45 fails`: for a slot that begins at `start` and is held for an earlier one; empty for all others."""
    if first is None:
        return ""
    before, here = first.astimezone(zone), start.astimezone(zone)
    day = "" if before.date() == here.date() else f"{formats.day(before.date())} "
    return f"only if {day}{formats.clock(before)} fails"


def change_words(change: Change) -> str:
    """What became of one slot of a night planned again; times in UTC."""
    before, after = (_span(one) for one in (change.before, change.after))
    return CHANGE_WORDS[change.fate].format(call=change.partner, before=before, after=after)


def _broken_words(one: Broken) -> str:
    return BROKEN_WORDS[one.rule].format(call=one.call, label=one.label)


def _when(local: dt.datetime) -> str:
    """`Fri 12 March 22:15`."""
    return f"{formats.day_and_month(local)} {local:%H:%M}"


def _span(stretch: Stretch | None) -> str:
    return "" if stretch is None else f"{stretch[0]:%H:%M}–{stretch[1]:%H:%M}"
