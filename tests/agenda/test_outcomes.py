"""The season moves on: what went is told, whom nobody worked is asked again, and nothing is offered in the past.

What follows from an outcome is the product's own contract (DEVELOPERS.md).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.absence.causes import Absence, Cause
from pipeline.absence.why_no_night import nights_without_slot
from pipeline.absence.why_not import partners_without_slot
from pipeline.agenda.agenda import Agenda
from pipeline.agenda.agenda_table import withdrawn_table
from pipeline.agenda.fall_backs import FallBack
from pipeline.agenda.notes import AskedAgain, OutcomeMissing, StillAgreed
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.model import Operator
from pipeline.outlook.nights import judge
from pipeline.outlook.reasons import facts_of_nights
from pipeline.outlook.worth import Worth
from pipeline.record.inputs import Inputs
from pipeline.record.model import OUTCOMES, Answer, Told
from pipeline.windows.beginning import with_beginning
from pipeline.windows.span import plan_number
from pipeline.wording.agenda import note_words
from tests.agenda.slot_grids import agenda_of, answer, march, march_inputs, offers_of, with_record, with_wish

Made = tuple[SlotGrid, Agenda, pd.DataFrame]


@lru_cache(maxsize=1)
def first_plan() -> pd.DataFrame:
    """The demo's March before anybody has answered."""
    return agenda_of(march_inputs())[2]


def planned(inputs: Inputs) -> Made:
    """The agenda of what is left."""
    return agenda_of(with_beginning(inputs, march().period))


