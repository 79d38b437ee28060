"""Page one: each figure of a cell from the plan's tables, one sheet a month whatever it holds, nothing run over."""

import dataclasses
import datetime as dt
import re
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from pipeline.agenda.arrivals import arrival_before
from pipeline.inputs.model import DateRange, Hours
from pipeline.outlook.chosen_nights import good_from, is_good
from pipeline.plan.plan import Plan
from pipeline.reports import calendar, month_advice, month_view
from pipeline.reports.agenda_view import agenda_view
from pipeline.reports.views import Cell, NoNightCell
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from tests.reports.invented_plan import SITES, make, station
from tests.reports.month_layout import lines, month_pages, with_class

SMALLEST_PT = 7.0
CHANCE = re.compile(r"\d in \d")


@pytest.fixture(scope="module")
def march() -> Plan:
    """Five weeks, eight partners."""
    return make(dt.date(2027, 3, 1))


def cells(plan: Plan) -> dict[str, Cell]:
    """The cells of nights by their dates."""
    months = month_view.month_pages(plan)
    found = [cell for month in months for week in month.weeks for cell in week if isinstance(cell, Cell)]
    return {cell.night: cell for cell in found}


def with_slots(plan: Plan, many: int) -> Plan:
    """So many slots on the first night with one, an hour apart, with partners as they come."""
    row, calls = plan.agenda.iloc[:1], [one.call for one in plan.inputs.partners]
    begins = [row["slot_start_utc"].iloc[0] + pd.Timedelta(hours=hour) for hour in range(many)]
    rows = [
        row.assign(partner=calls[i % len(calls)], slot_start_utc=start, slot_end_utc=start + pd.Timedelta(minutes=45))
        for i, start in enumerate(begins)
    ]
    return dataclasses.replace(plan, agenda=pd.concat(rows, ignore_index=True))


def with_set_ups(plan: Plan, many: int = 8, chosen: int = 5) -> Plan:
    """The plan with what one to `many` nights would bring, and a night in reserve for each."""
    rows = tuple(
        SimpleNamespace(
            count=n,
            nights=(),
            nights_added=(),
            partners_added=(),
            hours_on_site=6.0,
            contacts_expected=6.6 - 5.0 / n**2,
            chosen=n == chosen,
        )
        for n in range(1, many + 1)
    )
    reserve = dt.date(2027, 3, 27)
    spare = tuple(
        SimpleNamespace(night=night, reserve=reserve, partners=("QX6ICE", "QN1PIK")) for night in plan.nights_with_slots
    )
    wider = dataclasses.replace(plan)
    # Fields that a plan may have or not.
    object.__setattr__(wider, "trips", rows)
    object.__setattr__(wider, "reserves", spare)
    return wider


def test_a_cell_tells_what_its_night_brings_or_is_worth_by_itself(march: Plan) -> None:
    shown = cells(march)
    assert len(shown) == len(march.nights)
    for row in march.nights.to_dict("records"):
        cell, usable = shown[row["night"].isoformat()], row["partners_usable"].split()
        if row["night"] in march.nights_with_slots:
            assert cell.figure == f"brings {formats.contacts(row['contacts_in_agenda'])}"
            assert (cell.with_whom, cell.adds, cell.heard) == ((), "", "")
        elif usable:
            assert cell.figure == f"{formats.contacts(row['contacts_expected'])} by itself"
            assert list(cell.with_whom) == usable[: len(cell.with_whom)]
            assert cell.others == (f"and {len(usable) - 4} more" if len(usable) > 5 else "")
            assert bool(cell.adds) == (row["contacts_if_added"] >= 0.05)
            assert cell.heard == f"{len(row['partners_heard'].split())} heard, {len(usable)} free"
        assert bool(cell.near_sun) == (row["sun_separation_deg"] < 12.0)


