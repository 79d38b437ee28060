"""The year's pages: read back by pypdf and as HTML, every weekend and figure once, whole files or none."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import re
from functools import lru_cache
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from markupsafe import escape
from pypdf import PdfReader

from pipeline.inputs.model import DateRange
from pipeline.outlook.year import Year, make_year
from pipeline.reports import single_files, year_pages, year_view
from pipeline.reports.svg import AMBER, AMBER_TINT, GREY, HAIR, INK, PALE, TEAL, TEAL_TINT
from pipeline.reports.tables import csv_text
from pipeline.reports.writing import OutputBlocked
from pipeline.reports.year_text import year_text
from pipeline.wording import formats
from pipeline.wording.year import weekend_words
from tests.plan.months import TODAY, demo_inputs, only_partners
from tests.reports.headings import Headings


@lru_cache(maxsize=1)
def year() -> Year:
    """Three months of the demo with three partners, one of them never in reach; home is away on some nights."""
    return make_year(only_partners(demo_inputs(), "QF4LUM", "QX6ICE", "QI9TEA"), 3, TODAY)


@lru_cache(maxsize=1)
def view() -> year_view.YearView:
    return year_view.year_view(year())


@lru_cache(maxsize=1)
def files() -> dict[str, bytes]:
    return year_pages.year_files(year(), with_pdf=True)


def html() -> str:
    return files()["year.html"].decode()


def page_texts() -> list[str]:
    return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(BytesIO(files()["year.pdf"])).pages]


def test_two_landscape_pages_with_footer_and_number() -> None:
    reader = PdfReader(BytesIO(files()["year.pdf"]))
    texts = page_texts()
    assert len(texts) == 2
    for number, (page, text) in enumerate(zip(reader.pages, texts, strict=True), start=1):
        assert page.mediabox.width > page.mediabox.height
        assert f"Mutual Moon · March to May 2027 · QM7TOR Basalt Tor · 3 cm · plan {year().number}" in text
        assert f"page {number} of 2" in text
    assert reader.metadata is not None
    assert reader.metadata.title == "Mutual Moon, March to May 2027, QM7TOR Basalt Tor, 3 cm"
    assert [str(mark.title) for mark in reader.outline] == [
        "March to May 2027 at Basalt Tor",
        "Partners by months",
        year_pages.LAST_HEADING,
    ]


def test_each_weekend_stands_once_with_its_reason() -> None:
    text = page_texts()[0]
    told = year_view.told_weekends(year())
    assert told == [row for row in year().weekends.head(10).to_dict("records") if row["contacts_expected"] > 0.0]
    assert len(told) > 5
    for row, facts in zip(told, year().weekend_facts[: len(told)], strict=True):
        assert text.count(year_view.weekend_dates(row)) == 1
        assert weekend_words(facts, year().period.zone) in text
        assert year_view.weekend_figures(row) in text


def test_partners_by_months_are_the_table() -> None:
    table = view().tables[0]
    assert [row.call for row in table.rows] == ["QF4LUM", "QX6ICE", "QI9TEA"]
    assert table.months == (("Mar", "2027"), ("Apr", "2027"), ("May", "2027"))
    figures = {(row["partner"], row["month"]): row for row in year().partner_months.to_dict("records")}
    text = page_texts()[1]
    for row in table.rows:
        mine = [figures[row.call, month] for month in ("2027-03", "2027-04", "2027-05")]
        for cell, figure in zip(row.cells, mine, strict=True):
            assert (cell is None) == (figure["windows"] == 0)
            if cell is not None and figure["hours"] > 10:
                assert cell.hours == f"{figure['hours']:.0f} h"
                assert cell.hours in text
                assert cell.strong == (figure["chance"] >= 0.9)
    assert table.rows[2].best == "no window"
    assert table.rows[2].total == "none"


def test_the_course_is_told_and_drawn() -> None:
    text = page_texts()[1]
    assert (
        "The Moon comes to 27.7 degrees north and 27.7 degrees south in 2027, falling to 18.6 degrees in 2034." in text
    )
    assert all(str(number) in text for number in range(2018, 2039))


def test_one_path_a_colour_and_only_the_colours_of_the_look() -> None:
    chart = str(view().pages[0].chart)
    assert chart.count("<path") <= 10
    used = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]+)"', chart + str(view().course)))
    assert used <= {INK, GREY, PALE, HAIR, TEAL, TEAL_TINT, AMBER, AMBER_TINT}
    assert len(re.findall(r">\d\d? dB<|>\d\.\d dB<", chart)) == 3


def test_a_bar_a_night_taller_where_it_is_quieter() -> None:
    from pipeline.reports import year_charts

    rows = year_view._rows(year(), {})
    # A bar a night: each of these months has a date without one, and no bar there.
    assert [len(row.cells) for row in rows] == [30, 29, 30]
    assert [cell.day for cell in rows[0].cells] == [date.day for date in year().period.dates if date.month == 3]
    assert [row.label for row in rows] == ["Mar 2027", "Apr 2027", "May 2027"]
    quiet = [
        year_charts.Cell(day, db, 0.0, 380_000.0, False, False, True, None)
        for day, db in enumerate((0.2, 0.9, 1.1, 5.0), 1)
    ]
    chart = str(year_charts.months_chart([year_charts.MonthRow("Mar 2027", 31, quiet)], 400, 100))
    heights = [float(height) for height in re.findall(r"v([\d.]+)h-", chart)]
    # Teal ones first: two within 1 dB, then the two others; the worst keeps a sliver that can be seen.
    assert heights == sorted(heights, reverse=True)
    assert len(heights) == 4
    assert heights[3] > 0


def test_html_stands_alone_and_is_ordered() -> None:
    page = Headings()
    page.feed(html())
    assert page.faults == []
    assert page.levels[0] == 1
    assert all(after - before <= 1 for before, after in zip(page.levels, page.levels[1:], strict=False))
    assert "file:" not in html()
    assert html().count("<svg") == html().count("<title>") - 1


def test_true_minus_signs_only() -> None:
    assert not [found for text in page_texts() for found in re.findall(r"(?:^|[\s(])-\d", text)]


def test_csv_holds_a_row_a_night_and_units_in_the_names() -> None:
    rows = list(csv.DictReader(StringIO(files()["year.csv"].decode())))
    assert [row["night"] for row in rows] == [f"{date}" for date in year().period.dates]
    assert len(rows) == 89
    assert rows[0]["night"] == "2027-03-01"
    assert {"home_degradation_db", "declination_deg", "distance_km", "sun_separation_deg", "moon_up_hours"} <= set(
        rows[0]
    )
    assert rows[0]["moon_highest_utc"].endswith("Z")
    months = list(csv.DictReader(StringIO(files()["year_partners.csv"].decode())))
    assert len(months) == 9
    assert months[0]["partner"] == "QF4LUM"
    assert float(months[0]["hours"]) == year().partner_months["hours"].iloc[0]


def test_the_same_inputs_give_the_same_bytes() -> None:
    """Whatever the day; the PDF's own bytes follow from the same HTML (test_pages)."""
    again = make_year(year().inputs, 3, dt.date(2031, 1, 1))
    for_pdf = [year_pages.year_html(year_view.year_view(one), for_pdf=True) for one in (year(), again)]
    assert for_pdf[0] == for_pdf[1]
    assert csv_text(again.nights).encode() == files()["year.csv"]
    assert csv_text(again.weekends).encode() == files()["weekends.csv"]
    assert csv_text(again.partner_months).encode() == files()["year_partners.csv"]


