"""A slot on the pages: the same dates and hours in the month's grid, on the agenda page and on the partner's page."""

import dataclasses
import datetime as dt
import re
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from pipeline.absence.causes import Absence, Cause
from pipeline.agenda.hours import USUAL_HOURS
from pipeline.inputs.letter_keys import Letters
from pipeline.plan.plan import Plan
from pipeline.reports import calendar, charts
from pipeline.reports.method_view import assumed_words
from pipeline.reports.plan_text import plan_text
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.answers import answer_words
from pipeline.wording.assumed import hours_assumed_words, own_assumed_words, sun_hours_words
from tests.reports import month_layout as layout
from tests.reports.invented_plan import SITES, make, station


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
    squares = [str(square) for page in view.carpets.pages for square in page.squares]
    assert len(squares) == 3
    assert all(f'fill="{charts.INK}" stroke="#fff"' in square for square in squares)
    told = [night.night for month in view.months for night in month.panel.nights]
    assert told == sorted({night.isoformat() for night in nights}), "page one says why each was chosen"


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


def test_an_unknown_skyline_stands_beside_the_slot(plan: Plan) -> None:
    """On the agenda page and in the terminal, for each partner whose file states no horizon and for no other."""
    first = plan.agenda["partner"].iloc[0]
    partners = tuple(
        dataclasses.replace(one, assumed=("horizon",) if one.call == first else ()) for one in plan.inputs.partners
    )
    bare = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, partners=partners))
    rows = [row for night in calendar.calendar_view(bare).agenda.nights for row in night.rows]
    assert {row.partner for row in rows if row.skyline} == {first}
    assert {row.skyline for row in rows} == {"", "skyline unknown"}
    html = calendar.calendar_pages(bare, with_pdf=False)[0]
    section = html.split('id="agenda"')[1].split("</section>")[0]
    assert section.count("skyline unknown") == (plan.agenda["partner"] == first).sum()
    bare = dataclasses.replace(bare, windows=plan.windows.assign(mode="Q65"), partners=plan.partners.assign(chance=0.5))
    told = plan_text(bare, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200).splitlines()
    assert [line.split()[4] for line in told if line.endswith("proposed, skyline unknown")] == [first]


def test_the_agendas_line_names_the_clock(plan: Plan) -> None:
    """Berlin goes from an hour ahead of UTC to two on 28 March 2027; offsets of the IANA database, from memory."""
    home = dataclasses.replace(plan.inputs.home, time_zone="Europe/Berlin")
    abroad = dataclasses.replace(
        plan,
        inputs=dataclasses.replace(plan.inputs, home=home),
        period=dataclasses.replace(plan.period, zone=ZoneInfo("Europe/Berlin")),
        windows=plan.windows.assign(mode="Q65"),
        partners=plan.partners.assign(chance=0.5),
    )
    assert abroad.zone == ZoneInfo("Europe/Berlin")
    for rows, clock in ((plan.agenda, "UTC+1, later UTC+2"), (plan.agenda.tail(1), "UTC+2")):
        made = dataclasses.replace(abroad, agenda=rows)
        told = plan_text(made, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200)
        assert f", local time (Europe/Berlin, {clock}):" in told


def test_the_terminal_tells_hours_assumed_and_hours_that_nobody_shares(plan: Plan) -> None:
    """In place of a best night that is empty: nobody's hours, or nowhere strong enough; never half a sentence."""
    call = plan.agenda["partner"].iloc[0]
    partners = plan.partners.copy()
    partners["chance"] = 0.5
    partners.loc[partners["partner"] == call, ["best_night", "chance"]] = [None, np.nan]
    windows = plan.windows.assign(mode="Q65")
    for heard, words in ((call, "no hour that both ends can use"), ("", "no chance better than unlikely")):
        nights = plan.nights.assign(partners_heard=heard)
        made = dataclasses.replace(plan, partners=partners, windows=windows, nights=nights)
        told = plan_text(made, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200)
        (line,) = [one for one in told.splitlines() if one.startswith(f"  {call}") and "window" in one]
        assert line.endswith(f"h   {words}")
    silent = [one.call for one in plan.inputs.partners if one.available is None and one.time_zone]
    assert hours_assumed_words(silent) in told
    assert hours_assumed_words([]) == ""
    assert hours_assumed_words(["QA1AA"]) == "hours assumed for QA1AA: 07:00 to 23:30 by its clock; ask it"
    assert hours_assumed_words(["QA1AA", "QB1BB"]).startswith("hours assumed for QA1AA and QB1BB: 07:00 to 23:30")


