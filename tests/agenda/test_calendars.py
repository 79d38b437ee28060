"""Calendars of people and public holidays in the agenda: what they take, whom they take it from, and what is told."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pandas as pd

from pipeline.absence.causes import Taken
from pipeline.absence.why_no_night import nights_without_slot
from pipeline.absence.why_not import partners_without_slot
from pipeline.agenda import hours
from pipeline.agenda.agenda import Agenda
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.busy import BusyFile
from pipeline.inputs.model import Hours, Operator
from pipeline.windows.instants import minutes_of
from pipeline.wording.idle_nights import idle_night_words
from tests.agenda.slot_grids import agenda_of, march, march_inputs, only_wanted, with_home, with_partner

HEAD = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\n"


def taken(name: str, start: pd.Timestamp, end: pd.Timestamp) -> BusyFile:
    """A calendar with one entry."""
    text = "\r\n".join(
        ["BEGIN:VEVENT", "UID:1", "DTSTAMP:20260101T000000Z", f"DTSTART:{start:%Y%m%dT%H%M%SZ}",
         f"DTEND:{end:%Y%m%dT%H%M%SZ}", "END:VEVENT", ""]
    )  # fmt: skip
    return BusyFile(name, (HEAD + text + "END:VCALENDAR\r\n").encode())


def first_slot() -> pd.Series:
    return march().agenda.iloc[0]


def touches(table: pd.DataFrame, start: pd.Timestamp, end: pd.Timestamp) -> pd.DataFrame:
    return table[(table["slot_start_utc"] < end) & (table["slot_end_utc"] > start)]


def test_what_a_calendar_of_home_takes_holds_no_slot() -> None:
    slot = first_slot()
    start, end = slot["slot_start_utc"] + pd.Timedelta(minutes=10), slot["slot_start_utc"] + pd.Timedelta(minutes=11)
    _, _, table = agenda_of(with_home(march_inputs(), busy_files=(taken("family.ics", start, end),)))
    assert touches(march().agenda, start, end).shape[0] == 1
    assert touches(table, start, end).empty


def test_a_partners_calendar_takes_its_slots_alone() -> None:
    slot = first_slot()
    start, end = slot["slot_start_utc"], slot["slot_end_utc"]
    grid, _, table = agenda_of(with_partner(march_inputs(), slot["partner"], busy_files=(taken("p.ics", start, end),)))
    here = touches(table, start, end)
    assert slot["partner"] not in set(here["partner"])
    others = grid.minutes.partner[grid.minutes.pair != grid.pair_of(slot["partner"])]
    assert others.sum() == march_minutes(grid)


def march_minutes(grid: SlotGrid) -> int:
    """Minutes at which the other partners are there by their files alone."""
    from tests.agenda.slot_grids import grid_of

    plain = grid_of(march_inputs())
    pair = grid.pair_of(first_slot()["partner"])
    return int(plain.minutes.partner[plain.minutes.pair != pair].sum())


def test_an_operators_calendar_takes_that_operators_slots_alone() -> None:
    slot = first_slot()
    calls = ("QM7TOR", "QA0NEW")
    day = (slot["slot_start_utc"] - pd.Timedelta(days=20), slot["slot_start_utc"] + pd.Timedelta(days=40))
    operators = (Operator(calls[0]), Operator(calls[1], busy_files=(taken("robin.ics", *day),)))
    inputs = only_wanted(march_inputs(), slot["partner"])
    inputs = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, operators=operators))
    _, _, table = agenda_of(inputs)
    assert set(table["operator"]) == {"QM7TOR"}


def lost_night(inputs_with: BusyFile) -> tuple[SlotGrid, Agenda, list[object]]:
    inputs = with_home(march_inputs(), busy_files=(inputs_with,))
    grid, agenda, _ = agenda_of(inputs)
    nights = march().nights
    return grid, agenda, list(nights_without_slot(grid, agenda, nights))


def test_a_night_lost_to_a_calendar_names_its_file() -> None:
    slot = first_slot()
    middle = slot["slot_start_utc"]
    file = taken("family.ics", middle - pd.Timedelta(hours=14), middle + pd.Timedelta(hours=14))
    grid, _, found = lost_night(file)
    absence = found[grid.period.dates.index(slot["night"])]
    assert isinstance(absence, Taken)
    assert absence.files == ("family.ics",)
    assert slot["partner"] in absence.calls
    assert idle_night_words(absence).startswith("family.ics says busy; ")


def test_a_partner_kept_out_by_a_calendar_alone_is_told_so() -> None:
    slot = first_slot()
    span = march().period
    always = taken("away.ics", pd.Timestamp(span.start), pd.Timestamp(span.end))
    inputs = only_wanted(march_inputs(), slot["partner"])
    grid, agenda, _ = agenda_of(with_partner(inputs, slot["partner"], busy_files=(always,)))
    absence = partners_without_slot(grid, agenda, march().no_windows)[grid.pair_of(slot["partner"])]
    assert isinstance(absence, Taken)
    assert absence.files == ("away.ics",)


def test_a_public_holiday_counts_as_a_sunday_and_its_eve_as_a_saturday() -> None:
    """1 May is a holiday of Uruguay; in 2026 a Friday, its eve a Thursday."""
    inputs = march_inputs(nights=("fri", "sat"))
    home = dataclasses.replace(inputs.home, holidays="UY", unavailable_dates=())
    free = dataclasses.replace(inputs, home=home)
    eve, day = dt.date(2026, 4, 30), dt.date(2026, 5, 1)
    assert free.is_possible(eve)
    assert not dataclasses.replace(free, home=dataclasses.replace(home, holidays=None)).is_possible(eve)
    zone = march().period.zone
    edges = [dt.datetime.combine(eve, dt.time(12), zone), dt.datetime.combine(day, dt.time(12), zone)]
    plain = dataclasses.replace(home, holidays=None)
    midnight = np.array([minutes_of(dt.datetime.combine(day, dt.time(0), zone))])
    for station, is_late in ((home, False), (plain, True)):
        late = hours.late_stretches(dt.time(22), zone, *edges, station.is_holiday)
        assert hours.inside(late, midnight).tolist() == [is_late]
    sunday = (Hours(("sun",), dt.time(9), dt.time(12)),)
    day_edges = [dt.datetime.combine(day, dt.time(0), zone), dt.datetime.combine(day, dt.time(23), zone)]
    assert hours.weekly_stretches(sunday, home, *day_edges).size == 2
    assert hours.weekly_stretches(sunday, plain, *day_edges).size == 0