def test_without_a_pdf_none_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = {name: content for name, content in files().items() if name != "year.pdf"}
    monkeypatch.setattr(year_pages, "year_files", lambda year, with_pdf: made)
    (tmp_path / "2027-03").mkdir()
    (tmp_path / "year.pdf").write_bytes(b"old")
    written = year_pages.write_year(year(), tmp_path, with_pdf=False)
    assert [path.name for path in written] == ["year.html", "year.csv", "weekends.csv", "year_partners.csv"]
    assert {path.name for path in tmp_path.iterdir()} - {".lock"} == {
        "2027-03", "year.html", "year.csv", "weekends.csv", "year_partners.csv",
    }  # fmt: skip


def test_a_file_that_cannot_be_replaced_leaves_all_as_they_were(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.txt").write_bytes(b"old a")
    (tmp_path / "b.txt").write_bytes(b"old b")
    rename = Path.rename

    def held(self: Path, target: Path) -> Path:
        if self.name == "b.txt":
            raise PermissionError(13, "held", str(self))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", held)
    with pytest.raises(OutputBlocked, match=r"close b\.txt and run again; nothing was lost"):
        single_files.replace_files(tmp_path, {"a.txt": b"new", "b.txt": b"new"})
    monkeypatch.undo()
    left = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.name != ".lock"}
    assert left == {"a.txt": b"old a", "b.txt": b"old b"}


