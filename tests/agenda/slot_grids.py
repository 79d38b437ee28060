"""Grounds and agendas that several tests of this room share: the demo's March under other wishes, records and hours."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pandas as pd

from pipeline.agenda.agenda import Agenda, make_agenda
from pipeline.agenda.agenda_table import agenda_table
from pipeline.agenda.hours import zone_of
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.model import WEEKDAYS, DateRange, Hours, Partner, Station
from pipeline.plan.plan import Plan
from pipeline.record.inputs import Inputs
from pipeline.record.model import Answer, Offer, Record
from tests.plan.months import demo_inputs, month_plan, only_partners, with_policy

MARCH = "2027-03"


def march() -> Plan:
    """The demo's March, a step of a quarter of an hour."""
    return month_plan(MARCH)


def march_inputs(**policy: Any) -> Inputs:
    """Its inputs, with other keys of the policy."""
    return with_policy(demo_inputs(MARCH), step_minutes=15, **policy)


def grid_of(inputs: Inputs) -> SlotGrid:
    """The ground of other wishes, hours, policy or record on the windows and samples of the demo's March."""
    plan = march()
    assert [one.call for one in inputs.partners] == [one.call for one in plan.inputs.partners]
    return make_slot_grid(inputs, plan.period, plan.windows, plan.samples, plan.modes)


def agenda_of(inputs: Inputs) -> tuple[SlotGrid, Agenda, pd.DataFrame]:
    """Ground, agenda and its table."""
    grid = grid_of(inputs)
    agenda = make_agenda(grid)
    return grid, agenda, agenda_table(grid, agenda)


def fortnight(*calls: str) -> Inputs:
    """Two weeks of March with few partners, for what must be worked out anew."""
    inputs = with_policy(only_partners(demo_inputs(MARCH), *calls), step_minutes=15)
    dates = DateRange(dt.date(2027, 3, 8), dt.date(2027, 3, 21))
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, months=(), dates=dates))


def slot_rows(plan: Plan, slot_row: pd.Series) -> pd.DataFrame:
    """The samples of a slot's window from the last at or before its start to the first at or after its end."""
    if slot_row["window"] < 0:
        return plan.samples.iloc[:0]
    window = plan.windows.iloc[int(slot_row["window"])]
    mine = plan.samples[plan.samples["partner"] == slot_row["partner"]]
    inside = mine["time_utc"].between(window["window_start_utc"], window["window_end_utc"])
    mine = mine[inside]
    first = int(mine["time_utc"].searchsorted(slot_row["slot_start_utc"], side="right")) - 1
    last = int(mine["time_utc"].searchsorted(slot_row["slot_end_utc"], side="left"))
    return mine.iloc[max(first, 0) : last + 1]


def with_partner(inputs: Inputs, call: str, **changes: Any) -> Inputs:
    """The same season with another partner's file."""
    partners = tuple(dataclasses.replace(one, **changes) if one.call == call else one for one in inputs.partners)
    return dataclasses.replace(inputs, partners=partners)


def with_home(inputs: Inputs, **changes: Any) -> Inputs:
    """The same season with another file of home."""
    return dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, **changes))


def with_wish(inputs: Inputs, call: str, **changes: Any) -> Inputs:
    """The same season with another line for one partner."""
    wishes = tuple(dataclasses.replace(one, **changes) if one.call == call else one for one in inputs.wishes)
    return dataclasses.replace(inputs, wishes=wishes)


def only_wanted(inputs: Inputs, *calls: str) -> Inputs:
    """The same season in which nobody else is to be worked."""
    wishes = tuple(one if one.call in calls else Partner(one.call, 0, one.priority, one.band) for one in inputs.wishes)
    return dataclasses.replace(inputs, wishes=wishes)


def with_record(inputs: Inputs, answers: tuple[Answer, ...] = (), offers: tuple[Offer, ...] = ()) -> Inputs:
    """The same season with something agreed or sent."""
    return dataclasses.replace(inputs, record=Record(answers, offers))


def answer(
    partner: str, start: dt.datetime, state: str, label: str = "", minutes: int = 60, operator: str = "QM7TOR"
) -> Answer:
    """A line of the record."""
    return Answer(partner, label, start, start + dt.timedelta(minutes=minutes), state, operator, 1)


def offers_of(table: pd.DataFrame) -> tuple[Offer, ...]:
    """The slots of an agenda as they stand in the ledger once they are sent."""
    return tuple(
        Offer(
            row.uid, row.partner, row.operator, row.label,
            row.slot_start_utc.to_pydatetime(), row.slot_end_utc.to_pydatetime(), 0, False,
        )
        for row in table.itertuples()
    )  # fmt: skip


def longer_hours(station: Station, edge: str, minutes: int, days: tuple[str, ...] = ()) -> Station:
    """A station whose hours begin earlier or end later, on the days named or all; no stretch may leave its day."""
    made = []
    for one in station.available or ():
        for day in one.days:
            grows = not days or day in days
            shift = dt.timedelta(minutes=minutes if grows else 0)
            start = dt.datetime.combine(dt.date(2027, 1, 2), one.start)
            until = dt.datetime.combine(dt.date(2027, 1, 2 if one.until > one.start else 3), one.until)
            if edge == "before":
                start -= shift
                assert start.date() == dt.date(2027, 1, 2)
            else:
                until += shift
                assert until - start < dt.timedelta(days=1)
            made.append(Hours((day,), start.time(), until.time()))
    return dataclasses.replace(station, available=tuple(made))


def minutes_between(start: pd.Timestamp, end: pd.Timestamp) -> list[dt.datetime]:
    """Every minute of a slot."""
    count = int((end - start).total_seconds() // 60)
    return [start.to_pydatetime() + dt.timedelta(minutes=k) for k in range(count)]


def is_there(station: Station, moment: dt.datetime) -> bool:
    """Whether a station is available at an instant, by its wall clock alone; for zones without a change that day."""
    if station.available == "always":
        return True
    local = moment.astimezone(zone_of(station)).replace(tzinfo=None)
    away = [d for d in (local.date(), local.date() - dt.timedelta(days=1))
            if any(d in stretch for stretch in station.unavailable_dates)]  # fmt: skip
    if local.date() in away:
        return False
    stretches = station.available if station.available is not None else (Hours(WEEKDAYS, dt.time(7), dt.time(23, 30)),)
    for one in stretches:
        for date in (local.date(), local.date() - dt.timedelta(days=1)):
            if WEEKDAYS[date.weekday()] in one.days and date not in away:
                start = dt.datetime.combine(date, one.start)
                days = int(one.until <= one.start)
                if start <= local < dt.datetime.combine(date + dt.timedelta(days=days), one.until):
                    return True
    return False