def agreed(row: pd.Series, outcome: str = "", state: str = "confirmed") -> Answer:
    start = row["slot_start_utc"].to_pydatetime()
    minutes = int((row["slot_end_utc"] - row["slot_start_utc"]).total_seconds() // 60)
    made = answer(row["partner"], start, state, row["label"], minutes)
    return dataclasses.replace(made, outcome=outcome)


def ahead(table: pd.DataFrame) -> pd.DataFrame:
    return table[table["slot_outcome"] == ""]


def first_night() -> pd.DataFrame:
    """The slots of the first night of the plan."""
    table = first_plan()
    return table[table["night"] == table["night"].min()]


def test_without_an_outcome_nothing_is_past() -> None:
    inputs = march_inputs()
    assert with_beginning(inputs, march().period) == inputs
    assert (first_plan()["slot_outcome"] == "").all()
    later = dataclasses.replace(inputs, planned_from=dt.date(2027, 3, 14))
    numbers = {plan_number(one, march().period) for one in (inputs, later)}
    assert len(numbers) == 2


def test_a_partner_worked_is_not_asked_again_and_one_missed_is() -> None:
    worked, missed = first_plan().iloc[0], first_plan().iloc[1]
    inputs = with_record(march_inputs(), (agreed(worked, "made"), agreed(missed, "failed")))
    grid, agenda, table = planned(inputs)
    assert grid.inputs.planned_from == missed["night"] + dt.timedelta(days=1)
    over = table[table["slot_outcome"] != ""]
    assert [tuple(one) for one in over[["partner", "label", "state", "slot_outcome"]].to_numpy()] == [
        (worked["partner"], worked["label"], "confirmed", "made"),
        (missed["partner"], missed["label"], "confirmed", "failed"),
    ]
    assert set(over["fall_back"]) == {FallBack(None, None)}
    new = ahead(table)
    assert (new["night"] > missed["night"]).all()
    assert worked["partner"] not in set(new["partner"])
    again = new[new["partner"] == missed["partner"]]
    assert len(again)
    assert missed["label"] not in set(again["label"])
    causes = dict(
        zip(
            [one.call for one in inputs.partners],
            partners_without_slot(grid, agenda, march().no_windows),
            strict=True,
        )
    )
    assert causes[worked["partner"]] == Absence(Cause.WORKED, wanted=0)
    assert causes[missed["partner"]] is None


def test_a_second_contact_is_still_wanted_and_each_operator_needs_its_own() -> None:
    worked = first_night().iloc[0]
    record = (agreed(worked, "made"),)
    twice = with_wish(with_record(march_inputs(), record), worked["partner"], contacts_wanted=2)
    assert worked["partner"] in set(ahead(planned(twice)[2])["partner"])
    one = with_record(march_inputs(), record)
    operators = (Operator("QM7TOR"), Operator("QM8TOR"))
    two = dataclasses.replace(one, season=dataclasses.replace(one.season, operators=operators))
    mine = ahead(planned(two)[2])
    assert set(mine.loc[mine["partner"] == worked["partner"], "operator"]) <= {"QM8TOR"}


def test_nothing_is_said_for_the_nights_before() -> None:
    """No slots, no worth, no reasons; their rows stay, and nobody is told to mend what is past."""
    plan, begun = march(), dt.date(2027, 3, 14)
    inputs = dataclasses.replace(march_inputs(), planned_from=begun)
    grid, agenda, table = planned(inputs)
    assert (table["night"] >= begun).all()
    worth = Worth(grid, agenda.commitments)
    nights = judge(worth, plan.nights, agenda)
    past = nights["night"] < begun
    assert past.any()
    assert len(nights) == len(plan.nights)
    assert set(nights.loc[past, "outcome"]) == {"past"}
    assert nights.loc[past, "contacts_expected"].sum() == 0.0
    assert nights.loc[past, "best_partner"].isna().all()
    assert nights.loc[past, "rank"].min() > nights.loc[~past & nights["possible"], "rank"].max()
    assert nights.loc[past, "distance_km"].notna().all()
    facts = facts_of_nights(worth, nights)
    idle = nights_without_slot(grid, agenda, nights)
    for place in range(len(nights)):
        if past.iloc[place]:
            assert facts[place] == ()
            assert idle[place] == Absence(Cause.PAST)
        else:
            assert facts[place]
            assert idle[place] != Absence(Cause.PAST)


def test_what_is_agreed_and_past_is_told_and_not_judged() -> None:
    """It counts at its chance: a partner of whom nobody knows is not pressed, nor is its night paid for again."""
    rows = first_night()
    inputs = with_record(march_inputs(), tuple(agreed(row) for _, row in rows.iterrows()))
    begun = rows["night"].iloc[0] + dt.timedelta(days=1)
    grid, agenda, table = planned(dataclasses.replace(inputs, planned_from=begun))
    told = table[table["slot_outcome"] == "past"]
    assert list(told["partner"]) == list(rows["partner"])
    assert list(told["chance"]) == pytest.approx(list(rows["chance"]))
    missing = [note for note in agenda.notes if isinstance(note, OutcomeMissing)]
    assert [note.partner for note in missing] == list(rows["partner"])
    sentence = f"`answer {missing[0].partner} {missing[0].label}=made`, or failed, absent, rained."
    assert sentence in note_words(missing[0])
    absences = partners_without_slot(grid, agenda, march().no_windows)
    for call in rows["partner"]:
        assert absences[inputs.place_of(call)] is None
    # The trip was made: one night less is left of the policy's.
    assert ahead(table)["night"].nunique() < inputs.season.policy.maximum_nights


def test_a_night_lost_to_weather_is_asked_for_again_under_the_same_letters() -> None:
    """As proposals with their UIDs, at other times; the trip was not made and is not counted."""
    table = first_plan()
    rows = table[table["night"] == table["night"].iloc[1]]
    assert len(rows) == 2
    lost = tuple(agreed(row, "rained") for _, row in rows.iterrows())
    inputs = with_record(march_inputs(), lost, offers_of(first_plan()))
    grid, agenda, table = planned(inputs)
    again = table.set_index(["partner", "label"])
    found = 0
    for _, row in rows.iterrows():
        now = again.loc[(row["partner"], row["label"])]
        assert now["uid"] == row["uid"]
        if now["slot_outcome"] == "rained":
            continue
        found += 1
        assert now["state"] == "proposed"
        assert now["night"] > row["night"]
        assert now["slot_outcome"] == ""
    assert found
    assert {type(note) for note in agenda.notes} >= {AskedAgain}
    assert rows["night"].iloc[0] not in {grid.period.dates[night] for night in agenda.nights}
    assert not set(rows["partner"]) & set(withdrawn_table(agenda)["partner"])
    # Agreed anew, the letter stands at its new time, and the lost night is history.
    new = again.loc[(rows["partner"].iloc[0], rows["label"].iloc[0])]
    if new["slot_outcome"] == "":
        row = new.copy()
        row["partner"], row["label"] = rows["partner"].iloc[0], rows["label"].iloc[0]
        later = planned(with_record(march_inputs(), (*lost, agreed(row))))[2]
        mine = later[(later["partner"] == row["partner"]) & (later["label"] == row["label"])]
        assert mine["state"].tolist() == ["confirmed"]
        assert mine["slot_start_utc"].tolist() == [new["slot_start_utc"]]


def test_a_slot_agreed_with_someone_who_is_worked_stays_and_is_told() -> None:
    table = first_plan()
    row = first_night().iloc[0]
    free = table[(table["night"] > row["night"])].iloc[-1]
    second = dataclasses.replace(
        agreed(free), partner=row["partner"], label="Q", start_utc=free["slot_start_utc"].to_pydatetime()
    )
    _, agenda, made = planned(with_record(march_inputs(), (agreed(row, "made"), second)))
    assert "Q" in set(ahead(made)["label"])
    assert [(note.partner, note.label) for note in agenda.notes if isinstance(note, StillAgreed)] == [
        (row["partner"], "Q")
    ]


@pytest.mark.parametrize(
    ("outcome", "only_if", "stays"), [("made", "A", False), ("failed", "A", True), ("made", "", True)]
)
def test_what_was_held_for_a_failure_falls_away_once_the_first_is_made(outcome: str, only_if: str, stays: bool) -> None:
    """As the letter promised, also where it was agreed; one that was asked for by itself stays, and is told."""
    table = first_plan()
    row = first_night().iloc[0]
    free = table[(table["night"] > row["night"])].iloc[-1].copy()
    free["partner"], free["label"], free["uid"] = row["partner"], "Q", "q@mutual-moon.invalid"
    told = Told(10368.1, 10368.1, "CW", "home", "", (), (), only_if=only_if)
    (offer,) = offers_of(pd.DataFrame([free]))
    inputs = with_record(march_inputs(), (agreed(row, outcome), agreed(free)), (dataclasses.replace(offer, told=told),))
    _, agenda, made = planned(inputs)
    assert ("Q" in set(ahead(made)["label"])) == stays
    assert ("Q" in set(withdrawn_table(agenda)["label"])) == (not stays)


@settings(max_examples=8)
@given(data=st.data())
def test_any_season_played_on(data: st.DataObject) -> None:
    """Any outcomes of any first nights: nothing in the past, worked partners left alone, letters never used twice."""
    table = first_plan()
    nights = sorted(set(table["night"]))
    played = data.draw(st.integers(1, len(nights)))
    rows = table[table["night"] <= nights[played - 1]]
    outcomes = [data.draw(st.sampled_from(["", *OUTCOMES])) for _ in range(len(rows))]
    lines = tuple(agreed(row, outcome) for (_, row), outcome in zip(rows.iterrows(), outcomes, strict=True))
    sent = offers_of(table) if data.draw(st.booleans()) else ()
    inputs = with_record(march_inputs(), lines, sent)
    begun = None if any(outcomes) else nights[played - 1] + dt.timedelta(days=1)
    grid, agenda, made = planned(dataclasses.replace(inputs, planned_from=begun))
    assert grid.inputs.planned_from is not None
    new = ahead(made)
    assert (new["night"] >= grid.inputs.planned_from).all()
    worked = {line.partner for line in lines if line.outcome == "made"}
    proposed = set(new.loc[new["state"] == "proposed", "partner"])
    assert not worked & proposed
    assert not made.duplicated(["partner", "label"]).any()
    assert not made.duplicated("uid").any()
    used = {line.partner + line.label for line in lines if line.outcome in ("made", "failed", "absent")}
    assert not used & set(new["partner"] + new["label"])
    assert made["night"].nunique() <= inputs.season.policy.maximum_nights + len(nights)
    over = made[made["slot_outcome"] != ""]
    trips = set(over.loc[over["slot_outcome"] != "rained", "night"]) | set(new["night"])
    assert len(trips) <= max(inputs.season.policy.maximum_nights, len(set(rows["night"])))
    assert planned(dataclasses.replace(inputs, planned_from=begun))[2].equals(made)
    past = [grid.night_of(int(start)) for start in agenda.pool.start]
    assert all(grid.period.dates[night] >= grid.inputs.planned_from for night in past)