@pytest.mark.parametrize(("left", "stands"), [("new", b"new"), ("old", b"old")])
def test_an_interrupted_swap_is_repaired(tmp_path: Path, left: str, stands: bytes) -> None:
    """`.old` beside a missing file: the new one was complete if it is there, else the old one comes back."""
    (tmp_path / "a.txt.old").write_bytes(b"old")
    if left == "new":
        (tmp_path / "a.txt.new").write_bytes(b"new")
    single_files.replace_files(tmp_path, {"b.txt": b"b"}, gone=())
    single_files.repair(tmp_path / "a.txt")
    assert (tmp_path / "a.txt").read_bytes() == stands
    assert {path.name for path in tmp_path.iterdir()} - {".lock"} == {"a.txt", "b.txt"}


def test_terminal_text_has_a_line_a_weekend() -> None:
    text = year_text(year(), [Path("out/year.pdf"), Path("out/year.csv")])
    lines = text.splitlines()
    assert max(len(line) for line in lines) <= 100
    for row in year_view.told_weekends(year()):
        (line,) = [one for one in lines if year_view.weekend_dates(row) in one]
        assert line.split()[0] == str(row["rank"])
        assert year_view.weekend_figures(row) in line
    assert lines[-1] == "Open: out/year.pdf"


def test_a_home_that_is_away_has_no_weekend() -> None:
    inputs = only_partners(demo_inputs(), "QF4LUM")
    away = (DateRange(dt.date(2027, 3, 1), dt.date(2027, 3, 31)),)
    inputs = dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, unavailable_dates=away))
    made = make_year(inputs, 1, TODAY)
    assert (made.weekends["contacts_expected"] == 0.0).all()
    best = made.weekends.loc[made.weekends["contacts_if_free"].idxmax()]
    why = (
        "None earns a set-up within everybody's hours. Were you free, the best would be "
        f"{year_view.weekend_dates(best.to_dict())} with {best['contacts_if_free']:.1f} contacts."
    )
    assert best["contacts_if_free"] > 0.5
    told = year_text(made, [Path("out/year.html")], 200)
    assert f"No weekend that could be used. {why}" in told
    assert year_view.year_view(made).advice_title == "No weekend that could be used"
    assert escape(why) in year_pages.year_html(year_view.year_view(made), for_pdf=True)


def test_dates_of_weekends_in_words() -> None:
    def words(first: dt.date, last: dt.date) -> str:
        return year_view.weekend_dates({"weekend_start": first, "weekend_end": last})

    # The Gregorian calendar: 12 March 2027 is a Friday, 31 December 2027 as well.
    assert words(dt.date(2027, 3, 12), dt.date(2027, 3, 14)) == "Fri 12 to Sun 14 March 2027"
    assert words(dt.date(2027, 4, 30), dt.date(2027, 5, 2)) == "Fri 30 April to Sun 2 May 2027"
    assert words(dt.date(2027, 12, 31), dt.date(2028, 1, 2)) == "Fri 31 December 2027 to Sun 2 January 2028"
    assert words(dt.date(2027, 3, 13), dt.date(2027, 3, 13)) == "Sat 13 March 2027"
    assert year_view.months_title([(2027, 3)]) == "March 2027"
    assert [year_view.months_a_page(count) for count in (1, 12, 13, 14, 24)] == [1, 12, 7, 7, 12]
    assert formats.period_title(dt.date(2027, 3, 1), dt.date(2027, 3, 31)) == year_view.months_title([(2027, 3)])
