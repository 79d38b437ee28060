"""A remedy as words and as inputs: reading the words through the files gives the very inputs that the plan tried.

Longer hours are held to a brute force over the minutes of a week.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import shlex
import shutil
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import assume, example, given
from hypothesis import settings as with_settings
from hypothesis import strategies as st

from pipeline.absence.changes import all_changed, change_words, changed_inputs, longer, without_dates
from pipeline.absence.remedies import (
    DatesGivenBack,
    LargerDish,
    LaterHour,
    LongerHours,
    LowerNightCost,
    ModeAdded,
    MoreNights,
    MorePower,
    MoreSlots,
    NightsAdded,
    Remedy,
    SmallerSunSeparation,
)
from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.agenda_table import agenda_table
from pipeline.inputs.model import WEEKDAYS, DateRange, Hours, Station
from pipeline.inputs.what_if import read_changes
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.wording.remedies import typed_changes
from tests.agenda.slot_grids import grid_of
from tests.plan.months import SEASON_FILE

WEEK = 7 * 24 * 60
DAYS = st.lists(st.sampled_from(WEEKDAYS), min_size=1, max_size=7, unique=True).map(tuple)
TIMES = st.integers(0, 95).map(lambda quarter: dt.time(quarter // 4, quarter % 4 * 15))
ENDS = st.sampled_from(["home", "partner"])
REMEDIES: st.SearchStrategy[Remedy] = st.one_of(
    st.builds(
        LongerHours,
        ENDS,
        st.sampled_from(["before", "after"]),
        st.sampled_from([15, 45, 180, 600, 1440]),
        st.one_of(st.just(()), DAYS),
    ),
    st.builds(
        DatesGivenBack, ENDS, st.sets(st.dates(dt.date(2027, 3, 1), dt.date(2027, 3, 31)), max_size=5).map(tuple)
    ),
    st.builds(LargerDish, ENDS, st.integers(3, 150).map(lambda tenths: tenths / 10)),
    st.builds(MorePower, ENDS, st.sampled_from([7.5, 33.0, 100.0, 1500.0])),
    st.builds(ModeAdded, ENDS, st.sampled_from(["SSB", "JT65", "CW"])),
    st.builds(NightsAdded, DAYS),
    st.builds(LaterHour, TIMES),
    st.builds(SmallerSunSeparation, st.integers(0, 900).map(lambda tenths: tenths / 10)),
    st.builds(MoreNights, st.integers(1, 31)),
    st.builds(MoreSlots, st.integers(1, 20)),
    st.builds(LowerNightCost, st.integers(0, 60).map(lambda steps: round(steps * 0.05, 2))),
)
EXAMPLES = (
    LongerHours("partner", "before", 45, ("sat",)),
    LongerHours("home", "after", 180),
    DatesGivenBack("home", (dt.date(2027, 3, 21),)),
    LargerDish("partner", 2.4),
    MorePower("partner", 100.0),
    NightsAdded(("mon", "wed")),
    LaterHour(dt.time(2)),
    SmallerSunSeparation(2.5),
    MoreNights(7),
    MoreSlots(4),
    LowerNightCost(0.15),
)


@lru_cache(maxsize=1)
def demo() -> Inputs:
    return read_inputs(SEASON_FILE, "2027-03")


def _read(words: str) -> Inputs:
    return read_inputs(SEASON_FILE, "2027-03", read_changes(words.split()))


def _plain(inputs: Inputs) -> Inputs:
    """Without the hashes of the files, and with assumed keys in one order: nothing depends on it."""

    def sorted_assumed(station: Station) -> Station:
        return dataclasses.replace(station, assumed=tuple(sorted(station.assumed)))

    return dataclasses.replace(
        inputs, files={}, home=sorted_assumed(inputs.home), partners=tuple(map(sorted_assumed, inputs.partners))
    )


@given(REMEDIES, st.integers(0, 8))
@with_settings(max_examples=40)
@example(LongerHours("partner", "before", 1440, ("sun",)), 1)
@example(LargerDish("partner", 3.0), 1)
def test_the_words_and_the_inputs_are_one(remedy: Remedy, pair: int) -> None:
    words = change_words(demo(), pair, remedy)
    assert not set(words) & set(" \t\n")
    assert _plain(_read(words)) == _plain(changed_inputs(demo(), pair, remedy))


def test_a_station_whose_file_says_nothing(tmp_path: Path) -> None:
    """What is stated is no longer assumed, key by key, whatever the file left open before."""
    for file in SEASON_FILE.parent.glob("*.yaml"):
        shutil.copy(file, tmp_path)
    for name in ("qz5kar", "qf4lum"):
        kept = [line for line in (tmp_path / f"{name}.yaml").read_text("utf-8").splitlines() if line[:1] not in "# "]
        bare = [line for line in kept if line.split(":")[0] in ("call", "position", "time_zone")]
        (tmp_path / f"{name}.yaml").write_text("\n".join(bare) + "\n", "utf-8")
    (tmp_path / "qn1pik.yaml").write_text("call: QN1PIK\nposition: {locator: FN42}\nbands: {3cm: {power_w: 20}}\n")
    inputs = read_inputs(tmp_path / "season.yaml", "2027-03")
    for call in ("QZ5KAR", "QN1PIK"):
        pair = inputs.place_of(call)
        for remedy in (LargerDish("partner", 2.4), MorePower("partner", 80.0), LongerHours("partner", "after", 45)):
            words = change_words(inputs, pair, remedy)
            read = read_inputs(tmp_path / "season.yaml", "2027-03", read_changes([words]))
            assert _plain(read) == _plain(changed_inputs(inputs, pair, remedy)), words
    both = (LargerDish("partner", 2.4), MorePower("partner", 80.0))
    tried, words = all_changed(inputs, inputs.place_of("QZ5KAR"), both)
    assert _plain(read_inputs(tmp_path / "season.yaml", "2027-03", read_changes(words.split()))) == _plain(tried)


@pytest.mark.parametrize("remedy", EXAMPLES, ids=lambda remedy: type(remedy).__name__)
def test_both_give_the_same_agenda(remedy: Remedy) -> None:
    """On one sky, with equipment left as it is there: hours, dates and policy."""
    pair = demo().place_of("QF4LUM")
    tables = [
        agenda_table(grid, make_agenda(grid))
        for inputs in (_read(change_words(demo(), pair, remedy)), changed_inputs(demo(), pair, remedy))
        for grid in (grid_of(inputs),)
    ]
    assert tables[0].equals(tables[1])


def test_the_words_of_the_contract() -> None:
    pair = demo().place_of("QF4LUM")
    told = [change_words(demo(), pair, remedy) for remedy in EXAMPLES]
    assert told[2:] == [
        'QM7TOR.unavailable_dates=["2027-03-12","2027-03-20","2027-03-22"]',
        "QF4LUM.bands.3cm.antenna.dish_diameter_m=2.4",
        "QF4LUM.bands.3cm.power_w=100",
        'season.policy.nights=["mon","tue","wed","thu","fri","sat","sun"]',
        "season.policy.latest_hour_on_work_nights=02:00",
        "season.policy.minimum_sun_separation_deg=2.5",
        "season.policy.maximum_nights=7",
        "season.policy.maximum_slots_per_night=4",
        "season.policy.night_cost=0.15",
    ]
    shown = typed_changes(" ".join(told))
    assert [word for word in shlex.split(shown) if word != "--what-if"] == told
    assert typed_changes(told[3]) == "--what-if QF4LUM.bands.3cm.antenna.dish_diameter_m=2.4"


@given(
    st.lists(st.builds(Hours, DAYS, TIMES, TIMES), min_size=1, max_size=3),
    st.sampled_from(["before", "after"]),
    st.integers(1, 96).map(lambda quarters: quarters * 15),
    st.one_of(st.just(()), DAYS),
)
def test_longer_hours_minute_by_minute(weekly: list[Hours], edge: str, minutes: int, days: tuple[str, ...]) -> None:
    assume(all(one.start != one.until or one.start == dt.time(0) for one in weekly))
    grown = longer(weekly, LongerHours("home", edge, minutes, days))
    expected = _minutes(weekly, minutes if edge == "before" else 0, minutes if edge == "after" else 0, days)
    if grown == "always":
        assert len(expected) == WEEK
        return
    assert not isinstance(grown, str)
    assert _minutes(grown, 0, 0, ()) == expected
    assert all(one.start != one.until or one.start == dt.time(0) for one in grown), "a file could not say so"


def _minutes(weekly: list[Hours] | tuple[Hours, ...], before: int, after: int, days: tuple[str, ...]) -> set[int]:
    """Every minute of the week that some stretch covers, grown on the days named or all."""
    found: set[int] = set()
    for one in weekly:
        for day in one.days:
            begin = WEEKDAYS.index(day) * 1440 + one.start.hour * 60 + one.start.minute
            end = WEEKDAYS.index(day) * 1440 + one.until.hour * 60 + one.until.minute
            end += 1440 if one.until <= one.start else 0
            grows = not days or day in days
            found |= {m % WEEK for m in range(begin - before * grows, end + after * grows)}
    return found


def test_dates_are_cut_out_of_their_ranges() -> None:
    march = {number: dt.date(2027, 3, number) for number in range(1, 32)}
    ranges = (DateRange(march[5], march[9]), DateRange(march[20], march[20]))
    left = (DateRange(march[6], march[6]), DateRange(march[8], march[9]))
    assert without_dates(ranges, (march[5], march[7], march[20])) == left
    assert without_dates(ranges, ()) == ranges
