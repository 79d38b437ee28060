"""A slot on the pages: the same dates and hours in the month's grid, on the agenda page and on the partner's page."""

import dataclasses
import datetime as dt
import re
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from pipeline.plan.plan import Plan
from pipeline.reports import calendar, charts
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from tests.reports.invented_plan import make, station


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Ten nights across the start of summer time in Europe, four partners, one of them without a window."""
    sites = [
        station("QF4LUM", "Lumme Fjord", "Aino Sarel", 60.90, 23.40, "Europe/Helsinki", 2.4),
        station("QJ2KAW", "Kawa Bluff", None, 35.7, 139.8, "Asia/Tokyo", 1.2),
        station("QW7TID", "Tide Rock", None, -41.3, 174.8, None, 1.8),
        station("QX6ICE", "Ice Edge", "Siv Holm", 70.1, 25.8, "Europe/Oslo", 1.2),
    ]
    return make(dt.date(2027, 3, 22), dt.date(2027, 3, 31), sites=sites)


def slots_in(cell: Any) -> tuple[Any, ...]:
    """A cell of the month's grid may be empty, or a date without a night: then it has none."""
    return getattr(cell, "slots", ())


def test_slots_are_shown_on_every_page(plan: Plan) -> None:
    view = calendar.calendar_view(plan)
    cells = [cell for month in view.months for week in month.weeks for cell in week if slots_in(cell)]
    shown = sorted((cell.number, slot.partner) for cell in cells for slot in cell.slots)
    nights, calls = plan.agenda["night"], plan.agenda["partner"]
    assert shown == sorted((night.day, call) for night, call in zip(nights, calls, strict=True))
    assert all("has-slots" in cell.css_class for cell in cells)
    squares = [str(square) for page in view.carpets.pages for square in page.squares]
    assert len(squares) == 3
    assert all(f'fill="{charts.INK}" stroke="#fff"' in square for square in squares)
    told = {meeting.partner for night in view.months[0].advice for meeting in night.meetings}
    assert told == set(plan.agenda["partner"]), "page one says with whom and when"


def test_the_agenda_page_tells_each_slot_in_three_times(plan: Plan) -> None:
    agenda = calendar.calendar_view(plan).agenda
    rows = [row for night in agenda.nights for row in night.rows]
    assert len(rows) == len(plan.agenda)
    for row, slot in zip(rows, plan.agenda.to_dict("records"), strict=True):
        zone = next(one.time_zone for one in plan.inputs.partners if one.call == slot["partner"])
        start = as_instant(slot["slot_start_utc"])
        for words, where in ((row.utc, dt.UTC), (row.home, plan.zone), (row.there, ZoneInfo(zone) if zone else None)):
            if where is not None:
                local = start.astimezone(where)
                assert words.split()[:4] == [*formats.day(local.date()).split(), words.split()[3]]
                assert f"{local:%H:%M}–" in words
    assert {left.what for left in agenda.partners} == {"QX6ICE"}


def test_each_partners_page_begins_with_its_slots(plan: Plan) -> None:
    html = calendar.calendar_pages(plan, with_pdf=False)[0]
    for slot in plan.agenda.to_dict("records"):
        section = html.split(f'id="partner-{slot["partner"]}"')[1].split("</section>")[0]
        page = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", section))
        zone = next(one.time_zone for one in plan.inputs.partners if one.call == slot["partner"])
        start, end = as_instant(slot["slot_start_utc"]), as_instant(slot["slot_end_utc"])
        times = [f"{formats.slot_span(start, end, plan.zone)} at home", f"{formats.slot_span(start, end, dt.UTC)} UTC"]
        times += [f"{formats.slot_span(start, end, ZoneInfo(zone))} at {slot['partner']}"] if zone else []
        assert f"Slot A, proposed: {', '.join(times)}, chance " in page
        assert page.index("Slot A, proposed") < page.index("mutual window")
    assert "Slot A" not in html.split('id="partner-QX6ICE"')[1].split("</section>")[0]


def test_a_slot_after_midnight_has_its_weekday_in_the_grid(plan: Plan) -> None:
    """Friday's square holds the small hours of Saturday: `Sat 01:15`, local time."""
    row = plan.agenda.iloc[:1].copy()
    night = row["night"].iloc[0]
    start = dt.datetime.combine(night + dt.timedelta(days=1), dt.time(1, 15), tzinfo=plan.zone).astimezone(dt.UTC)
    row["slot_start_utc"], row["slot_end_utc"] = pd.Timestamp(start), pd.Timestamp(start + dt.timedelta(hours=1))
    view = calendar.calendar_view(dataclasses.replace(plan, agenda=row))
    slots = [slot for month in view.months for week in month.weeks for cell in week for slot in slots_in(cell)]
    assert [slot.hours for slot in slots] == [f"{night + dt.timedelta(days=1):%a} 01:15"]


@pytest.mark.parametrize(
    ("slots", "first"), [(1, dt.date(2027, 5, 1)), (3, dt.date(2027, 5, 1)), (9, dt.date(2027, 3, 1))]
)
def test_a_square_of_many_slots_keeps_its_height(slots: int, first: dt.date) -> None:
    """May 2027 takes six weeks, March five: either way five lines below the date, of which one is the outcome."""
    plan = make(first, partners=2)
    row = plan.agenda.iloc[:1]
    many = pd.concat([row] * slots, ignore_index=True)
    view = calendar.calendar_view(dataclasses.replace(plan, agenda=many))
    (cell,) = [cell for week in view.months[0].weeks for cell in week if slots_in(cell)]
    facts = 1 + bool(cell.degradation) + bool(cell.declination)
    assert facts + len(cell.slots) <= 5
    assert (cell.declination is None) == (slots > 2)
    shown = [slot for slot in cell.slots if slot.partner != "more"]
    assert len(shown) == min(slots, 3)
    assert slots == 9 or len(shown) == slots
    if slots == 9:
        assert cell.slots[-1].hours == "and 6"


def test_clock_changes_of_partners_with_slots_stand_on_the_agenda_page(plan: Plan) -> None:
    words = " ".join(calendar.calendar_view(plan).agenda.clocks)
    assert words == "Clocks at QF4LUM change on Sunday 28 March at 01:00 UTC: UTC+2 before, UTC+3 after."
    assert calendar.calendar_view(dataclasses.replace(plan, agenda=plan.agenda.iloc[:0])).agenda.clocks == ()


def test_page_one_says_which_slots_are_agreed(plan: Plan) -> None:
    assert calendar.calendar_view(plan).months[0].lead.endswith(" Slots: 3 proposed.")
    some = plan.agenda.assign(state=["confirmed", "proposed", "tentative"])
    lead = calendar.calendar_view(dataclasses.replace(plan, agenda=some)).months[0].lead
    assert lead.endswith(" Slots: 1 confirmed, 1 tentative and 1 proposed.")