def test_slots_stand_in_the_cell_with_time_shape_and_chance(march: Plan) -> None:
    shown = cells(march)
    for row in march.agenda.to_dict("records"):
        slots = {slot.partner: slot for slot in shown[row["night"].isoformat()].slots}
        slot, start = slots[row["partner"]], as_instant(row["slot_start_utc"]).astimezone(march.zone)
        day = "" if start.date() == row["night"] else f"{start:%a} "
        assert slot.begins == f"{day}{start:%H:%M}"
        limits = march.inputs.season.policy.outcome_thresholds.limits
        assert slot.odds == formats.odds(row["chance"], limits)
        # What rests on assumed figures is never called strong.
        words = ("workable", "workable", "marginal", "unlikely")
        assert slot.outcome == words[sum(row["chance"] < limit for limit in limits)]
        assert f"<title>{slot.outcome}</title>" in slot.mark


def test_the_key_explains_each_shape_that_is_shown(march: Plan) -> None:
    usual = ("strong", "workable", "marginal")
    assert month_view.month_pages(march)[0].outcomes == usual
    poor = dataclasses.replace(march, agenda=march.agenda.assign(chance=0.1))
    assert month_view.month_pages(poor)[0].outcomes == (*usual, "unlikely")


def test_one_tint_says_which_nights_are_good(march: Plan) -> None:
    page = month_view.month_pages(march)[0]
    limit = float(page.tint.split()[0])
    assert limit >= round(march.nights["contacts_expected"].max() * 2 / 3, 1)
    tinted = {night for night, cell in cells(march).items() if "is-good" in cell.css_class}
    good = march.nights[march.nights["contacts_expected"].round(1) >= limit]
    assert tinted == {night.isoformat() for night in good["night"]}
    assert 0 < len(tinted) <= 0.4 * len(march.nights)


@pytest.mark.parametrize(
    ("worth", "limit"),
    [
        ([], None), ([0.0, 0.04], None), ([0.1, 0.05], 0.1), ([1.96, 1.2], 1.3), ([0.9, 0.9], 0.6),
        # Of ten nights four may be good; where more come near the best, only those nearest to it are, or none.
        ([0.9] * 4 + [0.5] * 6, 0.6), ([0.9] * 3 + [0.7] * 7, 0.8), ([0.9] * 5 + [0.7] * 5, None),
    ],
)  # fmt: skip
def test_from_where_a_night_is_good(worth: list[float], limit: float | None) -> None:
    assert good_from(worth) == limit
    assert is_good(max(worth, default=0.0), limit) == (limit is not None)
    assert not is_good(0.7, 0.8)


def test_a_date_without_a_night_and_one_without_home_say_so(march: Plan) -> None:
    away = dataclasses.replace(
        march.inputs.home, unavailable_dates=(DateRange(dt.date(2027, 3, 2), dt.date(2027, 3, 2)),)
    )
    nights = march.nights.copy()
    nights.loc[nights["night"] == dt.date(2027, 3, 2), ["possible", "partners_usable"]] = [False, ""]
    nights.loc[nights["night"] == dt.date(2027, 3, 3), ["possible", "partners_usable"]] = [False, ""]
    inputs = dataclasses.replace(march.inputs, home=away)
    plan = dataclasses.replace(march, nights=nights, inputs=inputs, agenda=march.agenda.iloc[:0])
    assert cells(plan)["2027-03-02"].figure == "home away"
    assert cells(plan)["2027-03-03"].figure == "not your night"
    missing = [
        cell
        for month in month_view.month_pages(plan)
        for week in month.weeks
        for cell in week
        if isinstance(cell, NoNightCell)
    ]
    assert [cell.night for cell in missing] == sorted(
        {f"2027-03-{day:02d}" for day in range(1, 32)} - {night.isoformat() for night in march.nights["night"]}
    )
    assert all(cell.no_night.startswith("no night") for cell in missing)


