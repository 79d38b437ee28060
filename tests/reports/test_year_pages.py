"""The year's pages: read back by pypdf and as HTML, every weekend and figure once, whole files or none."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import math
import re
import subprocess
from functools import lru_cache
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from fontTools.ttLib import TTFont
from markupsafe import escape
from pypdf import PdfReader

from pipeline.inputs.model import DateRange
from pipeline.outlook.weekends import WeekendPartner
from pipeline.outlook.year import Year, make_year
from pipeline.reports import (
    browser,
    single_files,
    year_charts,
    year_pages,
    year_view,
    year_weekend_charts,
    year_weekends_view,
)
from pipeline.reports.places import fonts_folder, templates_folder
from pipeline.reports.svg import AMBER, AMBER_TINT, GREY, HAIR, INK, PALE, TEAL, TEAL_TINT
from pipeline.reports.tables import csv_text
from pipeline.reports.writing import OutputBlocked
from pipeline.reports.year_text import year_text
from pipeline.reports.year_weekends_view import told_weekends, weekend_dates, weekend_figures
from pipeline.wording import formats
from pipeline.wording.year import MOST_LETTERS, weekend_words
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


def test_portrait_pages_with_footer_number_and_bookmarks() -> None:
    reader = PdfReader(BytesIO(files()["year.pdf"]))
    texts = page_texts()
    assert len(texts) == 2
    for number, (page, text) in enumerate(zip(reader.pages, texts, strict=True), start=1):
        assert page.mediabox.width < page.mediabox.height
        assert f"Mutual Moon · March to May 2027 · QM7TOR Basalt Tor · 3 cm · plan {year().number}" in text
        assert f"page {number} of 2" in text
    assert reader.metadata is not None
    assert reader.metadata.title == "Mutual Moon, March to May 2027, QM7TOR Basalt Tor, 3 cm"
    assert [str(getattr(mark, "title", "")) for mark in reader.outline] == [
        "The year by what can be worked",
        view().advice_title,
        "The months at a glance",
        "Partners by months",
        "How far the Moon climbs",
    ]


def weekends() -> list[dict[str, Any]]:
    return year().weekends.sort_values("weekend_start").to_dict("records")


def test_a_row_a_weekend_in_order_with_its_figures() -> None:
    (page,) = view().weekends
    text = page_texts()[0]
    assert len(page.rows) == len(weekends()) == 13
    of = {
        row["weekend_start"]: mine
        for row, mine in zip(year().weekends.to_dict("records"), year().weekend_partners, strict=True)
    }
    away = {dt.date(2027, 3, 12): "away Fri", dt.date(2027, 3, 19): "away 2 nights"}
    for row, figures in zip(page.rows, weekends(), strict=True):
        start, contacts, free = (figures[name] for name in ("weekend_start", "contacts_expected", "contacts_if_free"))
        partners = of[start]
        assert row.day == ("" if start.weekday() == 4 else "Sat ") + str(start.day)
        assert row.note == away.get(start, "")
        assert row.contacts == (f"{contacts:.1f}" if contacts >= 0.05 else "under 0.1" if contacts else "–")
        assert row.if_free == (f"{free:.1f}" if free >= 0.05 else "under 0.1" if free else "–")
        assert row.rank == (figures["rank"] if figures["rank"] <= 10 and contacts else None)
        assert row.partners.split() == [partner.call for partner in partners]
        assert f"{row.contacts} {row.if_free} {row.partners}".strip() in text
        assert f"{free:.1f} if you were free" in str(row.strip) or free < 0.05
    assert [row.month for row in page.rows if row.month] == ["Mar 2027", "Apr 2027", "May 2027"]
    assert sum(row.rank is not None for row in page.rows) == len(told_weekends(year())) > 5


def test_marks_are_the_partners_and_end_at_the_sum() -> None:
    """What each partner brings adds up to the weekend; words are those of chances, most certain first."""
    for row, partners in zip(year().weekends.itertuples(), year().weekend_partners, strict=True):
        assert sum(partner.contacts for partner in partners) == pytest.approx(row.contacts_expected, abs=1e-9)
        assert sorted(partner.call for partner in partners) == sorted(row.partners.split())
        brought = [partner.contacts for partner in partners]
        assert brought == sorted(brought, reverse=True)
        for partner in partners:
            # Chance times presence, 0.9: a strong contact of 90 % brings 0.81, a workable one of half 0.45.
            assert {"strong": 0.81, "workable": 0.45, "marginal": 0.09}[partner.outcome] <= partner.contacts + 1e-9
    place = year_weekend_charts.MarksPlace(100.0, 208.0, 500.0, 4)
    one = WeekendPartner("QA1AA", 0.9, "strong"), WeekendPartner("QB1BB", 0.1, "marginal")
    marks = [year_weekend_charts.WeekendMarks(one, 1.0, 3.0), year_weekend_charts.WeekendMarks((), 0.0, 0.0)]
    chart = str(year_weekend_charts.weekends_chart(marks, place, 12.0, "title"))
    # 50 points a contact from 104 on: tick at 154, line to 254; discs at the middles of 45 and 5 points, the second as
    # small as its share.
    assert "M154.00" in chart
    assert "H254.00" in chart
    assert f"M{104 + 22.5 - 3.4:.2f}" in chart
    assert f"M{104 + 47.5 - 2.3:.2f}" in chart
    assert chart.count("<path") == 5


def test_an_axis_has_room_for_its_figures() -> None:
    assert year_weekend_charts.axis_figures(1) == [0, 1]
    assert year_weekend_charts.axis_figures(8) == list(range(9))
    assert year_weekend_charts.axis_figures(12) == [0, 2, 4, 6, 8, 10, 12]
    assert year_weekend_charts.axis_figures(47)[:3] == [0, 10, 20]
    rows = [year_weekend_charts.WeekendMarks((), 2.0, 2.0), year_weekend_charts.WeekendMarks((), 0.5, 3.2)]
    assert year_weekend_charts.axis_end(rows) == 4
    assert year_weekend_charts.axis_end(rows[:1]) == 2
    assert year_weekend_charts.axis_end([]) == 1


def test_each_told_weekend_stands_once_with_its_reason() -> None:
    text = " ".join(page_texts())
    told = told_weekends(year())
    assert told == [row for row in year().weekends.head(10).to_dict("records") if row["contacts_expected"] > 0.0]
    assert len(told) > 5
    for row, facts in zip(told, year().weekend_facts[: len(told)], strict=True):
        line = f"{row['rank']}. {weekend_dates(row)}: {weekend_figures(row)}"
        assert text.count(line) == 1
        assert weekend_words(facts, year().period.zone) in text
    # Each row that is told leads to its reason and back.
    for rank, row in enumerate(told, start=1):
        anchor = f"weekend-{row['weekend_start']}"
        assert html().count(f'href="#best-{rank}"') == html().count(f'id="best-{rank}"') == 1
        assert html().count(f'href="#{anchor}"') == html().count(f'id="{anchor}"') == 1


def test_the_pictures_tell_their_message() -> None:
    """Alternative texts against the tables."""
    chart = re.search("<title>(.*?)</title>", str(view().weekends[0].chart))
    months = re.search("<title>(.*?)</title>", str(view().months[0].chart))
    course = re.search("<title>(.*?)</title>", str(view().course))
    assert chart
    assert months
    assert course
    best, nothing = year().weekends.iloc[0], (year().weekends["contacts_expected"] == 0.0).sum()
    start = best["weekend_start"]
    name = {3: "March", 4: "April", 5: "May"}[start.month]
    assert f"most on {start.day} {name} ({best['contacts_expected']:.1f})" in chart[1]
    assert f"on {nothing} of 13 weekends nobody can be met" in chart[1]
    night = year().nights.set_index("rank").loc[1]
    assert f"most on {formats.day(night['night'])} ({night['contacts_expected']:.1f})" in months[1]
    quiet = year().nights.loc[year().nights["home_degradation_db"].idxmin(), "night"]
    assert f"quietest at home on {formats.day(quiet)}" in months[1]
    years = year().course.years.tolist()
    north = dict(zip(years, year().course.north_deg.tolist(), strict=True))
    most, least = max(north, key=lambda one: north[one]), min(north, key=lambda one: north[one])
    assert f"most in {most} ({north[most]:.1f} degrees), least in {least} ({north[least]:.1f} degrees)" in course[1]
    assert f"{north[2027]:.1f} degrees in 2027" in course[1]


def test_partners_by_months_are_the_table() -> None:
    table = view().tables[0]
    assert [row.call for row in table.rows] == ["QF4LUM", "QX6ICE", "QI9TEA"]
    assert table.months == (("Mar", "2027"), ("Apr", "2027"), ("May", "2027"))
    figures = {(row["partner"], row["month"]): row for row in year().partner_months.to_dict("records")}
    text = " ".join(page_texts())
    limits = year().inputs.season.policy.outcome_thresholds
    words: set[str] = set()
    for row in table.rows:
        mine = [figures[row.call, month] for month in ("2027-03", "2027-04", "2027-05")]
        for cell, figure in zip(row.cells, mine, strict=True):
            words.add(cell.word)
            if not figure["windows"]:
                assert (cell.word, cell.nights) == ("–", "")
            elif not figure["nights_usable"]:
                assert (cell.word, cell.nights) == ("no slot", "")
            else:
                reached = [
                    one for one in ("marginal", "workable", "strong") if figure["chance"] >= getattr(limits, one)
                ]
                # QX6ICE is known in part alone: never strong.
                assert cell.word == ("workable" if row.call == "QX6ICE" and reached[-1] == "strong" else reached[-1])
                assert cell.nights.split()[0] == str(figure["nights_usable"])
        assert f"{row.words.expandtabs(1)} {row.nights}" in text
        total = sum(figure["nights_usable"] for figure in mine)
        assert row.nights == (f"{total} night{'s' if total > 1 else ''}" if total else "no night")
        hours = sum(figure["hours"] for figure in mine)
        assert row.hours == (f"{hours:.0f} h" if hours > 10 else "none")
        some = [figure for figure in mine if figure["nights_usable"]]
        if some:
            best = max(some, key=lambda figure: round(figure["chance"], 3))
            assert row.best.endswith(f" on {formats.day(best['best_night'])}")
            assert row.best.startswith(formats.chance(best["chance"], limits.limits))
    assert words >= {"–", "strong", "workable"}
    assert table.rows[2].best == "no window"
    assert table.rows[0].strong == tuple(
        (place, 1) for place, cell in enumerate(table.rows[0].cells) if cell.word == "strong"
    )


def test_columns_of_partners_end_before_the_next_begins() -> None:
    """Widths by the font itself: a word that reaches the next stop would push the rest of its row aside."""
    faces = {}
    for weight in ("Regular", "Semibold"):
        with TTFont(fonts_folder() / f"SourceSansPro-{weight}.otf") as font:
            faces[weight] = font.getBestCmap(), {name: width for name, (width, _) in font["hmtx"].metrics.items()}
    css = (templates_folder() / "year.css").read_text(encoding="utf-8")

    def stop(rule: str) -> tuple[float, float]:
        found = re.search(re.escape(rule) + r" \{[^}]*?tab-size: ([\d.]+)pt", css)
        size = re.search(
            re.escape(rule.split(" ")[0].split(",")[0]) + r"(?: table)? \{[^}]*?font-size: ([\d.]+)pt", css
        )
        assert found
        assert size
        return float(found[1]), float(size[1])

    def wide(words: str, size: float, weight: str) -> float:
        letters, widths = faces[weight]
        # Tabular figures are 0.497 em wide, in semibold 0.536.
        return size / 1000 * sum(max(widths[letters[ord(one)]], 540 if one.isdigit() else 0) for one in words)

    tab, size = stop(".months th, .months td")
    for words in ("strong", "workable", "marginal", "unlikely", "no slot", "27 nights", "2027"):
        assert wide(words, size, "Regular") < tab - 1
    tab, size = stop(".weekends .row-words")
    for words in ("contacts", "under 0.1", "if free", "12.3"):
        assert wide(words, size, "Semibold") < tab - 0.5
    calls = "QT8NUI QJ2KAW QN1PIK QG8FEN QF4LUM QZ5KAR"
    assert len(calls) == MOST_LETTERS - 1
    assert wide(calls, size, "Semibold") + 2 * tab < year_weekends_view.WORDS_WIDTH


def test_the_course_is_told_and_drawn() -> None:
    text = page_texts()[-1]
    assert (
        "The Moon comes to 27.7 degrees north and 27.7 degrees south in 2027, falling to 18.6 degrees in 2034." in text
    )
    assert all(str(number) in text for number in range(2019, 2039, 2))
    assert all(f"{limit:.1f}" in text for limit in year().course.north_deg)


def test_one_path_a_colour_only_the_colours_of_the_look_and_nothing_small() -> None:
    charts = [str(view().weekends[0].chart), str(view().months[0].chart), str(view().course)]
    assert [chart.count("<path") <= 10 for chart in charts] == [True] * 3
    used = set(re.findall(r'(?:fill|stroke)="(#[0-9a-f]+)"', "".join(charts)))
    assert used <= {INK, GREY, PALE, HAIR, TEAL, TEAL_TINT, AMBER, AMBER_TINT, "#ffffff"}
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', "".join(charts))]
    css = (templates_folder() / "year.css").read_text(encoding="utf-8")
    sizes += [float(size) for size in re.findall(r"font-size: ([\d.]+)pt", css)]
    assert min(sizes) >= 7.0


def luminance(colour: str) -> float:
    """Relative luminance of sRGB: WCAG 2.2, `relative luminance`."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_words_stand_out_by_day_and_by_night() -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for words, each colour on each ground it stands on."""
    css = (templates_folder() / "year.css").read_text(encoding="utf-8")
    dark = css.split("prefers-color-scheme: dark")[1]
    # Each colour of charts has its counterpart by night.
    for colour in (INK, GREY, TEAL, PALE, HAIR, AMBER, TEAL_TINT, AMBER_TINT):
        assert f'="{colour}"]' in dark
    by_day = [(one, ground) for one in (INK, GREY, TEAL) for ground in ("#ffffff", TEAL_TINT)]
    by_day += [(INK, AMBER_TINT)]
    night, tint = "#12181f", "#17414b"
    by_night = [(one, ground) for one in ("#e3e8ed", "#a9b4bf", "#86c8d6") for ground in (night, tint)]
    assert all(colour in dark for pair in by_night for colour in pair)
    for words, ground in by_day + by_night:
        light, dim = sorted((luminance(words), luminance(ground)), reverse=True)
        assert (light + 0.05) / (dim + 0.05) >= 4.5, (words, ground)


