"""The words beside the month grid: what the agenda should bring, why each night was chosen, what each set-up buys.

Without a slot the best nights by themselves stand there. From nights, agenda, reserves and trips; how much of it the
column holds is the stylesheet's to say.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.agenda.arrivals import arrival_before
from pipeline.outlook.chosen_nights import ChosenNight, chosen_nights
from pipeline.outlook.facts import Fact
from pipeline.reports.clocks import timed
from pipeline.reports.set_up_chart import set_up_chart
from pipeline.reports.views import Advice, Panel
from pipeline.windows.frames import as_date, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.month import (
    by_itself_words,
    chosen_words,
    lead_words,
    on_site_words,
    out_of_reach_words,
    reserve_note,
    set_ups_words,
)
from pipeline.wording.nights import month_sentence, night_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

BEST_NIGHTS = 5
# Of more nights than these only the dates with their figures are told.
NIGHTS_WITH_REASONS = 8
Row = dict[str, Any]


def panel_of(plan: Plan, dates: Sequence[dt.date], slots: dict[dt.date, list[Row]], width: float) -> Panel:
    """The column of one month page; what concerns the whole plan stands on its first month only.

    `slots` are those of `slots_by_night`.
    """
    nights = [row for row in records(plan.nights) if as_date(row["night"]) in dates]
    ahead = set(map(as_date, plan.ahead["night"]))
    used = [date for date in dates if date in ahead]
    over = any(date in slots for date in dates if date not in ahead)
    opening = dates[0] == plan.first_night
    rows = plan.trips if opening else ()
    return Panel(
        title=_title(len(used), over, bool(ranked(nights))),
        lead=_lead(plan) if opening else "",
        reach=out_of_reach_words(*out_of_reach(plan)) if opening else "",
        chart=set_up_chart(rows, width) if rows else Markup(""),
        chart_words=set_ups_words(rows, plan.inputs.season.policy.night_cost) if rows else "",
        nights=_set_up(plan, used, slots) if used else _best(plan, nights),
    )


def slots_by_night(plan: Plan) -> dict[dt.date, list[Row]]:
    """The agenda's slots in order of time."""
    found: dict[dt.date, list[Row]] = {}
    for row in records(plan.agenda):
        found.setdefault(as_date(row["night"]), []).append(row)
    return found


def ranked(nights: Sequence[Row]) -> list[Row]:
    """The nights that bring a contact by themselves, the best first."""
    return sorted((row for row in nights if row["contacts_expected"] > 0.0), key=lambda row: row["rank"])


def out_of_reach(plan: Plan) -> tuple[list[str], list[str]]:
    """Partners that one would work: those without a window, then those with windows and no usable slot."""
    usable = {call for calls in plan.nights["partners_usable"] for call in str(calls).split()}
    # A slot that was agreed is within reach, whatever the rules say now.
    usable |= set(plan.agenda["partner"])
    wanted = [wish.contacts_wanted > 0 for wish in plan.inputs.wishes]
    calls = [station.call for station in plan.inputs.partners]
    closed = [why is not None for why in plan.no_windows]
    return (
        [call for call, want, shut in zip(calls, wanted, closed, strict=True) if want and shut and call not in usable],
        [
            call
            for call, want, shut in zip(calls, wanted, closed, strict=True)
            if want and not shut and call not in usable
        ],
    )


def _title(used: int, over: bool, some: bool) -> str:
    if used:
        return f"Set up on {formats.count(used, 'night')}{' more' if over else ''}"
    return "The best nights, none with a slot" if some else "No night with anybody to meet"


def _lead(plan: Plan) -> str:
    """What the agenda should bring and how its slots stand; without slots what the nights are worth."""
    if plan.ahead.empty:
        return month_sentence(plan.nights)
    states = [str(state) for state in plan.ahead["state"]]
    return lead_words(plan.contacts_expected, plan.ahead["partner"].nunique(), len(plan.inputs.partners), states)


def _facts(plan: Plan) -> dict[dt.date, tuple[Fact, ...]]:
    return dict(zip(map(as_date, plan.nights["night"]), plan.night_facts, strict=True))


def _set_up(plan: Plan, used: Sequence[dt.date], slots: dict[dt.date, list[Row]]) -> tuple[Advice, ...]:
    """The nights with slots: what each brings, when one is there, why, and which is in reserve for it."""
    facts = _facts(plan)
    reserves = {one.night: one for one in plan.reserves}
    told_in_full = len(used) <= NIGHTS_WITH_REASONS
    told = []
    for chosen in chosen_nights(plan.nights, plan.ahead):
        if chosen.night not in used:
            continue
        first, last = slots[chosen.night][0], slots[chosen.night][-1]
        arrival = arrival_before(plan.inputs, as_instant(first["slot_start_utc"]))
        spare = reserves.get(chosen.night)
        told.append(
            Advice(
                night=chosen.night.isoformat(),
                date=formats.day_and_month(chosen.night),
                figure=_on_site(plan, chosen, arrival.at, as_instant(last["slot_end_utc"])),
                reason=chosen_words(chosen, facts[chosen.night]) if told_in_full else "",
                reserve=reserve_note(spare.reserve, spare.partners) if told_in_full and spare is not None else "",
                has_slots=True,
            )
        )
    return tuple(told)


def _on_site(plan: Plan, chosen: ChosenNight, arrive: dt.datetime, end: dt.datetime) -> str:
    site = formats.short(plan.inputs.home_on(chosen.night).title) if plan.inputs.sites else ""
    return timed(plan, arrive, lambda zone: on_site_words(chosen.contacts, arrive, end, zone, site))


def _best(plan: Plan, nights: Sequence[Row]) -> tuple[Advice, ...]:
    """Without a slot: the nights worth most by themselves."""
    facts = _facts(plan)
    return tuple(
        Advice(
            night=as_date(row["night"]).isoformat(),
            date=formats.day_and_month(row["night"]),
            figure=by_itself_words(float(row["contacts_expected"])),
            reason=night_words(facts[as_date(row["night"])]),
        )
        for row in ranked(nights)[:BEST_NIGHTS]
    )
