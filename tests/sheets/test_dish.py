"""The dish sheet: dials, lines, feeds and sentences against their track and plain reckoning."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import io
import math
import re
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from pypdf import PdfReader

from pipeline.inputs.model import Mount
from pipeline.operating.night_track import NightTrack, make_night_track
from pipeline.plan.plan import Plan
from pipeline.plan.tonight import Offsets
from pipeline.plan.views import Slot
from pipeline.reports.precision import rounded
from pipeline.reports.rendering import render_document
from pipeline.sheets.dish_grid import grids
from pipeline.sheets.dish_moving import step_s, step_words
from pipeline.sheets.dish_sheet import (
    DishSheet,
    dial_digits,
    dialled,
    dish_sheet,
)
from pipeline.sheets.document import sheets_document, sheets_view
from pipeline.sheets.night_data import pointing_csv
from pipeline.sheets.readings import readings
from tests.sheets.invented_agenda import EMPTY_NIGHT, NIGHT, SLOTS, night_files, night_plan, with_agenda

ROWS = 45


@cache
def _slots() -> tuple[Slot, ...]:
    return night_plan().night(NIGHT).slots


@cache
def _track(night: dt.date = NIGHT) -> NightTrack:
    plan = night_plan()
    return make_night_track(
        plan.inputs, night, plan.period.edges_of(night), [(s.start, s.end) for s in plan.night(night).slots]
    )


@cache
def _sheet(night: dt.date = NIGHT) -> DishSheet:
    plan = night_plan()
    return dish_sheet(plan.night(night), _track(night), ROWS)


def _with_mount(**changes: object) -> Plan:
    plan = night_plan()
    mount = dataclasses.replace(plan.inputs.home.mount, **changes)
    inputs = dataclasses.replace(plan.inputs, home=dataclasses.replace(plan.inputs.home, mount=mount))
    return dataclasses.replace(plan, inputs=inputs)


@pytest.mark.parametrize(
    ("resolution", "digits"), [(0.2, 1), (0.1, 1), (0.25, 2), (0.5, 1), (1.0, 0), (2.0, 0), (0.125, 2)]
)
def test_digits_of_a_dial(resolution: float, digits: int) -> None:
    assert dial_digits(resolution) == digits


def test_nearest_mark_of_a_dial() -> None:
    assert dialled([12.31, 12.49, 359.95, -0.35], 0.2) == pytest.approx([12.4, 12.4, 360.0, -0.4])


def test_lines_are_the_apparent_place_on_the_dials() -> None:
    """Half a step of the dial off at most, offset included; azimuth never 360."""
    plan = _with_mount(inclinometer_offset_deg=-1.3, dial_resolution_deg=0.25)
    track = _track()
    sheet = dish_sheet(plan.night(NIGHT), track, ROWS)
    row_of = {f"{moment:%H:%M}": row for row, moment in enumerate(track.time_utc)}
    lines = [line for block in sheet.blocks for line in block]
    for line in lines:
        row = row_of[line.utc]
        reading = float(line.inclinometer.replace("\N{MINUS SIGN}", "-"))
        assert abs(reading - (track.apparent_elevation_deg[row] - 1.3)) <= 0.125 + 1e-9
        off = (float(line.azimuth) - track.moon.azimuth_deg[row] + 180) % 360 - 180
        assert abs(off) <= 0.125 + 1e-9
        assert float(line.azimuth) < 360
        assert float(line.azimuth) % 0.25 == 0
    assert "1.3" in sheet.readings
    assert "refraction is in it" in sheet.readings


def test_every_slot_begins_and_ends_on_a_line() -> None:
    sheet = _sheet()
    for slot in _slots():
        lines = [line.utc for block in sheet.blocks for line in block if line.slot == str(slot.number)]
        assert lines[0] == f"{slot.start:%H:%M}"
        assert lines[-1] == f"{slot.end:%H:%M}"
        gaps = [_minutes_of(b) - _minutes_of(a) for a, b in pairwise(lines)]
        # The dish moves every 2 min 30 s: a line a move where the page holds them, and no wider than 3 minutes here.
        assert max(gaps) <= 3
        # One step from end to end, whatever the grid outside; the slot's last line may come sooner.
        assert len({*gaps[:-1]}) == 1
        assert f"every {gaps[0]} in slots" in sheet.grid_words


def test_a_fall_back_has_its_lines_too() -> None:
    """From its begin to its end, marked as such, no wider than an hour without a slot and no finer than a slot."""
    sheet = _sheet()
    (slot,) = [one for one in _slots() if one.again_tonight]
    assert slot.again_tonight is not None
    rows = [line for block in sheet.blocks for line in block]
    again = [line for line in rows if line.again]
    assert {line.slot for line in again} == {f"({slot.number})"}
    start, end = slot.again_tonight
    assert (again[0].utc, again[-1].utc) == (f"{start:%H:%M}", f"{end:%H:%M}")
    gaps = [_minutes_of(b.utc) - _minutes_of(a.utc) for a, b in pairwise(again)]
    assert max(gaps) <= 5
    assert f"every {max(gaps)} in fall-backs, their slot's number in brackets" in sheet.grid_words
    assert len(rows) <= 2 * ROWS


def test_grids_lose_a_slots_lines_last() -> None:
    """Going down the list slots never get finer, and no grid has more lines in a fall-back than in a slot."""
    for found in (grids(2, True, True), grids(3, True, False), grids(7, True, True), grids(2, False, False)):
        assert [one.inside for one in found] == sorted(one.inside for one in found)
        assert all(one.inside <= one.again <= one.outside for one in found)
    assert grids(3, True, True)[0].inside == 3
    assert all(one.inside == one.outside for one in grids(2, False, False))


def _minutes_of(clock: str) -> int:
    return int(clock[:2]) * 60 + int(clock[3:])


def test_the_table_starts_when_the_crew_arrives() -> None:
    first = _sheet().blocks[0][0].utc
    arrival = _slots()[0].start - dt.timedelta(minutes=night_plan().inputs.season.policy.setup_minutes.arrive)
    assert first >= f"{arrival:%H:%M}"
    assert _minutes_of(first) - _minutes_of(f"{arrival:%H:%M}") < 30


def test_lines_fit_whatever_the_pass() -> None:
    for rows in (45, 30, 20):
        sheet = dish_sheet(night_plan().night(NIGHT), _track(), rows)
        assert sum(map(len, sheet.blocks)) <= 2 * rows
        assert max(map(len, sheet.blocks)) <= rows


def test_lines_that_cannot_be_used_say_why() -> None:
    track = _track()
    row_of = {f"{moment:%H:%M}": row for row, moment in enumerate(track.time_utc)}
    lines = [line for block in _sheet().blocks for line in block]
    assert any(line.trouble for line in lines)
    for line in lines:
        assert (line.trouble == "") == bool(track.usable[row_of[line.utc]])


@pytest.mark.parametrize(
    ("half_beam_s", "step", "words"),
    [(153.3, 150.0, "2 min 30 s"), (240.0, 240.0, "4 minutes"), (89.0, 60.0, "minute"), (44.0, 40.0, "40 s")],
)
def test_how_often_is_rounded_down(half_beam_s: float, step: float, words: str) -> None:
    assert step_s(half_beam_s) == step
    assert step_words(step) == words


def test_loss_of_a_quarter_of_the_beam() -> None:
    """12 (e / beamwidth)^2 dB: 0.75 for a quarter, told as 0.8."""
    assert 12 * 0.25**2 == 0.75
    assert "0.8 dB" in " ".join(_sheet().moving)


def test_events_are_rounded_so_that_nothing_is_promised_too_early() -> None:
    events = {words.split(" at")[0]: clock for clock, words in _sheet().events}
    exact = {event.kind: event.time_utc for event in _track().events}
    assert events["rises"] == f"{exact['rises'] + dt.timedelta(minutes=1):%H:%M}"
    assert events["clears the skyline"] == f"{exact['clears the skyline'] + dt.timedelta(minutes=1):%H:%M}"
    assert events["behind the skyline"] == f"{exact['behind the skyline']:%H:%M}"


def test_stops_in_words() -> None:
    assert _sheet().mount == (
        "It turns clockwise from 200° through north to 160°, up to 70°. "
        "The Moon passes north inside this range: no turn back."
    )
    free = _with_mount(azimuth_from_deg=None, azimuth_to_deg=None, maximum_elevation_deg=90.0)
    assert (
        dish_sheet(free.night(NIGHT), _track(), ROWS).mount
        == "No azimuth stops are named for this mount; mind the cables."
    )


@pytest.mark.parametrize(
    ("own", "advice", "drawn", "words"),
    [
        ("rotatable", "turn home by 90 degrees", "vertical", "TURNED by 90°"),
        ("rotatable", "turn home or partner by 90 degrees", "vertical", "leaves theirs"),
        ("rotatable", "turn partner by 90 degrees", "horizontal", "turns theirs by 90°"),
        ("rotatable", "leave", "horizontal", "not turned: horizontal"),
        ("vertical", "neither feed can be turned", "vertical", "fixed: vertical"),
        ("horizontal", "random by Faraday rotation", "horizontal", "at random"),
        ("circular", "nothing to turn", "circular", "circular: nothing to turn"),
        ("vertical", "nothing to turn", "vertical", "not turned: vertical"),
    ],
)
def test_feed_by_the_advice(own: str, advice: str, drawn: str, words: str) -> None:
    plan = night_plan()
    band = dataclasses.replace(plan.inputs.home.bands["3cm"], polarization=own)
    home = dataclasses.replace(plan.inputs.home, bands={"3cm": band})
    inputs = dataclasses.replace(plan.inputs, home=home)
    other = dataclasses.replace(plan, inputs=inputs, agenda=plan.agenda.assign(polarization_advice=advice))
    feed = dish_sheet(other.night(NIGHT), _track(), ROWS).feeds[0]
    assert words in feed.words
    assert f"behind the dish: {drawn}" in feed.drawing


@pytest.mark.parametrize(
    ("theirs", "advice", "arrival_deg", "words"),
    [
        ("horizontal", "leave", 25.25, "25° counter-clockwise from level"),
        ("vertical", "turn home by 90 degrees", -64.74, "65° clockwise from level"),
        ("rotatable", "turn partner by 90 degrees", -64.74, "65° clockwise from level"),
        ("rotatable", "turn home or partner by 90 degrees", 25.25, "25° counter-clockwise from level"),
    ],
)
def test_how_their_signal_arrives(theirs: str, advice: str, arrival_deg: float, words: str) -> None:
    """Mid-slot of QF4LUM, 19:30 UTC: its level and its upright as vectors in space, taken to the plane that home sees
    along its beam, up towards home's zenith (astropy on DE421, Earth-fixed axes): 25.25 and -64.74 degrees.
    """
    plan = night_plan()
    partners = tuple(
        dataclasses.replace(one, bands={"3cm": dataclasses.replace(one.bands["3cm"], polarization=theirs)})
        for one in plan.inputs.partners
    )
    inputs = dataclasses.replace(plan.inputs, partners=partners)
    other = dataclasses.replace(plan, inputs=inputs, agenda=plan.agenda.assign(polarization_advice=advice))
    feed = dish_sheet(other.night(NIGHT), _track(), ROWS).feeds[1]
    assert f"{round(abs(arrival_deg))}°" in words
    assert words in feed.words
    dashed = re.search(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)"[^>]*stroke-dasharray', feed.drawing)
    assert dashed is not None
    left, low, right, high = map(float, dashed.groups())
    assert math.degrees(math.atan2(low - high, right - left)) == pytest.approx(arrival_deg, abs=1.0)


def test_nothing_arrives_at_an_angle_in_a_round_feed() -> None:
    plan = night_plan()
    band = dataclasses.replace(plan.inputs.home.bands["3cm"], polarization="circular")
    inputs = dataclasses.replace(plan.inputs, home=dataclasses.replace(plan.inputs.home, bands={"3cm": band}))
    sheet = dish_sheet(dataclasses.replace(plan, inputs=inputs).night(NIGHT), _track(), ROWS)
    assert not any(feed.shows_arrival for feed in sheet.feeds)
    assert sheet.feed_words == ""


def test_the_way_back_where_the_moon_crosses_the_stops() -> None:
    """North between the stops at 10 and 350 degrees: the Moon of this night goes from 10 to 350 over it."""
    mount = _with_mount(azimuth_from_deg=10.0, azimuth_to_deg=350.0)
    track = make_night_track(mount.inputs, NIGHT, mount.period.edges_of(NIGHT))
    at = {deg: int(np.argmin(np.abs(track.moon.azimuth_deg - deg))) for deg in (10.0, 350.0)}
    words = dish_sheet(mount.night(NIGHT), track, ROWS).mount
    stop, back = (track.time_utc[at[deg]].to_pydatetime() for deg in (10.0, 350.0))
    found = re.search(r"At (\d\d:\d\d) the Moon leaves .* long way round, to 350.0° by (\d\d:\d\d)", words)
    assert found is not None
    for clock, moment in zip(found.groups(), (stop, back), strict=True):
        assert abs(dt.datetime.combine(moment, dt.time.fromisoformat(clock), dt.UTC) - moment) <= dt.timedelta(
            minutes=1
        )
    low = _with_mount(azimuth_from_deg=None, azimuth_to_deg=None, maximum_elevation_deg=20.0)
    assert (
        "round"
        not in dish_sheet(low.night(NIGHT), make_night_track(low.inputs, NIGHT, low.period.edges_of(NIGHT)), ROWS).mount
    )


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_fine_dials_and_four_feeds_are_one_page(paper: str) -> None:
    plan = night_plan(paper)
    mount = dataclasses.replace(
        plan.inputs.home.mount, dial_resolution_deg=0.25, azimuth_from_deg=10, azimuth_to_deg=350
    )
    inputs = dataclasses.replace(plan.inputs, home=dataclasses.replace(plan.inputs.home, mount=mount))
    many = with_agenda(dataclasses.replace(plan, inputs=inputs), (SLOTS * 2)[:4])
    slots = many.night(NIGHT).slots
    track = make_night_track(inputs, NIGHT, plan.period.edges_of(NIGHT), [(s.start, s.end) for s in slots])
    view = sheets_view(many.night(NIGHT), track, ())
    pages = PdfReader(io.BytesIO(render_document(sheets_document(view, NIGHT)))).pages
    heads = [page.extract_text().replace("\n", " ") for page in pages]
    assert ["Set-up Sat" in one for one in heads] == [True, False, False, False, False, False]
    assert ["Dish Sat" in one for one in heads] == [False, True, False, False, False, False]
    assert ["Radio Sat" in one for one in heads] == [False, False, True, True, False, False]
    assert "long way round" in heads[1]


def test_more_than_four_feeds_go_on() -> None:
    plan = night_plan()
    many = with_agenda(plan, (SLOTS * 2)[:5])
    sheet = dish_sheet(many.night(NIGHT), _track(), ROWS)
    assert (len(sheet.feeds), len(sheet.more_feeds)) == (4, 1)


def test_map_names_hours_and_slots() -> None:
    drawn = str(_sheet().sky)
    for words in (">20<", ">1<", ">2<", ">3<", ">N<", "Sun"):
        assert words in drawn
    assert "nan" not in drawn


def test_pointing_table_holds_every_minute_of_the_pass() -> None:
    track, mount = _track(), Mount(inclinometer_offset_deg=2.0)  # type: ignore[arg-type]
    shown = readings(track, _slots(), "horizontal", mount, Offsets())
    rows = list(csv.DictReader(io.StringIO(pointing_csv(track, _slots(), shown, Offsets()))))
    assert len(rows) == track.time_s.size
    times = [dt.datetime.fromisoformat(row["time_utc"]) for row in rows]
    assert {b - a for a, b in pairwise(times)} == {dt.timedelta(minutes=1)}
    for name, values in (
        ("azimuth_deg", track.moon.azimuth_deg),
        ("elevation_deg", track.moon.elevation_deg),
        ("inclinometer_deg", track.apparent_elevation_deg + 2.0),
    ):
        assert np.array([float(row[name]) for row in rows]) == pytest.approx(rounded(name, values), abs=1e-12)
    assert float(rows[100]["inclinometer_deg"]) - float(rows[100]["apparent_elevation_deg"]) == pytest.approx(2.0)
    assert [row["slot_partner"] for row in rows].count("QF4LUM") == 61
    assert {row["clear_of_skyline"] for row in rows} == {"yes", "no"}


def test_night_without_slots_still_points() -> None:
    files = night_files(night_plan(), EMPTY_NIGHT, with_pdf=False)
    text = files["sheets.html"].decode()
    assert "No slot tonight" in text
    assert "Set-up" not in text
    assert len(files["pointing.csv"].splitlines()) > 600
    assert files["log.csv"].count(b"\n") == 1
    assert len(re.findall(r"kHz</td>", text)) > 20
    assert math.isfinite(_track(EMPTY_NIGHT).half_beam_s)
