"""The page of carpets: its words and marks are the plan's, nothing overprints, few elements whatever the month."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
from io import BytesIO

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

from pipeline.outlook.carpets import QUARTERS
from pipeline.plan.plan import Plan
from pipeline.reports import calendar, carpet_charts, carpets_view
from pipeline.reports.carpet_charts import LABEL, SIZE, Grid, SlotMark, free_spot, outline
from pipeline.reports.views import PAPERS
from pipeline.wording import carpets as words
from pipeline.wording import formats
from tests.plan.months import month_plan
from tests.reports.invented_plan import SITES, make, station


def view(plan: Plan, paper: str = "A4") -> object:
    return carpets_view.carpets_view(plan, PAPERS[paper])


def squares(plan: Plan) -> list[str]:
    return [str(square) for page in view(plan).pages for square in page.squares]


def texts(square: str) -> list[str]:
    """What stands in a square, its title aside."""
    return re.findall(r">([^<>]+)</text>", square)


def labels(square: str) -> int:
    """How many times of slots stand in a square."""
    return sum(":" in one for one in texts(square))


@pytest.fixture(scope="module")
def demo() -> Plan:
    return month_plan("2027-03")


def test_every_figure_of_a_square_is_the_plans(demo: Plan) -> None:
    """Usable nights from the nights' table, best night and chance from the partners', times from the agenda."""
    made = squares(demo)
    shown = [row for row in demo.partners.to_dict("records") if row["windows"]]
    assert len(made) == len(shown)
    limits = demo.inputs.season.policy.outcome_thresholds.limits
    for square, row in zip(made, shown, strict=True):
        told = texts(square)
        nights = sum(row["partner"] in calls.split() for calls in demo.nights["partners_usable"])
        assert told[:3] == [
            row["partner"],
            formats.count(nights, "usable night"),
            f"best {formats.day(row['best_night'])}, {formats.chance(row['chance'], limits)}",
        ]
        mine = demo.agenda[demo.agenda["partner"] == row["partner"]]["slot_start_utc"]
        times = [formats.clock(start.tz_convert(demo.zone)) for start in mine]
        assert sorted(one for one in told if ":" in one) == sorted(times)
        assert row["partner"] in square.split("</title>")[0]
    without = [row["partner"] for row in demo.partners.to_dict("records") if not row["windows"]]
    assert without
    assert view(demo).without == f"Without a window: {formats.listed(without)}."


def test_the_best_usable_evening_is_dark_inside_the_outline(demo: Plan) -> None:
    """The best night printed is one of the outlined; no outlined field is much better than its chance."""
    for carpet, row in zip(demo.carpets, demo.partners.to_dict("records"), strict=True):
        if row["windows"]:
            night = demo.period.edges_of(row["best_night"])
            days = [carpet.dates.index(edge.astimezone(demo.zone).date()) for edge in night]
            inside = carpet.free[days[0] : days[1] + 1]
            assert inside.any()
            assert np.nanmax(carpet.chance[carpet.free]) == pytest.approx(row["chance"], abs=0.04)


@pytest.mark.parametrize(("partners", "pages"), [(1, 1), (8, 1), (13, 1), (14, 2)])
def test_twelve_squares_a_page(partners: int, pages: int) -> None:
    """One of the first thirteen has no window."""
    more = [station(f"QZ{number}ABC/P", "Far", None, 40.0, 20.0, None, 2.0) for number in range(2)]
    sites = [station(*row) for row in SITES] + more
    plan = make(sites=sites[:partners])
    found = view(plan).pages
    assert len(found) == pages
    assert max(len(page.squares) for page in found) <= 12
    shown = sum(carpet.shared.any() for carpet in plan.carpets)
    assert sum(len(page.squares) for page in found) == shown


def test_a_square_has_few_elements_whatever_the_month(demo: Plan) -> None:
    """One path a shade: five of grey, four of teal, and six of lines and marks at most; a plate a label."""
    assert all(square.count("<path") <= 15 + labels(square) for square in squares(demo))
    dense = dataclasses.replace(demo.carpets[0], chance=np.random.default_rng(1).random(demo.carpets[0].chance.shape))
    many = dataclasses.replace(demo, carpets=(dense, *demo.carpets[1:]))
    made = squares(many)[0]
    assert made.count("<path") <= 15 + labels(made)


def test_nothing_is_printed_below_seven_points(demo: Plan) -> None:
    sizes = [float(size) for square in squares(demo) for size in re.findall(r'font-size="([\d.]+)"', square)]
    assert min(sizes) >= 7.0


def test_labels_of_slots_never_overprint() -> None:
    """Forty slots on ten evenings: each label inside the square, free of every slot and of every other label."""
    place = Grid(15.0, 26.0, 4.5, 1.5, 31)
    generator = np.random.default_rng(3)
    boxes = [
        (15 + day * 4.5, 26 + quarter * 1.5, 15 + (day + 1) * 4.5, 26 + (quarter + 4) * 1.5)
        for day, quarter in zip(generator.integers(8, 18, 40), generator.integers(60, 90, 40), strict=True)
    ]
    ink = len(boxes)
    for left, top, _, foot in list(boxes):
        spot = free_spot(left, (top + foot) / 2, place, boxes)
        if spot is not None:
            boxes.append(spot)
    labels = boxes[ink:]
    assert len(labels) > 3
    for number, one in enumerate(labels):
        assert place.left <= one[0] < one[2] <= place.right
        assert place.top <= one[1] < one[3] <= place.bottom
        assert one[2] - one[0] == pytest.approx(LABEL)
        assert one[3] - one[1] == pytest.approx(SIZE)
        for other in [*boxes[:ink], *labels[:number]]:
            assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


def test_a_slot_over_midnight_goes_on_at_the_next_days_top() -> None:
    place = Grid(0.0, 0.0, 10.0, 1.0, 3)
    ink = str(carpet_charts._slots([SlotMark(1, 23.5, 24.5, "23:30")], place)[0])
    assert "M10.00 94.00h10.00v2.00" in ink
    assert "M20.00 0.00h10.00v2.00" in ink


def test_the_outline_runs_around_the_free_cells() -> None:
    """Its length is the boundary of the cells, counted cell by cell."""
    mask = np.random.default_rng(2).random((6, QUARTERS)) < 0.4
    padded = np.pad(mask, 1)
    across = (padded[1:] != padded[:-1]).sum()
    along = (padded[:, 1:] != padded[:, :-1]).sum()
    drawn = outline(mask, Grid(0.0, 0.0, 1.0, 1.0, 6))
    assert sum(float(one) for one in re.findall(r"h([\d.]+)", drawn)) == along
    assert sum(float(one) for one in re.findall(r"v([\d.]+)", drawn)) == across


def test_without_a_usable_night_the_square_says_why(demo: Plan) -> None:
    carpet = next(one for one in demo.carpets if one.free.any())
    none = dataclasses.replace(carpet, free=np.zeros_like(carpet.free))
    assert words.none_words(none, 0.25) == "never both free"
    weak = dataclasses.replace(carpet, chance=np.where(np.isfinite(carpet.chance), 0.1, np.nan))
    assert words.none_words(weak, 0.25) == "free, but the link is weak"
    assert words.none_words(carpet, 0.0) == ""


def test_nobody_with_a_window_has_no_page() -> None:
    plan = make(sites=[station(*SITES[6])])
    assert view(plan).pages == ()
    html, _ = calendar.calendar_pages(plan, with_pdf=False)
    assert "#carpets" not in html
    assert 'id="course"' in html


def test_a_long_period_has_a_page_a_calendar_month() -> None:
    first, last = dt.date(2027, 3, 20), dt.date(2027, 5, 10)
    assert carpets_view.spans(first, last) == [
        (first, dt.date(2027, 3, 31)),
        (dt.date(2027, 4, 1), dt.date(2027, 4, 30)),
        (dt.date(2027, 5, 1), last),
    ]
    assert carpets_view.spans(first, dt.date(2027, 4, 18)) == [(first, dt.date(2027, 4, 18))]


@pytest.mark.parametrize(("paper", "partners"), [("A4", 13), ("letter", 13), ("letter", 3)])
def test_carpets_and_course_keep_to_their_pages(paper: str, partners: int) -> None:
    """Six weeks, a clock change at home, calls of eight signs, four slots a night: a page each, nothing spills."""
    home = station("QM7TOR/P", "Basalt Tor", "Ines Calder", 50.5, 8.8, "Europe/Berlin", 1.8)
    sites = [dataclasses.replace(station(*row), call=f"{row[0]}/P") for row in SITES[:partners]]
    plan = make(dt.date(2027, 10, 1), partners=partners, paper=paper, home=home, sites=sites, blind="")
    slots = pd.concat([plan.agenda.iloc[:1]] * 4, ignore_index=True)
    plan = dataclasses.replace(plan, agenda=pd.concat([plan.agenda, slots], ignore_index=True))
    whole = calendar._html(calendar.calendar_view(plan), for_pdf=True)
    sections = re.findall(r'<section class="(?:carpets|moon-course)".*?</section>', whole, re.DOTALL)
    pages = len(view(plan, paper).pages)
    assert len(sections) == pages + 1
    from weasyprint import HTML

    page = whole[: whole.index("<main>")] + f"<main>{''.join(sections)}</main></body></html>"
    read = PdfReader(BytesIO(HTML(string=page).write_pdf() or b""))
    assert len(read.pages) == pages + 1
    assert "Degradation and Doppler spread" in " ".join(read.pages[-1].extract_text().split())
    assert [bool(one.mediabox.width > one.mediabox.height) for one in read.pages] == [False] * pages + [True]


def test_the_key_names_each_shade_by_the_policys_limits(demo: Plan) -> None:
    key = [told for _, told in view(demo).key]
    assert key == [
        "no slot begins",
        "chance under 25 %",
        "25 to 60 %",
        "60 to 90 %",
        "from 90 %",
        "both ends are free",
        "slot",
        "Sun within 5°",
    ]
    policy = demo.inputs.season.policy
    assert sorted(policy.outcome_thresholds.limits) == [0.25, 0.6, 0.9]
    assert policy.minimum_sun_separation_deg == 5
    bare = dataclasses.replace(demo, carpets=tuple(
        dataclasses.replace(one, near_sun=np.zeros_like(one.near_sun)) for one in demo.carpets
    ))  # fmt: skip
    assert [told for _, told in view(bare).key] == key[:-1]
