"""The partners' page: every window that both ends can use on one line, traced to the plan; nine partners on a sheet."""

import dataclasses
import datetime as dt
import re

import numpy as np
import pytest

from pipeline.plan.plan import Plan
from pipeline.reports import calendar, partner_view, skylines
from pipeline.reports.moon_tracks import MoonTracks
from pipeline.reports.partner_view import CELL_WIDTH, lines_of, partners_view
from pipeline.reports.places import fonts_folder
from pipeline.reports.views import PAPERS, UsableRow
from pipeline.wording import formats
from tests.plan.months import month_plan
from tests.reports.month_layout import calendar_beside, section_pages, words

TAB = 16.2
SIZE = 7.5


@pytest.fixture(scope="module")
def plan() -> Plan:
    return month_plan()


def words_of(row: UsableRow) -> str:
    return re.sub(r"<svg.*?</svg>", "", str(row.cell)) + row.chance


def figures(text: str) -> list[float]:
    return [float(one.replace("\u2212", "-")) for one in re.findall(r"[+\u2212]?\d+(?:\.\d+)?", text)]


def test_every_usable_window_is_a_line_and_no_other(plan: Plan) -> None:
    lines = lines_of(plan)
    usable = {one.window for one in plan.usable_windows}
    slots = {(slot.call, slot.start) for slot in plan.slots}
    shown = {one.window for own in lines.values() for one in own}
    assert usable <= shown
    assert {(call, one.start) for call, own in lines.items() for one in own if one.label} == slots
    assert all(one.window in usable or one.label for own in lines.values() for one in own)
    view = partners_view(plan, PAPERS["A4"])
    assert [block.call for block in view.blocks] == [one.call for one in plan.inputs.partners if one.call in lines]
    assert view.title.startswith(f"{sum(map(len, lines.values()))} times")
    assert {left.what for left in view.without} == {one.call for one in plan.inputs.partners} - set(lines)


def test_each_figure_of_a_line_is_the_plans(plan: Plan) -> None:
    view, lines = partners_view(plan, PAPERS["A4"]), lines_of(plan)
    for block in view.blocks:
        partner = plan.for_partner(block.call)
        samples, zone = partner.samples, partner.station.zone
        time = samples["time_utc"].to_numpy("datetime64[us]").astype(float)
        for row, line in zip(block.rows, lines[block.call], strict=True):
            pieces = words_of(row).split("\t")
            assert row.night.split()[:3] == formats.day(line.night).split()
            here, there = (moment.astimezone(one) for one in (plan.zone, zone) for moment in [line.start])
            assert pieces[1].startswith(f"{here:%H:%M}")
            assert pieces[2:4] == [f"{there:%a}", f"{there:%H:%M}–{line.end.astimezone(zone):%H:%M}"]
            middle = (line.start + (line.end - line.start) / 2).replace(tzinfo=None)
            at = float(np.datetime64(middle, "us").astype(float))
            for piece, end in ((pieces[4], "home"), (pieces[5], "partner")):
                azimuth, height = figures(piece)
                elevation = samples[f"{end}_elevation_deg"] + samples[f"{end}_refraction_deg"]
                assert height == pytest.approx(np.interp(at, time, elevation), abs=0.6)
                turned = np.interp(at, time, np.unwrap(np.radians(samples[f"{end}_azimuth_deg"].to_numpy())))
                assert (azimuth - np.degrees(turned) + 180) % 360 - 180 == pytest.approx(0, abs=0.6)
            assert figures(pieces[6]) == [pytest.approx(line.margin_db, abs=0.051)]
            window = plan.windows.iloc[line.window]
            assert window["window_start_utc"] <= line.start < line.end <= window["window_end_utc"] + dt.timedelta(0)
            limits = plan.inputs.season.policy.outcome_thresholds.limits
            assert row.chance == formats.chance(line.chance, limits)


