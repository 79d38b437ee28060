"""The tally of periods on the ladders' sheet, against the turns that the radio sheet and the telephone tell."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from pipeline.operating.air_tonight import AirTonight
from pipeline.sheets.ladder_sheet import _marks
from pipeline.wording.ladders import rain_words
from tests.sheets.invented_agenda import night_plan


@pytest.mark.parametrize(("minute", "opener_first", "other_first"), [(14, "14", "15"), (15, "16", "17")])
@pytest.mark.parametrize("opener", ["home", "partner"])
def test_nobody_sends_before_the_opener(opener: str, minute: int, opener_first: str, other_first: str) -> None:
    """Turns of a minute count from the full hour, the opener's on even ones: a slot that begins on an odd minute waits
    for the next (by hand).
    """
    plan = night_plan(modes=("CW",))
    slot = next(one for one in plan.slots if one.mode is not None and one.mode.period_s == 60.0)
    start = slot.start.replace(minute=minute)
    slot = dataclasses.replace(slot, start=start, end=start + dt.timedelta(minutes=30), opener=opener)
    marks = {one.words: one.clocks for one in _marks(slot).lines}
    # Who sends is heard by the other: of home's periods they say whether they heard us.
    first = {"home": "they heard us", "partner": "we heard them"}[opener]
    (other,) = set(marks) - {first}
    assert (marks[first][0], marks[other][0]) == (opener_first, other_first)
    assert len(marks[first]) + len(marks[other]) == 30 - (minute - 14)


def test_rain_is_told_by_what_it_takes() -> None:
    """More rain never makes a slot better."""
    assert rain_words(AirTonight("strong", "workable", 1.66, 0.2, 30.0)) == "drops to workable above 1.6 mm/h"