def test_a_bar_a_night_by_its_contacts_and_what_it_costs() -> None:
    rows = list(year_view.month_rows(year()).values())
    nights = year().nights
    # A bar a night: each of these months has a date without one, and no bar there.
    assert [len(row.cells) for row in rows] == [30, 29, 30]
    cells = [cell for row in rows for cell in row.cells]
    assert [cell.day for cell in cells] == [date.day for date in year().period.dates]
    assert [cell.contacts for cell in cells] == nights["contacts_expected"].tolist()
    assert [cell.loss_db for cell in cells] == nights["home_degradation_db"].tolist()
    assert [cell.near_sun for cell in cells] == (nights["sun_separation_deg"] < 12.0).tolist()
    assert [cell.weekend for cell in cells] == [date.weekday() in (4, 5, 6) for date in year().period.dates]
    assert [cell.away for cell in cells].count(True) == 4
    scales = year_charts.scales_of(rows)
    assert scales.contacts == nights["contacts_expected"].max()
    for (number, row), month in zip(enumerate(rows, start=3), ("Mar", "Apr", "May"), strict=True):
        mine = nights[[date.month == number for date in nights["night"]]]
        best = mine.loc[mine["contacts_expected"].idxmax()]
        assert row.left == (f"{month} 2027", f"{best['contacts_expected']:.1f} on the {best['night'].day}")
        assert row.right == (
            f"{round(mine['distance_km'].min() / 1000)},000 km",
            f"{mine['home_degradation_db'].min():.1f} dB",
        )