def test_columns_end_before_the_stop_at_which_the_next_begins() -> None:
    """Widths by the font itself; CSS Text 3 leaves half a figure's room before a stop, else the next one is taken."""
    from fontTools.ttLib import TTFont

    widest = {"Wed": 1, "16:15–17:15": 3, "271°\u2007\u2007\u200721°": 3, "\u2007+8.2": 2}
    for name in ("Regular", "Semibold"):
        with TTFont(fonts_folder() / f"SourceSansPro-{name}.otf") as font:
            letters, advance, unit = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
            figure = advance[letters[ord("0")]][0]
            for text, stops in widest.items():
                # Figures are all as wide as a nought.
                width = sum(figure if one.isdigit() else advance[letters[ord(one)]][0] for one in text)
                assert (stops - 1) * TAB < width * SIZE / unit < stops * TAB - figure * SIZE / unit / 2
    assert sum(widest[text] * count for text, count in zip(widest, (2, 3, 2, 1), strict=True)) * TAB < CELL_WIDTH - 45


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_nine_partners_stand_on_one_sheet(plan: Plan, paper: str) -> None:
    view = dataclasses.replace(calendar_beside(paper), partners=partners_view(plan, PAPERS[paper]))
    texts = [words(page) for page in section_pages(view, "partners", "method")]
    mine = [text for text in texts if "slot there" in text]
    assert mine == texts[:1]
    assert all(one.call in mine[0] for one in plan.inputs.partners)
    assert "QI9TEA no window: " in mine[0]
    assert calendar.LAST_HEADING in texts[1]


def section_of(plan: Plan) -> str:
    return calendar.calendar_pages(plan, with_pdf=False)[0].split('id="partners"')[1].split("</section>")[0]


def test_a_partner_without_a_usable_time_is_one_line_with_its_reason(plan: Plan) -> None:
    section = section_of(plan)
    assert len(re.findall(r"<p class=.left.[^>]*><strong>QI9TEA</strong> no window: [^<]+\.</p>", section)) == 1
    assert 'id="partner-QI9TEA"' not in section
    assert section.count('class="left"') == 1
    nobody = dataclasses.replace(plan, usable_windows=(), agenda=plan.agenda.iloc[:0])
    assert "<table" not in section_of(nobody)
    assert "no time that both can use" in section_of(nobody)


@pytest.mark.parametrize("reasons_first", [False, True])
def test_reasons_come_first_where_lines_fill_several_sheets(plan: Plan, reasons_first: bool) -> None:
    """Else they could stand alone on the last one."""
    paper = dataclasses.replace(PAPERS["A4"], height=PAPERS["A4"].height - 300.0 * reasons_first)
    view = partners_view(plan, paper)
    assert view.reasons_first == reasons_first
    there = dataclasses.replace(calendar.calendar_view(plan), partners=view)
    text = calendar._html(there, for_pdf=False).split('id="partners"')[1]
    assert (text.index("<strong>QI9TEA</strong>") < text.index("<table")) == reasons_first


def test_all_strips_have_one_scale_that_holds_every_track(plan: Plan) -> None:
    tracks = []
    for call, own in lines_of(plan).items():
        moon = MoonTracks(plan.for_partner(call).samples)
        tracks += [skylines.Track(*moon.at("home", one.start, one.end, 5), slot=bool(one.label)) for one in own]
    scale = skylines.scale_of(tracks)
    for one in tracks:
        assert np.all(scale.share(one.azimuth_deg) <= 1.0)
        assert one.highest_deg <= scale.top_deg
    sizes = {re.search(r'viewBox="([^"]+)"', str(block.strip))[1] for block in partners_view(plan, PAPERS["A4"]).blocks}
    assert len(sizes) == 1


def test_a_strip_tells_its_slots_to_whoever_cannot_see_it(plan: Plan) -> None:
    for block in partners_view(plan, PAPERS["A4"]).blocks:
        title = re.search(r"<title>(.*?)</title>", str(block.strip))[1]
        assert title.startswith("The Moon over home&#39;s skyline at ") or title.startswith("The Moon over home's")
        assert len(re.findall(r"\d+ degrees", title)) == sum(row.slot for row in block.rows)
        assert str(block.strip).count("<path") == 4 - (len(block.rows) == sum(row.slot for row in block.rows)) - (
            not any(row.slot for row in block.rows)
        )


def test_of_very_many_times_the_slots_and_the_likeliest_are_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = month_plan()
    whole = partner_view.lines_of(plan)
    monkeypatch.setattr(partner_view, "MOST_LINES", 2 * len(whole))
    lines, each = partner_view._best_lines(whole)
    assert each == 2
    for call, own in whole.items():
        slots = [line for line in own if line.label]
        rest = sorted(line.chance for line in own if not line.label)
        left = [line for line in lines[call] if not line.label]
        assert [line for line in lines[call] if line.label] == slots[:2]
        assert sorted(line.chance for line in left) == rest[len(rest) - len(left) :]
        assert len(lines[call]) == min(len(own), 2)
    shown = partner_view.partners_view(plan, PAPERS["A4"])
    assert shown.title.startswith(str(sum(map(len, whole.values()))))
    assert shown.lead.endswith("; here the slots and the likeliest times of each partner, 2 at most")
