"""Whom else to invite: fields, tones, corners and outlines as the plan has them; who is named of those left out."""

import dataclasses
import datetime as dt
import re
import shutil
from pathlib import Path

import pytest

from pipeline.inputs.reading import read_season_files
from pipeline.outlook.board import land_fields
from pipeline.plan.plan import Plan
from pipeline.reports import board_view, calendar
from pipeline.reports.board_view import TONES, Grid, boards_view, field_of, others_in_darkest
from pipeline.reports.svg import INK
from pipeline.reports.views import PAPERS
from tests.plan.months import SEASON_FILE, month_plan
from tests.reports.month_layout import calendar_beside, section_pages, words


@pytest.fixture(scope="module")
def plan() -> Plan:
    return month_plan()


def boxes(picture: str, colour: str) -> int:
    """How many boxes the path of a colour holds."""
    found = re.search(rf'<path d="([^"]+)" fill="{colour}"/>', picture)
    return found[1].count("z") if found else 0


def test_each_tone_has_as_many_fields_as_the_plan(plan: Plan) -> None:
    view = boards_view(plan, PAPERS["A4"])
    assert view is not None
    nights = [night for page in view.pages for row in page.rows for night in row]
    assert len(nights) == len(plan.boards)
    for night, board in zip(nights, plan.boards, strict=True):
        picture = str(night.picture)
        for tone, colour in enumerate(TONES, start=1):
            assert boxes(picture, colour) == sum(one.tone == tone for one in board.fields)
        corners = re.search(rf'<path d="([^"]+)l-3.4 -3.4z" fill="{INK}"/>', picture)
        asleep = sum(one.asleep and one.tone > 0 for one in board.fields)
        assert (corners[1].count("M") if corners else 0) == asleep
        letters = re.findall(r">([A-R]{2})</text>", picture)
        partners = {field_of(one) for one in (plan.inputs.home, *plan.inputs.partners)}
        assert set(letters) == {one.name for one in board.fields if one.tone} | partners
        assert len(letters) == len(set(letters))
        assert set(letters) - partners <= set(land_fields())


def test_slots_stand_in_the_head_and_in_heavy_outlines(plan: Plan) -> None:
    view = boards_view(plan, PAPERS["A4"])
    assert view is not None
    for page in view.pages:
        for night, board in zip([one for row in page.rows for one in row], plan.boards, strict=True):
            slots = [slot for slot in plan.slots if slot.night == board.night]
            assert night.slots == " · ".join(f"{slot.start.astimezone(plan.zone):%H:%M} {slot.call}" for slot in slots)
            outline = f'fill="none" stroke="{INK}" stroke-width="1.9"/>'
            heavy = re.search(rf'<path d="([^"]+)" {outline}', str(night.picture))
            assert heavy is not None
            assert heavy[1].count("z") == len({field_of(slot.partner) for slot in slots})


def test_the_alternative_text_tells_the_longest_and_who_is_awake(plan: Plan) -> None:
    view = boards_view(plan, PAPERS["A4"])
    assert view is not None
    for night, board in zip([one for page in view.pages for row in page.rows for one in row], plan.boards, strict=True):
        title = re.search(r"<title>(.*?)</title>", str(night.picture))
        assert title is not None
        shared = [one for one in board.fields if one.tone]
        assert f" {len(shared)} fields with land" in title[1]
        assert f"{sum(not one.asleep for one in shared)} of them awake" in title[1]
        named = re.findall(r"\b[A-R]{2}\b", title[1].split("longest")[1].split(" at most")[0])
        longest = sorted((one.shared_minutes for one in shared), reverse=True)[: len(named)]
        by_name = {one.name: one.shared_minutes for one in shared}
        assert sorted((by_name[name] for name in named), reverse=True) == longest


def test_stations_left_out_are_named_where_the_board_is_darkest(plan: Plan) -> None:
    board = plan.boards[-1]
    dark = max(board.fields, key=lambda one: one.shared_minutes)
    light = next(one for one in board.fields if 0 < one.tone < board.darkest)
    none = next(one for one in board.fields if not one.tone)
    inputs = dataclasses.replace(
        plan.inputs,
        left_out=("QA1AAA", "QB2BBB", "QC3CCC", "QM7TOR/P"),
        left_out_fields=(light.name, dark.name, none.name, dark.name),
    )
    told = dataclasses.replace(plan, inputs=inputs)
    assert others_in_darkest(told, board) == [("QB2BBB", dark.name), ("QM7TOR/P", dark.name)]
    html = calendar.calendar_pages(told, with_pdf=False)[0]
    words = f"Not a partner yet, in the fullest fields: QB2BBB ({dark.name}) and QM7TOR/P ({dark.name})."
    assert words in html
    assert "Not a partner yet" not in calendar.calendar_pages(plan, with_pdf=False)[0]


def test_the_folders_stations_left_out_come_with_their_field(tmp_path: Path) -> None:
    for file in SEASON_FILE.parent.glob("*.yaml"):
        shutil.copy(file, tmp_path)
    season = tmp_path / SEASON_FILE.name
    text = season.read_text(encoding="utf-8").replace("  - {call: QT8NUI, priority: 1, contacts_wanted: 1}\n", "")
    season.write_text(text, encoding="utf-8")
    files = read_season_files(season).files
    assert files is not None
    assert (files.left_out, files.left_out_fields) == (("QT8NUI",), ("RE",))


@pytest.mark.parametrize(("paper", "boards"), [("A4", 6), ("letter", 6), ("letter", 9)])
def test_six_boards_stand_on_a_sheet(plan: Plan, paper: str, boards: int) -> None:
    some = [plan.boards[k % len(plan.boards)] for k in range(boards)]
    dates = plan.period.dates
    many = dataclasses.replace(
        plan, boards=tuple(dataclasses.replace(one, night=dates[k]) for k, one in enumerate(some))
    )
    view = dataclasses.replace(calendar_beside(paper), boards=boards_view(many, PAPERS[paper]))
    texts = [words(page) for page in section_pages(view, "boards", "partners")]
    mine = [text for text in texts if "Whom else to invite" in text]
    assert len(mine) == (1 if boards == 6 else 2)
    assert "Asleep: 23:00 to 07:00" in mine[-1]
    assert all(f"{date:%a} {date.day} March" in "".join(mine) for date in dates[:boards])
    after = texts[texts.index(mine[-1]) + 1]
    assert "Partners " in after


def test_without_nights_there_is_no_board(plan: Plan) -> None:
    assert boards_view(dataclasses.replace(plan, boards=()), PAPERS["A4"]) is None


def test_letters_fit_their_boxes(plan: Plan) -> None:
    """Seven points and not less; widths by the font itself."""
    from fontTools.ttLib import TTFont

    from pipeline.reports.places import fonts_folder

    with TTFont(fonts_folder() / "SourceSansPro-Semibold.otf") as font:
        letters, advance, unit = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
        widest = max(sum(advance[letters[ord(one)]][0] for one in name) for name in land_fields()) / unit * 7.0
    for paper in PAPERS.values():
        grid = board_view._grid(plan, paper, 4)
        assert isinstance(grid, Grid)
        assert widest < grid.width - 2 * board_view.GAP
        assert grid.height >= 8.6
    assert dt.date(2027, 3, 13) in [board.night for board in plan.boards]