def test_bars_are_as_tall_as_their_figures() -> None:
    def cell(day: int, contacts: float, loss_db: float, weekend: bool) -> year_charts.Cell:
        return year_charts.Cell(day, contacts, loss_db, 0.0, False, weekend, False, None)

    cells = [cell(1, 2.0, 1.0, True), cell(2, 1.0, 2.0, True), cell(3, 1.0, 9.0, False), cell(4, 0.0, math.nan, True)]
    row = year_charts.MonthRow(("Mar 2027", ""), ("", ""), 31, cells)
    assert year_charts.scales_of([row]) == year_charts.Scales(2.0, 3.0)
    chart = str(year_charts.months_chart([row], year_charts.Scales(2.0, 4.0), 400, 100, ""))
    up, down = year_charts.UP * 100, year_charts.DOWN * 100
    assert [float(one) for one in re.findall(r"v-([\d.]+)", chart)] == pytest.approx([up, up / 2, up / 2])
    found = [float(one) for one in re.findall(r"M[\d.]+ [\d.]+v([\d.]+)", chart)]
    assert found == pytest.approx([down / 4 - 0.6, down / 2 - 0.6, down - 0.6], abs=0.01)


def test_html_stands_alone_and_is_ordered() -> None:
    page = Headings()
    page.feed(html())
    assert page.faults == []
    assert page.levels[0] == 1
    assert all(after - before <= 1 for before, after in zip(page.levels, page.levels[1:], strict=False))
    assert "file:" not in html()
    assert html().count("<svg") == html().count("<title>") - 1