def test_hours_without_a_zone_are_said_to_go_by_the_sun(plan: Plan) -> None:
    """Four minutes a degree: QW7TID at 174.8 degrees east is 11 h 39 min ahead of UTC, at 83 west 5 h 32 min behind."""
    ohio = station("QB8OHI", "Grain Hill", None, 40.0, -83.0, None, 1.2)
    tide = next(one for one in plan.inputs.partners if one.call == "QW7TID")
    (line,) = sun_hours_words([dataclasses.replace(ohio, available=None)])
    assert line == (
        "hours assumed for QB8OHI: 07:00 to 23:30 by the Sun (UTC−5:32), its time zone is not known; ask it"
    )
    stated = dataclasses.replace(ohio, available=USUAL_HOURS)
    assert sun_hours_words([stated]) == [
        "hours of QB8OHI taken by the Sun (UTC−5:32), its time zone is not known; ask it"
    ]
    (both,) = sun_hours_words([dataclasses.replace(one, available=None) for one in (ohio, tide)])
    assert "by the Sun (UTC−5:32, UTC+11:39), their time zones are not known; ask them" in both
    silent = tuple(dataclasses.replace(one, available=None) for one in plan.inputs.partners)
    bare = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, partners=silent))
    made = dataclasses.replace(bare, windows=plan.windows.assign(mode="Q65"), partners=plan.partners.assign(chance=0.5))
    told = plan_text(made, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200)
    assert "hours assumed for QW7TID: 07:00 to 23:30 by the Sun" in told
    assert hours_assumed_words([one.call for one in silent if one.time_zone]) in told
    assert sun_hours_words([dataclasses.replace(ohio, available="always")]) == []
    zones = (dataclasses.replace(ohio, time_zone=zone) for zone in (None, "Asia/Tokyo"))
    words = (assumed_words("available", one, 10.0) for one in zones)
    assert [("mean Sun" in one, "local time" in one) for one in words] == [(True, False), (False, True)]


def test_what_home_does_not_state_is_told_like_a_partners(plan: Plan) -> None:
    """A line each for skyline and equipment, in plan and on the sheets; none where the file states them."""
    home, band = plan.inputs.home, plan.band
    assert own_assumed_words(dataclasses.replace(home, assumed=()), [band], 10.0) == []
    assumed = ("horizon", f"bands.{band}.noise_figure_db", f"bands.{band}.modes", "bands.6m.power_w")
    bare = dataclasses.replace(home, assumed=assumed, file="my-station.yaml", terrain=None)
    words = [
        "your own skyline is unknown: taken to lie below 10 degrees in nine of ten; measure it (survey) or write"
        " horizon into my-station.yaml",
        "your own equipment assumed (noise figure); write it into my-station.yaml",
    ]
    assert own_assumed_words(bare, [band], 10.0) == words
    whole = dataclasses.replace(bare, assumed=(f"bands.{band}",))
    assert (
        "(power, antenna, noise figure and loss before the preamplifier)" in own_assumed_words(whole, [band], 10.0)[0]
    )
    made = dataclasses.replace(
        plan,
        inputs=dataclasses.replace(plan.inputs, home=bare),
        windows=plan.windows.assign(mode="Q65"),
        partners=plan.partners.assign(chance=0.5),
    )
    told = plan_text(made, [Path("out/2027-03/data/a.csv")], Path("out/2027-03"), 200)
    assert all(f"\n  {line}\n" in told for line in words)