def test_the_arrival_is_told_where_home_has_no_hours_yet(march: Plan) -> None:
    assert not any(cell.arrive for cell in cells(_at_home(march, "always")).values())
    start = as_instant(march.agenda["slot_start_utc"].iloc[0]).astimezone(march.zone)
    days = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    late = _at_home(march, (Hours(days, start.time(), (start + dt.timedelta(hours=4)).time()),))
    cell = cells(late)[march.agenda["night"].iloc[0].isoformat()]
    arrival = arrival_before(late.inputs, start)
    assert arrival.outside_hours
    assert start - arrival.at == dt.timedelta(minutes=march.inputs.season.policy.setup_minutes.arrive)
    assert cell.arrive.endswith(f"{arrival.at.astimezone(march.zone):%H:%M}, not free")


def _at_home(plan: Plan, hours: Any) -> Plan:
    home = dataclasses.replace(plan.inputs.home, available=hours)
    return dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, home=home))


@pytest.mark.parametrize(("slots", "shown"), [(1, 1), (3, 3), (4, 4), (6, 6), (7, 5), (9, 5)])
def test_a_cell_of_many_slots_counts_the_rest(march: Plan, slots: int, shown: int) -> None:
    (cell,) = [cell for cell in cells(with_slots(march, slots)).values() if cell.slots]
    assert len(cell.slots) == shown
    assert cell.more == (f"and {slots - shown} more" if slots > shown else "")
    assert all(slot.roomy == (slots <= 3) for slot in cell.slots)


def test_who_is_out_of_reach_is_told_once(march: Plan) -> None:
    blind = march.nights.assign(
        partners_usable=[
            " ".join(call for call in calls.split() if call != "QK3RED") for calls in march.nights["partners_usable"]
        ]
    )
    agenda = march.agenda[march.agenda["partner"] != "QK3RED"].reset_index(drop=True)
    plan = dataclasses.replace(march, nights=blind, agenda=agenda)
    assert month_advice.out_of_reach(plan) == (["QX6ICE"], ["QK3RED"])
    panel = month_view.month_pages(plan)[0].panel
    assert panel.reach == "Out of reach: QX6ICE (no window); QK3RED (no usable slot)."


def test_what_concerns_the_whole_plan_stands_on_its_first_month() -> None:
    pages = month_view.month_pages(with_set_ups(make(dt.date(2027, 3, 5), dt.date(2027, 4, 9), partners=4)))
    assert [bool(page.panel.lead) for page in pages] == [True, False]
    assert [bool(page.panel.chart) for page in pages] == [True, False]


@pytest.mark.parametrize("letters", [10, 34, 48])
def test_the_season_is_named_beside_the_heading_of_page_one(letters: int) -> None:
    """As much of it as finds room in that line; on the second month's page nothing of it."""
    plan = make(dt.date(2027, 9, 29), dt.date(2027, 10, 1), partners=2, paper="letter")
    season = dataclasses.replace(plan.inputs.season, title="Meadow above the moor and Wide Mountain of Wood and more")
    home = dataclasses.replace(plan.inputs.home, name=season.title[:letters])
    plan = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, season=season, home=home))
    first, second = month_view.month_pages(plan)
    assert second.season == ""
    assert (len(first.season) >= month_view.LEAST_SEASON_LETTERS) == (letters < 48)
    page = month_pages(plan)[0]
    printed = list(lines(page))
    heading = [one for one in printed if one.size == pytest.approx(23.0)]
    assert "".join(one.words for one in heading).split() == f"September 2027 at {season.title[:letters]}".split()
    assert len({one.top for one in heading}) == 1
    named = [one for one in printed if one.css_class == "season"]
    assert [one.words for one in named] == [first.season] * bool(first.season)
    assert all(one.left > heading[-1].right for one in named)
    unnamed = dataclasses.replace(plan.inputs, season=dataclasses.replace(season, title=None))
    assert month_view.month_pages(dataclasses.replace(plan, inputs=unnamed))[0].season == ""


