"""Trips against agendas of policies that allow just so many nights, and against what the agenda's table says.

The figures are summed here again from the table: hours from clocks, contacts from the joint chances.
"""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from pipeline.agenda.notes import TripsAmong
from pipeline.outlook import trips as trips_room
from pipeline.outlook.trips import LEAST_ADDED, Trips, make_trips, nights_looked_at, trips_notes
from pipeline.plan.tables import trips_table
from pipeline.record.inputs import Inputs
from pipeline.reports.agenda_view import agenda_view
from pipeline.wording.trips import trips_words
from tests.agenda.slot_grids import agenda_of, answer, march, march_inputs, with_record


def _trips(inputs: Inputs) -> tuple[Trips, ...]:
    grid, agenda, _ = agenda_of(inputs)
    return make_trips(grid, agenda)


def _contacts(table: pd.DataFrame) -> float:
    """Nobody is wanted more than once here: each partner's and operator's chance of one contact."""
    return float(table.drop_duplicates(["partner", "operator"])["joint_chance_met"].sum())


def _hours(table: pd.DataFrame) -> float:
    spans = table.groupby("night").agg({"slot_start_utc": "min", "slot_end_utc": "max"})
    return float(((spans["slot_end_utc"] - spans["slot_start_utc"]) / pd.Timedelta(hours=1) + 2.0).sum())


def test_each_row_is_the_agenda_of_so_many_nights() -> None:
    trips = _trips(march_inputs())
    assert [one.count for one in trips] == list(range(1, len(trips) + 1))
    assert len(trips) > march_inputs().season.policy.maximum_nights
    values = [0.0]
    for one in trips:
        _, agenda, table = agenda_of(march_inputs(maximum_nights=one.count, night_cost=0.0))
        assert list(one.nights) == sorted(set(table["night"]))
        assert one.contacts_expected == pytest.approx(_contacts(table), abs=1e-9)
        assert one.hours_on_site == pytest.approx(_hours(table), abs=1e-9)
        values.append(agenda.choice.value)
    steps = [after - before for before, after in pairwise(values)]
    assert steps[-1] >= LEAST_ADDED
    more = agenda_of(march_inputs(maximum_nights=31, night_cost=0.0))[1].choice.value
    assert more - values[-1] < LEAST_ADDED


def test_what_is_added_and_chosen() -> None:
    """Sets of nights need not nest; the row of the agenda's own nights says what the agenda's page says."""
    _, _, table = agenda_of(march_inputs())
    trips = _trips(march_inputs())
    for before, one in zip([None, *trips], trips, strict=False):
        had = set(before.nights) if before else set()
        assert set(one.nights_added) == set(one.nights) - had
    (chosen,) = [one for one in trips if one.chosen]
    assert list(chosen.nights) == sorted(set(table["night"]))
    assert chosen.contacts_expected == pytest.approx(_contacts(table), abs=1e-9)
    assert march().contacts_expected == pytest.approx(_contacts(march().agenda), abs=1e-9)


def test_nights_agreed_are_always_in() -> None:
    _, _, table = agenda_of(march_inputs())
    last = table[table["night"] == table["night"].max()].iloc[0]
    held = with_record(march_inputs(), (answer(last["partner"], last["slot_start_utc"].to_pydatetime(), "confirmed"),))
    trips = _trips(held)
    assert trips[0].nights == (last["night"],)
    assert all(last["night"] in one.nights for one in trips)


def test_of_a_large_season_the_promising_nights_are_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many nights as hold so many slots, the agenda's first; it is told, and of a small season nothing is."""
    grid, agenda, _ = agenda_of(march_inputs())
    nights = set(agenda.pool.night.tolist())
    assert set(nights_looked_at(grid, agenda, agenda.pool)) == nights
    assert trips_notes(grid, agenda) == ()
    whole = make_trips(grid, agenda)
    most = agenda.pool.start.size - 1
    monkeypatch.setattr(trips_room, "MOST_ITEMS", most)
    some = nights_looked_at(grid, agenda, agenda.pool)
    assert agenda.nights <= set(some) < nights
    assert trips_notes(grid, agenda) == (TripsAmong(len(some), len(nights)),)
    fewer = make_trips(grid, agenda)
    assert all(
        one.contacts_expected <= other.contacts_expected + 0.05 for one, other in zip(fewer, whole, strict=False)
    )
    assert any(one.chosen for one in fewer)
    monkeypatch.setattr(trips_room, "MOST_ITEMS", 1)
    assert len(nights_looked_at(grid, agenda, agenda.pool)) == 1
    # Few slots may still be many pairs, with a partner who is up all day together with home.
    monkeypatch.setattr(trips_room, "MOST_ITEMS", 2_000)
    monkeypatch.setattr(trips_room, "MOST_PAIRS", 1_000)
    few = nights_looked_at(grid, agenda, agenda.pool)
    rows = np.isin(agenda.pool.night, few)
    assert (
        0
        < (np.bincount(agenda.pool.pair[rows]) ** 2).sum() // 2
        <= 1_000
        < (np.bincount(agenda.pool.pair) ** 2).sum() // 2
    )


def test_table_and_words() -> None:
    """The columns of the contract, and a line a trip on the agenda page."""
    table = trips_table(march().trips)
    assert list(table.columns) == [
        "trips", "nights", "night_added", "partners_added", "contacts_expected", "hours_on_site", "chosen",
    ]  # fmt: skip
    assert agenda_view(march()).trips == trips_words(march().trips)
    some = (
        Trips((dt.date(2027, 3, 6),), (dt.date(2027, 3, 6),), ("QA1AAA",), 0.9, 3.0, False),
        Trips(
            (dt.date(2027, 3, 5), dt.date(2027, 3, 7)),
            (dt.date(2027, 3, 5), dt.date(2027, 3, 7)),
            ("QB1BBB", "QC1CCC"),
            2.4,
            6.0,
            True,
        ),
        Trips(
            (dt.date(2027, 3, 5), dt.date(2027, 3, 7), dt.date(2027, 3, 8)),
            (dt.date(2027, 3, 8),),
            (),
            2.42,
            9.0,
            False,
        ),
    )
    assert trips_words(some) == (
        "first trip: Sat 6 March, +0.9: QA1AAA",
        "second trip: Fri 5 March and Sun 7 March, without Sat 6 March, +1.5: QB1BBB and QC1CCC (this agenda)",
        "third trip: Mon 8 March, less than 0.1",
    )