def test_the_agenda_page_says_who_answers_and_by_when(plan: Plan) -> None:
    letters = Letters(reply_by=dt.date(2027, 2, 20))
    season = dataclasses.replace(plan.inputs.season, letters=letters)
    states = plan.agenda.assign(state=["confirmed", "proposed", "tentative"])
    asked = dataclasses.replace(plan, agenda=states, inputs=dataclasses.replace(plan.inputs, season=season))
    rows = [row for night in calendar.calendar_view(asked).agenda.nights for row in night.rows]
    assert [row.answer for row in rows] == [
        answer_words(state, "QM7TOR", call, letters.reply_by)
        for state, call in zip(states["state"], states["partner"], strict=True)
    ]
    page = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", calendar.calendar_pages(asked, with_pdf=False)[0]))
    assert f"QM7TOR asks, {rows[1].partner} answers by Sat 20 Feb · if missed: " in page


def test_equal_reasons_are_told_once(plan: Plan) -> None:
    """The invented plan has one cause for all its idle nights, and here one for two of its partners."""
    agenda = calendar.calendar_view(plan).agenda
    assert len(agenda.left_nights) == 1
    two = (Absence(Cause.NIGHTS_EARN_TOO_LITTLE), None, Absence(Cause.NIGHTS_EARN_TOO_LITTLE), plan.absences[3])
    left = calendar.calendar_view(dataclasses.replace(plan, absences=two)).agenda.partners
    assert [one.what for one in left] == ["QF4LUM and QW7TID", "QX6ICE"]


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_notes_never_stand_on_a_page_of_their_own(paper: str) -> None:
    """Slots from few to many push what follows them over the foot of a page at every height."""
    whole = make(partners=13, paper=paper, sites=[station(*row) for row in SITES])
    for slots in range(9, 13):
        plan = dataclasses.replace(whole, agenda=whole.agenda.iloc[:slots])
        for page in layout.month_pages(plan, "agenda"):
            printed = [line for line in layout.lines(page) if line.words.strip()]
            kinds = {line.css_class for line in printed}
            assert kinds != {"key notes"}, [line.words for line in printed]
            assert len({round(line.bottom) for line in printed}) > 4


def test_a_slot_after_midnight_has_its_weekday_in_the_grid(plan: Plan) -> None:
    """Friday's square holds the small hours of Saturday: `Sat 01:15`, local time."""
    row = plan.agenda.iloc[:1].copy()
    night = row["night"].iloc[0]
    start = dt.datetime.combine(night + dt.timedelta(days=1), dt.time(1, 15), tzinfo=plan.zone).astimezone(dt.UTC)
    row["slot_start_utc"], row["slot_end_utc"] = pd.Timestamp(start), pd.Timestamp(start + dt.timedelta(hours=1))
    view = calendar.calendar_view(dataclasses.replace(plan, agenda=row))
    slots = [slot for month in view.months for week in month.weeks for cell in week for slot in slots_in(cell)]
    assert [slot.begins for slot in slots] == [f"{night + dt.timedelta(days=1):%a} 01:15"]


def test_clock_changes_of_partners_with_slots_stand_on_the_agenda_page(plan: Plan) -> None:
    words = " ".join(calendar.calendar_view(plan).agenda.clocks)
    assert words == "Clocks at QF4LUM change on Sunday 28 March at 01:00 UTC: UTC+2 before, UTC+3 after."
    assert calendar.calendar_view(dataclasses.replace(plan, agenda=plan.agenda.iloc[:0])).agenda.clocks == ()


def test_page_one_says_which_slots_are_agreed(plan: Plan) -> None:
    assert calendar.calendar_view(plan).months[0].panel.lead.endswith(" Slots: 3 proposed.")
    some = plan.agenda.assign(state=["confirmed", "proposed", "tentative"])
    lead = calendar.calendar_view(dataclasses.replace(plan, agenda=some)).months[0].panel.lead
    assert lead.endswith(" Slots: 1 confirmed, 1 tentative and 1 proposed.")
