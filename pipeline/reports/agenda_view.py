"""The agenda page: the slots night by night in three times, then why a partner or a night is left out.

From the plan's agenda, partners and nights, and the causes why one is left out; here all is gathered and set.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from pipeline.agenda.arrivals import arrival_before
from pipeline.agenda.spares import starts_before
from pipeline.pairs.assumed import skyline_is_assumed
from pipeline.reports.agenda_words import agenda_in_words
from pipeline.reports.clocks import clock_notes
from pipeline.reports.views import Agenda, AgendaNight, LeftOut, SlotRow, partner_anchor, period_edges
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.absences import partner_absence_words
from pipeline.wording.agenda import note_words, only_if_words, reserve_words, slot_words
from pipeline.wording.answers import answer_words
from pipeline.wording.assumed import SKYLINE_UNKNOWN
from pipeline.wording.idle_groups import idle_groups
from pipeline.wording.sites import hours_words, siting_words
from pipeline.wording.slots import alternatives_words
from pipeline.wording.trips import trips_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

Row = dict[str, Any]


def agenda_view(plan: Plan) -> Agenda:
    """Everything the agenda page prints."""
    rows = records(agenda_in_words(plan))
    nights = sorted({as_date(row["night"]) for row in rows})
    return Agenda(
        title=_title(plan),
        lead=_lead(plan, rows),
        nights=tuple(_night(plan, night, [row for row in rows if as_date(row["night"]) == night]) for night in nights),
        partners=_partners_left_out(plan),
        left_nights=_nights_left_out(plan),
        notes=(
            *siting_words(plan.inputs, nights, plan.siting),
            *map(reserve_words, plan.reserves),
            *map(note_words, plan.agenda_notes),
        ),
        home_offsets=formats.offsets(plan.zone, *period_edges(plan)),
        trips=trips_words(plan.trips),
        clocks=_clocks(plan, {row["partner"] for row in rows}),
    )


def _clocks(plan: Plan, calls: set[str]) -> tuple[str, ...]:
    """Clock changes at home and at the partners who have a slot: whoever counts hours by hand must know of them."""
    if not calls:
        return ()
    found = list(clock_notes(plan.zone, period_edges(plan), "at home"))
    for station in plan.inputs.partners:
        if station.call in calls and station.zone:
            found += clock_notes(station.zone, period_edges(plan), f"at {station.call}")
    return tuple(found)


def _title(plan: Plan) -> str:
    slots, over = len(plan.ahead), len(plan.agenda) - len(plan.ahead)
    told = f"{formats.count(slots, 'slot')} on {formats.count(plan.ahead['night'].nunique(), 'night')}"
    past = f", {formats.count(over, 'slot')} past" if over else ""
    return f"{told if slots else 'no slot'}{past}"


def _lead(plan: Plan, rows: list[Row]) -> str:
    """What the agenda should bring, and which answers it waits for."""
    rows = [row for row in rows if not row["slot_outcome"]]
    if not rows:
        when = "ahead" if len(plan.agenda) else "in this period"
        return f"No slot {when}; the reasons stand below."
    each = plan.ahead.drop_duplicates(["partner", "operator"])
    expected, wanted = plan.contacts_expected, len(plan.inputs.partners)
    served = each["partner"].nunique()
    whom = formats.count(wanted, "partner") if served == wanted else f"{served} of {formats.count(wanted, 'partner')}"
    words = f"About {expected:.1f} contacts are to be expected from {whom}."
    open_ = list(dict.fromkeys(row["partner"] for row in rows if row["state"] == "proposed"))
    if len(open_) > 1 and len(open_) == len(each["partner"].unique()):
        words += " Provisional: nobody has answered."
    elif open_:
        words += f" Provisional: {formats.listed(open_)} {'has' if len(open_) == 1 else 'have'} not answered."
    return words


def _night(plan: Plan, night: dt.date, rows: list[Row]) -> AgendaNight:
    if all(row["slot_outcome"] for row in rows):
        return AgendaNight(night.isoformat(), formats.day_long(night), "past", tuple(_slot(plan, row) for row in rows))
    arrival = arrival_before(plan.inputs, as_instant(rows[0]["slot_start_utc"]))
    local = arrival.at.astimezone(plan.zone)
    day = "" if local.date() == night else f"on {formats.day(local.date())} "
    words = f"be at {_place(plan, night)} {day}at {formats.clock(local)} local, {formats.clock(arrival.at)} UTC"
    # Hours are those on the air: who sets up ahead of them should know that before promising anything.
    if arrival.outside_hours:
        words += ", outside your hours"
    return AgendaNight(
        night=night.isoformat(),
        title=formats.day_long(night),
        begin=words,
        rows=tuple(_slot(plan, row) for row in rows),
    )


def _place(plan: Plan, night: dt.date) -> str:
    """Where to be; of several sites which, and how far it is."""
    home = plan.inputs.home_on(night)
    if not plan.inputs.sites:
        return "the site"
    return f"{home.title} ({hours_words(home.hours_to_get_there)} away)" if home.hours_to_get_there else home.title


def _slot(plan: Plan, row: Row) -> SlotRow:
    start, end = as_instant(row["slot_start_utc"]), as_instant(row["slot_end_utc"])
    zone = plan.inputs.partner(row["partner"]).zone
    limits = plan.inputs.season.policy.outcome_thresholds.limits
    reports = [row["report_at_partner_db"], row["report_at_home_db"]]
    known, is_over = not any(is_missing(value) for value in reports), bool(row["slot_outcome"])
    operator = "" if row["operator"] == plan.inputs.home.call else f" by {row['operator']}"
    return SlotRow(
        label=row["label"],
        partner=f"{row['partner']}{operator}",
        state=slot_words(row),
        home=_two_lines(start, end, plan.zone),
        utc=_two_lines(start, end, dt.UTC),
        there=_two_lines(start, end, zone) if zone else "time zone\nnot known",
        how=str(row["mode"]).partition(", tones")[0] or "no mode in common",
        first="home" if row["opener"] == "home" else row["partner"],
        chance=formats.chance(float(row["chance"]), limits),
        reports=", ".join(formats.signed(float(value), 0) for value in reports) if known else "",
        fall_back="" if is_over else row["fall_back"],
        skyline=SKYLINE_UNKNOWN if not is_over and skyline_is_assumed(plan.inputs.partner(row["partner"])) else "",
        anchor=partner_anchor(row["partner"]),
        call=str(row["partner"]),
        answer=_answer(plan, row, start),
        alternatives=_alternatives(plan, row),
    )


def _answer(plan: Plan, row: Row, start: dt.datetime) -> str:
    """Who must answer by when, and the slot that must fail before this one counts; empty where the slot is over."""
    if row["slot_outcome"]:
        return ""
    first = starts_before(records(plan.agenda), plan.inputs.wishes).get((row["partner"], row["label"]))
    reply_by = plan.inputs.season.letters.reply_by
    asked = answer_words(row["state"], plan.inputs.home.call, row["partner"], reply_by)
    return " · ".join(filter(None, (only_if_words(first, start, plan.zone), asked)))


def _alternatives(plan: Plan, row: Row) -> str:
    """Other times that the partner may choose, by home's clock."""
    mine = (plan.alternatives["partner"] == row["partner"]) & (plan.alternatives["instead_of"] == row["label"])
    told = records(plan.alternatives[mine])
    return alternatives_words(
        [(one["label"], as_instant(one["slot_start_utc"]), as_instant(one["slot_end_utc"])) for one in told], plan.zone
    )