def test_the_panel_tells_site_times_reserve_and_what_each_set_up_buys(march: Plan) -> None:
    panel = month_view.month_pages(with_set_ups(march))[0].panel
    first = march.agenda[march.agenda["night"] == march.agenda["night"].iloc[0]]
    arrive = as_instant(first["slot_start_utc"].iloc[0]) - dt.timedelta(hours=2)
    end = as_instant(first["slot_end_utc"].iloc[-1]).astimezone(march.zone)
    assert panel.nights[0].figure.endswith(f"on site {arrive.astimezone(march.zone):%H:%M} to {end:%H:%M}")
    assert panel.nights[0].reserve == "In reserve: Sat 27 March, for QX6ICE and QN1PIK."
    assert "5.3 from 2" in panel.chart
    assert "this agenda has 5 nights" in panel.chart
    assert panel.chart_words.startswith(
        "A sixth night would add 0.1, a seventh hardly anything; a set-up must earn 0.3"
    )
    assert not month_view.month_pages(march)[0].panel.chart, "a plan without such rows has no curve"


def test_both_pages_tell_the_contacts_still_to_come(march: Plan) -> None:
    """The plan's own figure, which knows how many contacts are wanted; a slot that is over is told on neither page."""
    over = march.agenda.assign(slot_outcome=["made", *[""] * (len(march.agenda) - 1)])
    moved = dataclasses.replace(march, agenda=over, contacts_expected=4.4)
    lead, (first, *_) = agenda_view(moved).lead, month_view.month_pages(moved)
    assert lead.startswith("About 4.4 contacts")
    assert first.panel.lead.startswith("4.4 contacts to expect")
    assert first.panel.lead.endswith(f"Slots: {len(over) - 1} proposed.")


def test_the_lead_is_the_agendas_sum(march: Plan) -> None:
    agenda = march.agenda
    words = (
        f"{agenda['joint_chance_met'].sum():.1f} contacts to expect, with {agenda['partner'].nunique()} of 8 partners."
    )
    assert month_view.month_pages(march)[0].panel.lead.startswith(words)


def test_without_a_slot_the_best_nights_are_told(march: Plan) -> None:
    plan = dataclasses.replace(march, agenda=march.agenda.iloc[:0])
    panel = month_view.month_pages(plan)[0].panel
    assert panel.title == "The best nights, none with a slot"
    best = march.nights.sort_values("rank")["night"].tolist()[:5]
    assert [night.night for night in panel.nights] == [night.isoformat() for night in best]


def crowded(first: dt.date, paper: str, stroke: str = "/P") -> Plan:
    """Calls with strokes, thirteen partners, nine slots on one night, and one on most others."""
    sites = [station(f"{call}{stroke}", *rest) for call, *rest in SITES]
    plan = make(first, partners=13, paper=paper, sites=sites)
    one = with_slots(plan, 9).agenda
    others = [
        plan.agenda.iloc[[i % len(plan.agenda)]].assign(
            night=night,
            slot_start_utc=(start := pd.Timestamp(dt.datetime.combine(night, dt.time(23, 40), dt.UTC))),
            slot_end_utc=start + pd.Timedelta(hours=1),
        )
        for i, night in enumerate(plan.nights["night"])
        if i % 3 and night != one["night"].iloc[0]
    ]
    agenda = pd.concat([one, *others], ignore_index=True).sort_values("slot_start_utc", ignore_index=True)
    return with_set_ups(dataclasses.replace(plan, agenda=agenda))


