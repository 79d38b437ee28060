"""Offsets of tonight: one sign everywhere, what a dial shows less the truth; dials, sheets and table made anew."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.model import Mount
from pipeline.operating.night_track import NightTrack, make_night_track
from pipeline.pairs.feed_advice import FeedAdvice
from pipeline.plan.plan import Plan
from pipeline.plan.tonight import Offsets
from pipeline.sheets.dish_sheet import dish_sheet
from pipeline.sheets.document import night_room
from pipeline.sheets.kept_offsets import OFFSETS_NAME, offsets_in, offsets_text
from pipeline.sheets.readings import offsets_words, readings
from pipeline.sheets.setup_sheet import setup_sheet
from pipeline.sheets.tonight import TONIGHT
from tests.conftest import Type
from tests.sheets.invented_agenda import NIGHT, night_plan
from tests.sheets.test_night_cli import NIGHT as TYPED
from tests.sheets.test_night_cli import mutual_moon as mutual_moon

pytestmark = pytest.mark.usefixtures("plans_made_once")

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
    upright[1] = dataclasses.replace(upright[1], again_tonight=None)
    shown = readings(track, [level[0], upright[1], level[2]], "rotatable", EACH, Offsets())
    turned = (track.time_utc > first.end) & (track.time_utc <= second.end)
    assert turned.any()
    assert (shown.inclinometer_offset_deg == np.where(turned, -1.5, 0.5)).all()
    tonight = readings(track, [level[0], upright[1], level[2]], "rotatable", EACH, Offsets(None, {"vertical": 2.0}))
    assert (tonight.inclinometer_offset_deg == np.where(turned, 2.0, 0.5)).all()


def test_in_a_fall_back_the_box_stands_as_in_its_slot() -> None:
    """The second slot turned, its fall-back behind the third, which is not."""
    plan = night_plan()
    first, second, third = plan.night(NIGHT).slots
    track = _track(plan)
    turned = dataclasses.replace(second, feed_advice=FeedAdvice.TURN_HOME)
    slots = [dataclasses.replace(one, feed_advice=FeedAdvice.LEAVE) for one in (first, third)]
    shown = readings(track, [slots[0], turned, slots[1]], "rotatable", EACH, Offsets())
    assert second.again_tonight is not None
    start, end = second.again_tonight
    held = (track.time_utc >= start) & (track.time_utc <= end)
    assert held.sum() > 30
    assert (shown.inclinometer_offset_deg[held] == -1.5).all()
    assert (shown.inclinometer_offset_deg[(track.time_utc > third.start) & (track.time_utc < start)] == 0.5).all()


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
    assert "Tonight's offsets are in: dial +3.4°, inclinometer −0.2°." in sheet.readings
    aims, without = setup_sheet(night), setup_sheet(plan.night(NIGHT))
    assert aims.dial_note.endswith("All aims here are true: to dial them add dial +3.4°, inclinometer −0.2°.")
    assert (aims.sky, aims.steps) == (without.sky, without.steps)
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
    assert "Tonight's offsets are in: dial +3.4°, inclinometer −0.2°. Kept for this night" in out
    folder = tmp_path / "out" / "2027-03-12_2027-03-15" / "nights" / TYPED
    rows: list[dict[str, Any]] = list(csv.DictReader(io.StringIO((folder / "pointing.csv").read_text("utf-8"))))
    assert {(row["dial_offset_deg"], row["inclinometer_offset_deg"]) for row in rows} == {("3.4", "-0.2")}
    assert "offsets are in: dial +3.4°, inclinometer −0.2°." in (folder / "sheets.html").read_text("utf-8")


def held(folder: Path) -> tuple[str, float, str]:
    """The dial offset of table and telephone page, and what the sheets say, all of the folder."""
    rows = list(csv.DictReader(io.StringIO((folder / "pointing.csv").read_text("utf-8"))))
    (table,) = {row["dial_offset_deg"] for row in rows}
    data = re.search(r'<script type="application/json" id="data">(.*?)</script>', (folder / TONIGHT).read_text("utf-8"))
    assert data is not None
    sheet = re.search(
        r"offsets are in: dial ([^,]+),|Offsets in: dial ([^,]+),", (folder / "sheets.html").read_text("utf-8")
    )
    assert sheet is not None
    return table, json.loads(data[1])["dial_offset_deg"], sheet[1] or sheet[2]


def test_typed_once_they_are_kept_until_they_are_cleared(mutual_moon: Type, tmp_path: Path) -> None:
    """Through a re-plan at the site, sheets made again, and a new plan; sheets, table and page alike."""
    assert mutual_moon("plan", "--no-pdf")[0] == 0
    folder = tmp_path / "out" / "2027-03-12_2027-03-15" / "nights" / TYPED
    assert (
        mutual_moon("night", TYPED, "--no-pdf", "--dial-offset", "3.4", "--inclinometer-offset", "vertical=0.4")[0] == 0
    )
    kept = (folder / OFFSETS_NAME).read_bytes()
    for words in (["night", TYPED, "--after", "20:10Z"], ["night", TYPED], ["plan"]):
        code, out, err = mutual_moon(*words, "--no-pdf")
        assert (code, err) == (0, "")
        assert held(folder) == ("3.4", 3.4, "+3.4°")
        assert (folder / OFFSETS_NAME).read_bytes() == kept
        if words[0] == "night":
            assert "dial +3.4°" in out
    # One of the two changes alone, then each goes.
    out = mutual_moon("night", TYPED, "--no-pdf", "--dial-offset", "0")[1]
    assert held(folder) == ("0.0", 0.0, "0")
    assert "feed vertical" in out
    out = mutual_moon("night", TYPED, "--no-pdf", "--inclinometer-offset", "file")[1]
    assert "Nothing is kept for this night any more." in out
    assert not (folder / OFFSETS_NAME).exists()
    assert "offset" not in mutual_moon("night", TYPED, "--no-pdf")[1].lower()


def test_a_dial_that_is_right_now_is_told_apart_from_an_inclinometer_at_nought() -> None:
    """Nought of the dial is no offset; nought of the inclinometer stands in place of the station file's."""
    before = Offsets(3.4, {"horizontal": -0.2})
    assert before.changed(None, {}) == before
    assert before.changed(0.0, {}) == Offsets(None, {"horizontal": -0.2})
    assert before.changed(None, {"horizontal": 0.0, "vertical": 0.0}).of_inclinometer(EACH, "vertical") == 0.0
    assert before.changed(-1.0, {"horizontal": None}) == Offsets(-1.0, {})


def test_a_spoiled_file_of_offsets_is_told_by_its_lines(tmp_path: Path) -> None:
    for offsets in (
        Offsets(),
        Offsets(-3.25, {}),
        Offsets(None, {"vertical": 0.0}),
        Offsets(1.0, {"horizontal": -13.25}),
    ):
        (tmp_path / OFFSETS_NAME).write_text(offsets_text(offsets), "utf-8")
        assert offsets_in(tmp_path) == offsets
    (tmp_path / OFFSETS_NAME).write_text("dial,feed_position,offset_deg\nazimuth,,x\ninclinometer,up,1\n", "utf-8")
    with pytest.raises(InputFaults) as faults:
        offsets_in(tmp_path)
    assert [fault.line for fault in faults.value.faults] == [2, 3]
    assert str(faults.value).count("delete the file and give the offsets to `night` again.") == 2
