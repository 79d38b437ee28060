"""Offsets of tonight: one sign everywhere, what a dial shows less the truth; dials, sheets and table made anew."""

from __future__ import annotations

import csv
import dataclasses
import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.inputs.model import Mount
from pipeline.operating.night_track import NightTrack, make_night_track
from pipeline.pairs.feed_advice import FeedAdvice
from pipeline.plan.plan import Plan
from pipeline.plan.tonight import Offsets
from pipeline.sheets.dish_sheet import dish_sheet
from pipeline.sheets.document import night_room
from pipeline.sheets.readings import offsets_words, readings
from pipeline.sheets.setup_sheet import setup_sheet
from tests.conftest import Type
from tests.sheets.invented_agenda import NIGHT, night_plan
from tests.sheets.test_night_cli import NIGHT as TYPED
from tests.sheets.test_night_cli import mutual_moon as mutual_moon

ROWS = 45
EACH = Mount(inclinometer_offset_deg={"horizontal": 0.5, "vertical": -1.5})  # type: ignore[arg-type]


def _track(plan: Plan) -> NightTrack:
    slots = [(slot.start, slot.end) for slot in plan.night(NIGHT).slots]
    return make_night_track(plan.inputs, NIGHT, plan.period.edges_of(NIGHT), slots)


def test_a_dial_that_shows_more_is_dialled_higher() -> None:
    """North is passed: 359 with a dial that shows 3.4 too much is dialled 2.4."""
    plan = night_plan()
    track = _track(plan)
    north = dataclasses.replace(track.moon, azimuth_deg=np.full(track.time_s.size, 359.0))
    shown = readings(dataclasses.replace(track, moon=north), (), "horizontal", Mount(), Offsets(3.4, {}))
    assert shown.dial_deg == pytest.approx(2.4)
    given = Offsets(None, {"horizontal": -0.2})
    assert readings(track, (), "horizontal", EACH, given).inclinometer_deg == pytest.approx(
        track.apparent_elevation_deg - 0.2
    )


def test_a_turned_box_carries_another_inclinometer() -> None:
    """The second slot turned: from the end of the first to its own end the vertical offset holds."""
    plan = night_plan()
    first, second, third = plan.night(NIGHT).slots
    level, upright = (
        [dataclasses.replace(one, feed_advice=advice) for one in (first, second, third)]
        for advice in (FeedAdvice.LEAVE, FeedAdvice.TURN_HOME)
    )
    track = _track(plan)
    shown = readings(track, [level[0], upright[1], level[2]], "rotatable", EACH, Offsets())
    turned = (track.time_utc > first.end) & (track.time_utc <= second.end)
    assert turned.any()
    assert (shown.inclinometer_offset_deg == np.where(turned, -1.5, 0.5)).all()
    tonight = readings(track, [level[0], upright[1], level[2]], "rotatable", EACH, Offsets(None, {"vertical": 2.0}))
    assert (tonight.inclinometer_offset_deg == np.where(turned, 2.0, 0.5)).all()


def test_dish_sheet_and_table_hold_the_same_offsets() -> None:
    plan = night_plan()
    offsets = Offsets(3.4, {"horizontal": -0.2, "vertical": -0.2})
    track = _track(plan)
    night = dataclasses.replace(plan.night(NIGHT), offsets=offsets)
    sheet = dish_sheet(night, track, ROWS)
    table = night_room(plan, NIGHT, False, offsets=offsets).files["pointing.csv"]
    assert isinstance(table, bytes)
    rows = list(csv.DictReader(io.StringIO(table.decode())))
    by_minute = {row["time_utc"][11:16]: row for row in rows}
    step = plan.inputs.home.mount.dial_resolution_deg
    for line in (line for block in sheet.blocks for line in block):
        row = by_minute[line.utc]
        off = (float(line.azimuth) - float(row["azimuth_deg"]) - 3.4 + 180.0) % 360.0 - 180.0
        assert abs(off) <= step / 2 + 1e-9
        assert float(row["dial_deg"]) == pytest.approx((float(row["azimuth_deg"]) + 3.4) % 360.0)
        shown = float(line.inclinometer.replace("\N{MINUS SIGN}", "-"))
        assert abs(shown - float(row["apparent_elevation_deg"]) + 0.2) <= step / 2 + 1e-9
        assert (row["dial_offset_deg"], row["inclinometer_offset_deg"]) == ("3.4", "-0.2")
    for words in (sheet.readings, setup_sheet(night).dial_note):
        assert "Tonight's offsets are in: dial +3.4°, inclinometer −0.2°." in words
    assert "turn the ring" not in sheet.readings
    plain = dish_sheet(plan.night(NIGHT), track, ROWS)
    assert (
        "For no offset on grain silo turn the ring to 231.4°; else type night 2027-03-13 --dial-offset."
        in plain.readings
    )
    assert "dial 0, inclinometer 0 (station file)" in plain.readings
    assert setup_sheet(plan.night(NIGHT)).dial_note.startswith("Offset = shown less true.")


@pytest.mark.parametrize(
    ("offsets", "feed", "words"),
    [
        (Offsets(), "rotatable", "Offsets in: dial 0, inclinometer "
         "+0.5° feed horizontal, −1.5° feed vertical (station file)."),
        (Offsets(), "vertical", "Offsets in: dial 0, inclinometer −1.5° (station file)."),
        (Offsets(-2.0, {"vertical": 0.1}), "rotatable", "Tonight's offsets are in: dial −2.0°, inclinometer "
         "+0.5° feed horizontal, +0.1° feed vertical (station file and tonight)."),
    ],
)  # fmt: skip
def test_words(offsets: Offsets, feed: str, words: str) -> None:
    assert offsets_words(EACH, offsets, feed) == words


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (("--dial-offset", "east"), "east: degrees are meant, what the dial shows less the truth, such as 3.4"),
        (("--dial-offset", "nan"), "nan: an offset from -360 to 360 degrees is meant"),
        (("--inclinometer-offset", "95"), "95: an offset from -90 to 90 degrees is meant"),
        (("--inclinometer-offset", "level=1"), "level=1: degrees are meant, or horizontal=0.2 or vertical=-0.4"),
    ],
)  # fmt: skip
def test_one_sentence_for_a_wrong_offset(mutual_moon: Type, typed: tuple[str, ...], told: str) -> None:
    assert mutual_moon("night", TYPED, *typed) == (2, "", f"{typed[0]} {told}\n")


def test_typed_at_the_site(mutual_moon: Type, tmp_path: Path) -> None:
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    code, out, err = mutual_moon("night", TYPED, "--no-pdf", "--dial-offset", "3.4", "--inclinometer-offset", "-0.2")
    assert (code, err) == (0, "")
    assert "Tonight's offsets are in: dial +3.4°, inclinometer −0.2°. Give them again each time" in out
    folder = tmp_path / "out" / "2027-03-12_2027-03-15" / "nights" / TYPED
    rows: list[dict[str, Any]] = list(csv.DictReader(io.StringIO((folder / "pointing.csv").read_text("utf-8"))))
    assert {(row["dial_offset_deg"], row["inclinometer_offset_deg"]) for row in rows} == {("3.4", "-0.2")}
    assert "offsets are in: dial +3.4°, inclinometer −0.2°." in (folder / "sheets.html").read_text("utf-8")