# May 2027 touches six weeks, March five, February 2027 four.
@pytest.mark.parametrize("first", [dt.date(2027, 5, 1), dt.date(2027, 3, 1), dt.date(2027, 2, 1)])
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_a_month_is_one_sheet_and_nothing_runs_over(first: dt.date, paper: str) -> None:
    for plan in (crowded(first, paper), crowded(first, paper, "/QRPP"), make(first, paper=paper)):
        (page,) = month_pages(plan)
        foot = (page.position_y + page.margin_height()) * 0.75 - page.margin_bottom * 0.75
        for cell in with_class(page, "night"):
            right = (cell.position_x + cell.margin_width()) * 0.75
            bottom = (cell.position_y + cell.margin_height()) * 0.75
            for line in lines(cell):
                assert line.bottom <= bottom + 0.5 or CHANCE.search(line.words), line
                assert line.right <= right + 0.1 or CHANCE.search(line.words), line
            for slot in with_class(cell, "slot"):
                # The chance behind a slot may be hidden, its time and call never.
                foot_of_slot = (slot.position_y + slot.margin_height()) * 0.75
                told = [line for line in lines(slot) if not CHANCE.search(line.words)]
                assert all(line.bottom <= foot_of_slot + 2.0 for line in told), told
        panel = page.margin_width() * 0.75 - 38.0 - month_view.PANEL_WIDTH
        for line in lines(page):
            assert line.size >= SMALLEST_PT or not line.words.strip(), line
            if line.bottom < foot + 5.0:
                # Beside it a browser, which sets text a little lower, has its two per cent.
                assert line.bottom <= (foot if line.left >= panel else foot - 8.0), line


def test_what_the_panel_cannot_hold_is_left_out_by_whole_nights() -> None:
    plan = crowded(dt.date(2027, 5, 1), "A4")
    told = month_view.month_pages(plan)[0].panel.nights
    assert len(told) == len(plan.nights_with_slots) > 15
    (page,) = month_pages(plan)
    (reasons,) = with_class(page, "reasons")
    words = " ".join(line.words for line in lines(reasons))
    printed = [night for night in told if f"{night.date}" in words]
    assert printed == list(told[: len(printed)])
    assert printed
    assert words.rstrip().endswith((".", "only")) or words.rstrip()[-5:].count(":") == 1


def test_every_link_of_the_page_leads_somewhere(march: Plan) -> None:
    html = calendar.calendar_pages(march, with_pdf=False)[0]
    anchors = re.findall(r' id="([^"]+)"', html)
    assert len(anchors) == len(set(anchors))
    links = set(re.findall(r'href="#([^"]+)"', html))
    assert links <= set(anchors)
    for night in march.nights_with_slots:
        assert {f"agenda-{night}", f"night-{night}"} <= links, "from page one to the agenda, and back"
    assert {f"partner-{call}" for call in march.agenda["partner"]} <= links


def test_past_nights_say_so_alone_and_only_those_to_come_are_counted(march: Plan) -> None:
    """The first night with a slot is over and its slot made; the rest of the agenda is ahead."""
    nights = sorted(set(march.agenda["night"]))
    first, second = nights[:2]
    over = march.agenda["night"] == first
    inputs = dataclasses.replace(march.inputs, planned_from=first + dt.timedelta(days=1))
    agenda = march.agenda.assign(slot_outcome=["made" if is_over else "" for is_over in over])
    plan = dataclasses.replace(march, inputs=inputs, agenda=agenda)
    panel = month_view.month_pages(plan)[0].panel
    assert panel.title == f"Set up on {formats.count(len(nights) - 1, 'night')} more"
    assert month_view.month_pages(march)[0].panel.title == f"Set up on {formats.count(len(nights), 'night')}"
    assert [one.night for one in panel.nights] == [night.isoformat() for night in nights[1:]]
    shown = cells(plan)
    past = shown[first.isoformat()]
    assert (past.figure, past.arrive, past.heard, past.near_sun) == ("past", "", "", "")
    assert {slot.odds for slot in past.slots} == {"made"}
    assert shown[second.isoformat()].figure.startswith("brings ")
    assert not any(cell.heard for night, cell in shown.items() if night < first.isoformat())
    rows = [row for night in agenda_view(plan).nights for row in night.rows if night.night == first.isoformat()]
    assert rows
    assert not any((row.fall_back, row.skyline, row.answer) != ("", "", "") for row in rows)