def test_no_page_is_wider_than_the_glass(tmp_path: Path) -> None:
    """Laid out by the machine's browser on telephones and a desk: what is wide is pushed in its own box."""
    program = browser.find()
    if program is None:
        pytest.skip("no browser on this machine")
    widths = (320, 360, 430, 1280)
    frames = "".join(f'<iframe width="{one}" height="800" srcdoc="{escape(html())}"></iframe>' for one in widths)
    asks = (
        "onload = () => { const f = [...document.querySelectorAll('iframe')]; const told = f.map(one => "
        "one.contentDocument.documentElement.scrollWidth + ' ' + Math.max(...[...one.contentDocument.querySelectorAll("
        "'section')].map(part => part.scrollWidth - part.clientWidth))); "
        "document.body.innerHTML = '<p>' + told.join(', ') + '</p>'; }"
    )
    page = tmp_path / "frames.html"
    page.write_text(
        f"<!DOCTYPE html><meta charset='utf-8'><body>{frames}<script>{asks}</script></body>", encoding="utf-8"
    )
    command = [
        str(program), "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--dump-dom",
        f"--user-data-dir={tmp_path / 'profile'}", page.as_uri(),
    ]  # fmt: skip
    dom = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
    told = re.search(r"<p>([\d ,]+)</p>", dom)
    assert told
    # Sections cut what is too wide for them: nothing is.
    assert told[1] == ", ".join(f"{one} 0" for one in widths)


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
    assert float(months[0]["hours"]) == round(year().partner_months["hours"].iloc[0], 3)


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
    for row, partners in zip(told_weekends(year()), year().weekend_partners, strict=False):
        (line,) = [one for one in lines if weekend_dates(row) in one]
        assert line.split()[0] == str(row["rank"])
        figures = [f"{row[name]:.1f}" for name in ("contacts_expected", "contacts_if_free")]
        told = line.split(weekend_dates(row))[1].split()
        assert told == [*figures, *(partner.call for partner in partners)]
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
        f"{weekend_dates(best.to_dict())} with {best['contacts_if_free']:.1f} contacts."
    )
    assert best["contacts_if_free"] > 0.5
    told = year_text(made, [Path("out/year.html")], 200)
    assert f"No weekend that could be used. {why}" in told
    assert year_view.year_view(made).advice_title == "No weekend that could be used"
    assert escape(why) in year_pages.year_html(year_view.year_view(made), for_pdf=True)


def test_dates_of_weekends_in_words() -> None:
    def words(first: dt.date, last: dt.date) -> str:
        return weekend_dates({"weekend_start": first, "weekend_end": last})

    # The Gregorian calendar: 12 March 2027 is a Friday, 31 December 2027 as well.
    assert words(dt.date(2027, 3, 12), dt.date(2027, 3, 14)) == "Fri 12 to Sun 14 March 2027"
    assert words(dt.date(2027, 4, 30), dt.date(2027, 5, 2)) == "Fri 30 April to Sun 2 May 2027"
    assert words(dt.date(2027, 12, 31), dt.date(2028, 1, 2)) == "Fri 31 December 2027 to Sun 2 January 2028"
    assert words(dt.date(2027, 3, 13), dt.date(2027, 3, 13)) == "Sat 13 March 2027"
    assert year_view.months_title([(2027, 3)]) == "March 2027"
    assert [year_view.months_a_page(count) for count in (1, 12, 13, 14, 24)] == [1, 12, 7, 7, 12]
    assert formats.period_title(dt.date(2027, 3, 1), dt.date(2027, 3, 31)) == year_view.months_title([(2027, 3)])