def _two_lines(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo) -> str:
    """The date above the hours; where midnight lies between them each end has its date."""
    first, last = start.astimezone(zone), end.astimezone(zone)
    if first.date() == last.date():
        return f"{formats.day(first.date())}\n{formats.clock(first)}–{formats.clock(last)}"
    return f"{formats.day(first.date())} {formats.clock(first)}–\n{formats.day(last.date())} {formats.clock(last)}"


def _partners_left_out(plan: Plan) -> tuple[LeftOut, ...]:
    """Partners without a slot, or with fewer than they want, in the season's order; equal reasons stand together."""
    home, limits = plan.inputs.home.call, plan.inputs.season.policy.outcome_thresholds.limits
    calls: dict[str, list[str]] = {}
    for station, absence in zip(plan.inputs.partners, plan.absences, strict=True):
        if absence is not None:
            reason = _sentence(partner_absence_words(absence, home, station.call, plan.zone, limits))
            calls.setdefault(reason, []).append(station.call)
    return tuple(LeftOut(formats.listed(alike), reason, tuple(alike)) for reason, alike in calls.items())


def _nights_left_out(plan: Plan) -> tuple[LeftOut, ...]:
    """Nights without a slot; those of one cause stand together, in the order of their first date."""
    nights = zip(map(as_date, plan.nights["night"]), plan.idle_nights, strict=True)
    groups = idle_groups([(night, absence) for night, absence in nights if absence is not None])
    return tuple(LeftOut(formats.date_runs(list(dates)), _sentence(reason)) for dates, reason in groups)


def _sentence(text: str) -> str:
    """A capital in front, a full stop behind."""
    return f"{text[:1].upper()}{text[1:]}."
