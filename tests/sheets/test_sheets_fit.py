"""All sheets over mounts, nights and numbers of slots: one page each, no letter on another, nothing outside the paper.

What was printed is read back from the PDF by PDFium.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pytest

from pipeline.inputs.model import HorizonPoint, Mount, Position
from pipeline.operating.night_track import make_night_track
from pipeline.plan.plan import Plan
from pipeline.reports.rendering import render_document
from pipeline.sheets.dish_sheet import FEEDS_BESIDE
from pipeline.sheets.document import sheets_document, sheets_view
from pipeline.sheets.radio_sheet import SLOTS_A_PAGE
from tests.sheets.invented_agenda import EMPTY_NIGHT, NIGHT, night_plan
from tests.sheets.print_marks import APART_PT, TOUCH_PT, Page, pages_of

# What common printers leave white at the paper's edge (common practice, no source).
WHITE_PT = 14.0
HOUR = dt.timedelta(hours=1)
# Home on this half of the Earth sees this night's Moon high, the other sees it low.
NORTH = Position(latitude_deg=58.2, longitude_deg=-55.8, height_m=20.0)
NORTH_HORIZON = (HorizonPoint(0.0, 3.0), HorizonPoint(90.0, 1.0), HorizonPoint(230.0, 9.0))
MOUNTS: dict[str, Mount] = {
    "no stops": Mount(),
    "low": Mount(maximum_elevation_deg=22.0, dial_resolution_deg=0.2),
    "55 degrees": Mount(maximum_elevation_deg=55.0, dial_resolution_deg=0.5),
    "north of it": Mount(azimuth_from_deg=10.0, azimuth_to_deg=350.0, dial_resolution_deg=0.25),
    "the template's": Mount(85.0, 200.0, 160.0, inclinometer_offset_deg=-13.25, dial_resolution_deg=0.25),
    "a corner": Mount(24.0, 120.0, 240.0, inclinometer_offset_deg=1.5, dial_resolution_deg=0.25),
}


class Case(NamedTuple):
    """One night's sheets."""

    mount: str
    night: dt.date
    slots: int
    north: bool
    paper: str


CASES = [
    Case("no stops", NIGHT, 5, True, "A4"),
    Case("no stops", EMPTY_NIGHT, 3, False, "letter"),
    Case("low", NIGHT, 3, False, "A4"),
    Case("low", EMPTY_NIGHT, 1, True, "letter"),
    Case("low", NIGHT, 5, True, "letter"),
    Case("55 degrees", EMPTY_NIGHT, 3, False, "A4"),
    Case("55 degrees", EMPTY_NIGHT, 0, False, "letter"),
    Case("55 degrees", NIGHT, 2, True, "A4"),
    Case("north of it", NIGHT, 4, False, "letter"),
    Case("north of it", NIGHT, 5, False, "A4"),
    Case("north of it", NIGHT, 5, False, "letter"),
    Case("the template's", NIGHT, 5, True, "letter"),
    Case("the template's", EMPTY_NIGHT, 2, False, "A4"),
    Case("a corner", NIGHT, 4, True, "letter"),
    Case("a corner", NIGHT, 5, True, "A4"),
    Case("a corner", EMPTY_NIGHT, 3, False, "A4"),
]  # fmt: skip


def placed(case: Case) -> Plan:
    """The demo's two weeks, with this mount, home and number of slots in the pass of this night."""
    plan = night_plan(case.paper)
    changes: dict[str, Any] = {"mount": MOUNTS[case.mount]}
    changes |= {"position": NORTH, "horizon": NORTH_HORIZON} if case.north else {}
    inputs = dataclasses.replace(plan.inputs, home=dataclasses.replace(plan.inputs.home, **changes))
    # The lowest points of the demo's place serve the northern one: its Moon runs nearly the same hours.
    track = make_night_track(inputs, case.night, plan.period.edges_of(case.night))
    first, last = track.time_utc[0].ceil("15min"), track.time_utc[-1].floor("15min") - HOUR
    rows = plan.agenda.iloc[np.arange(case.slots) % len(plan.agenda)].reset_index(drop=True)
    gap = (last - first) / max(case.slots - 1, 1)
    starts = pd.DatetimeIndex([(first + gap * place).floor("15min") for place in range(case.slots)], tz="UTC")
    nowhere = pd.DatetimeIndex([pd.NaT] * case.slots, tz="UTC")
    agenda = rows.assign(
        slot=range(1, case.slots + 1), night=case.night, slot_start_utc=starts, slot_end_utc=starts + HOUR,
        fall_back_start_utc=nowhere, fall_back_end_utc=nowhere,
    )  # fmt: skip
    return dataclasses.replace(plan, inputs=inputs, agenda=agenda)


@pytest.mark.parametrize(
    "case", CASES, ids=lambda case: f"{case.mount}, {case.night:%d %b}, {case.slots}, {case.paper}"
)
def test_sheets_can_be_read(case: Case) -> None:
    plan = placed(case)
    slots = plan.night(case.night).slots
    track = make_night_track(
        plan.inputs, case.night, plan.period.edges_of(case.night), [(slot.start, slot.end) for slot in slots]
    )
    view = sheets_view(plan.night(case.night), track, ())
    pages = pages_of(render_document(sheets_document(view, case.night)))
    titles = re.compile(rf"\b(Set-up|Dish|Radio|Ladders) {case.night:%A}")
    heads = ["Set-up"] if slots else []
    heads += ["Dish"] * (1 + (len(slots) > FEEDS_BESIDE)) + ["Radio"] * max(-(-len(slots) // SLOTS_A_PAGE), 1)
    heads += ["Ladders"] * -(-len(slots) // SLOTS_A_PAGE)
    found = [(title := titles.search(page.text)) and title[1] for page in pages]
    assert found == heads
    for page in pages:
        assert page.overprints() == []
        assert page.outside(WHITE_PT) == 0


def test_what_overprints_is_found_wherever_it_stands() -> None:
    """Letters strewn over a small page, two or one to a piece of text: each pair looked at by itself."""
    random = np.random.default_rng(5)
    corner, size = random.uniform(0.0, 60.0, (80, 2)), random.uniform(0.5, 9.0, (80, 2))
    runs = np.sort(random.integers(0, 50, 80))
    boxes = np.concatenate([corner, corner + size], axis=1)
    page = Page((60.0, 60.0), "", "".join(map(chr, range(0x4E00, 0x4E00 + 80))), boxes, runs, boxes[:0])
    found = []
    for one in range(80):
        for other in range(one + 1, 80):
            wide, high = np.minimum(boxes[one, 2:], boxes[other, 2:]) - np.maximum(boxes[one, :2], boxes[other, :2])
            words = np.count_nonzero(runs == runs[one]) > 1 and np.count_nonzero(runs == runs[other]) > 1
            if runs[one] != runs[other] and high > TOUCH_PT and wide > (-APART_PT if words else TOUCH_PT):
                found.append(f"{page._around(one)} on {page._around(other)}")
    assert page.overprints() == found
    assert len(found) > 40
