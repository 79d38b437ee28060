"""Times of high margin: every figure and every mark traced to the plan's usable windows, one sheet a month."""

import dataclasses
import datetime as dt
import re

import pandas as pd
import pytest

from pipeline.outlook.usable_windows import highest_of_nights
from pipeline.plan.plan import Plan
from pipeline.reports import calendar
from pipeline.reports.high_margin_view import HIGHEST, MOST_COLUMNS, RANKS, high_margin_view
from pipeline.reports.views import PAPERS, HighMargin, HighRow
from pipeline.wording import formats
from tests.plan.months import month_plan
from tests.reports.month_layout import calendar_beside, section_pages, words


@pytest.fixture(scope="module")
def plan() -> Plan:
    return month_plan()


@pytest.fixture(scope="module")
def view(plan: Plan) -> HighMargin:
    found = high_margin_view(plan, PAPERS["A4"])
    assert found is not None
    return found


def table(plan: Plan) -> pd.DataFrame:
    return pd.DataFrame([dataclasses.asdict(one) for one in plan.usable_windows])


def crowded(plan: Plan) -> Plan:
    """The demo with each partner twice, which is more than columns hold."""
    names = {one.call: f"{one.call}/P" for one in plan.inputs.partners}
    more = tuple(dataclasses.replace(one, call=names[one.call]) for one in plan.inputs.partners)
    inputs = dataclasses.replace(
        plan.inputs,
        partners=plan.inputs.partners + more,
        wishes=plan.inputs.wishes + tuple(dataclasses.replace(one, call=names[one.call]) for one in plan.inputs.wishes),
    )
    double = [plan.windows, plan.windows.assign(partner=plan.windows["partner"].map(names))]
    twins = tuple(
        dataclasses.replace(one, partner=names[one.partner], high_margin_db=one.high_margin_db - 0.5)
        for one in plan.usable_windows
    )
    windows = pd.concat(double, ignore_index=True)
    return dataclasses.replace(plan, inputs=inputs, windows=windows, usable_windows=plan.usable_windows + twins)


def rows_of(view: HighMargin) -> list[HighRow]:
    return [row for page in view.pages for row in page.rows]


def test_a_row_a_date_and_the_highest_margin_of_each_partner(plan: Plan, view: HighMargin) -> None:
    rows, usable = rows_of(view), table(plan)
    dates = [plan.first_night + dt.timedelta(days=day) for day in range((plan.last_night - plan.first_night).days + 1)]
    assert [row.night for row in rows] == [formats.day(date) for date in dates]
    told = 0
    for date, row in zip(dates, rows, strict=True):
        assert bool(row.instead) == (date not in plan.period.dates)
        for call, cell in zip(view.heads, row.cells, strict=not row.instead):
            mine = usable[(usable["night"] == date) & (usable["partner"] == call)]
            figures = re.match(r"(?:\w{3} )?(\d\d:\d\d) ([+\u2212]?[\d.]+)", cell.text)
            assert (figures is not None) == (len(mine) > 0)
            if figures is not None:
                best = mine.loc[mine["high_margin_db"].idxmax()]
                assert figures[1] == f"{best['high_at'].astimezone(plan.zone):%H:%M}"
                assert float(figures[2].replace("\u2212", "-")) == pytest.approx(best["high_margin_db"], abs=0.051)
                assert ("good" in cell.css_class) == (round(best["high_margin_db"], 1) >= 0)
                told += 1
    assert told == len(usable.groupby(["night", "partner"])) > 20


def test_the_mark_stands_at_each_partners_highest_alone(plan: Plan, view: HighMargin) -> None:
    usable = table(plan)
    for column, call in enumerate(view.heads):
        marked = [row.night for row in rows_of(view) if row.cells and HIGHEST in row.cells[column].text]
        mine = usable[usable["partner"] == call]
        best = [formats.day(mine.loc[mine["high_margin_db"].idxmax(), "night"])] if len(mine) else []
        assert marked == best


def test_slots_are_tinted_with_their_time_and_dots_mean_shared_moon(plan: Plan, view: HighMargin) -> None:
    nights = {formats.day(date): date for date in plan.period.dates}
    shared = set(zip(plan.windows["night"], plan.windows["partner"], strict=True))
    for row in rows_of(view):
        for call, cell in zip(view.heads, row.cells, strict=not row.instead):
            night = nights[row.night]
            starts = [one.start.astimezone(plan.zone) for one in plan.slots if (one.night, one.call) == (night, call)]
            assert ("slot" in cell.css_class) == bool(starts)
            assert all(f"{start:%H:%M}" in cell.text.split("slot")[1] for start in starts)
            if not any(letter.isdigit() for letter in cell.text):
                assert cell.text == ("·" if (night, call) in shared else "")


def test_above_nine_partners_the_seven_best_of_each_night_by_rank(plan: Plan) -> None:
    many = crowded(plan)
    view = high_margin_view(many, PAPERS["A4"])
    assert view is not None
    assert len(many.inputs.partners) > MOST_COLUMNS
    assert view.heads == tuple(str(rank + 1) for rank in range(RANKS))
    best = highest_of_nights(many.usable_windows)
    for row in rows_of(view):
        found = [re.findall(r"([+\u2212]?\d+\.\d)[^\n]*\n(\S+)", cell.text) for cell in row.cells]
        shown = [(float(one[0][0].replace("\u2212", "-")), one[0][1]) for one in found if one]
        night = next((date for date in many.period.dates if formats.day(date) == row.night), None)
        margins = sorted((one.high_margin_db for one in best.get(night, [])), reverse=True)
        assert [margin for margin, _ in shown] == pytest.approx(margins[:RANKS], abs=0.051)
        assert len({call for _, call in shown}) == len(shown)


@pytest.mark.parametrize("many", [False, True])
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_a_month_takes_one_sheet(plan: Plan, many: bool, paper: str) -> None:
    """Between the agenda and the first carpet, each of which begins a page."""
    beside = calendar_beside(paper)
    view = dataclasses.replace(
        beside,
        high_margin=high_margin_view(crowded(plan) if many else plan, PAPERS[paper]),
        carpets=dataclasses.replace(beside.carpets, pages=beside.carpets.pages[:1]),
    )
    texts = [words(page) for page in section_pages(view, "agenda", "high-margin", "carpets")]
    (first,) = [number for number, text in enumerate(texts) if "Times of high margin" in text]
    assert first > 0
    assert "The margin is that of the way that fares worse" in texts[first]
    assert "Carpets every window" in texts[first + 1]


def test_where_nothing_closes_there_is_no_such_page(plan: Plan) -> None:
    nothing = dataclasses.replace(plan, usable_windows=())
    assert high_margin_view(nothing, PAPERS["A4"]) is None
    html = calendar.calendar_pages(nothing, with_pdf=False)[0]
    assert "high-margin" not in html.split("<body>")[1]
