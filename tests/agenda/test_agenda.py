"""The agenda keeps every rule, keeps what was agreed, moves little, and is the same every time.

The rules are read again from the season with the standard library's clock; the choice itself is tried against every
set in `test_choosing`.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.absence.causes import Absence, Cause
from pipeline.agenda.agenda import LEAST_GAIN, make_agenda
from pipeline.agenda.agenda_table import COLUMNS, agenda_table, withdrawn_table
from pipeline.agenda.candidates import least_minutes
from pipeline.agenda.commitments import next_label
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.fall_backs import FallBack
from pipeline.agenda.notes import Broken, HeldByStranger, KeptAsAgreed, OfferMoved, OutsideNights, Proof, Rule
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.inputs.lengths import SlotMinutes
from pipeline.inputs.model import DateRange, Operator, mask_arrays
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import Inputs
from pipeline.record.model import Correction, Record
from pipeline.reports.tables import csv_text, frames, plan_json
from pipeline.windows.instants import minutes_of
from pipeline.wording.agenda import note_words
from tests.agenda.slot_grids import (
    agenda_of,
    answer,
    fortnight,
    grid_of,
    is_there,
    march,
    march_inputs,
    minutes_between,
    offers_of,
    only_wanted,
    slot_rows,
    with_home,
    with_partner,
    with_record,
    with_wish,
)
from tests.plan.months import TODAY, one_station, small_inputs, survey_of, with_policy

QUARTER = pd.Timedelta(minutes=15)


@lru_cache(maxsize=1)
def _demo() -> pd.DataFrame:
    return agenda_of(march_inputs())[2]


def _check_rules(inputs: Inputs, table: pd.DataFrame) -> None:
    """Every rule of the season, for an agenda without a record."""
    plan, policy = march(), inputs.season.policy
    stations = {one.call: one for one in inputs.partners}
    wishes = {one.call: one for one in inputs.wishes}
    for row in table.itertuples():
        start, end = row.slot_start_utc, row.slot_end_utc
        window = plan.windows.iloc[row.window]
        assert window["partner"] == row.partner
        assert window["window_start_utc"] <= start < end <= window["window_end_utc"]
        mode = plan.modes[[one.call for one in inputs.partners].index(row.partner)]
        length = (end - start).total_seconds() / 60
        assert least_minutes(mode, policy.slot_minutes) <= length <= policy.slot_minutes.most
        moments = minutes_between(start, end)
        assert all(is_there(inputs.home, one) and is_there(stations[row.partner], one) for one in moments)
        noon = dt.datetime.combine(row.night, dt.time(12), tzinfo=plan.zone)
        assert noon <= start < noon + dt.timedelta(days=1)
        assert f"{row.night:%a}".lower() in policy.nights
        assert not any(row.night in stretch for stretch in inputs.home.unavailable_dates)
        if policy.latest_hour_on_work_nights and row.night.weekday() in (6, 0, 1, 2, 3):
            latest = policy.latest_hour_on_work_nights
            date = row.night + dt.timedelta(days=int(latest < dt.time(12)))
            assert end <= dt.datetime.combine(date, latest, tzinfo=plan.zone)
        rows = slot_rows(dataclasses.replace(plan, inputs=inputs), pd.Series(row._asdict()))
        sun = rows[["home_sun_separation_deg", "partner_sun_separation_deg"]].to_numpy()[1:-1]
        assert (sun >= policy.minimum_sun_separation_deg).all()
        for side, station in (("home", inputs.home), ("partner", stations[row.partner])):
            height = (rows[f"{side}_elevation_deg"] + rows[f"{side}_refraction_deg"]).to_numpy()
            skyline = np.interp(rows[f"{side}_azimuth_deg"], *mask_arrays(station), period=360.0)
            # Half of 70 wavelengths over diameters, a rule of antenna handbooks; clear at one of the two samples about.
            half = 35.0 * 299.792458 / 10368.1 / station.bands["3cm"].antenna.dish_diameter_m
            assert (height - skyline)[:2].max() >= half - 1e-3
        assert row.chance >= policy.outcome_thresholds.marginal
        assert wishes[row.partner].contacts_wanted > 0
    ordered = table.sort_values("slot_start_utc")
    gaps = ordered["slot_start_utc"].iloc[1:].to_numpy() - ordered["slot_end_utc"].iloc[:-1].to_numpy()
    assert (gaps >= np.timedelta64(policy.gap_minutes, "m")).all()
    assert table["night"].nunique() <= policy.maximum_nights
    if len(table):
        assert table.groupby("night").size().max() <= policy.maximum_slots_per_night
        assert table.groupby(["partner", "operator"]).size().max() <= 2


def _worth(inputs: Inputs, table: pd.DataFrame) -> float:
    """Priority times joint chance of each partner and operator, less nights and hours: the objective."""
    priority = {one.call: one.priority for one in inputs.wishes}
    each = table.drop_duplicates(["partner", "operator"])
    worth = sum(priority[row.partner] * row.joint_chance_met for row in each.itertuples())
    spent = 0.0
    for _, mine in table.groupby("night"):
        first, last = mine["slot_start_utc"].min(), mine["slot_end_utc"].max()
        arrive = first - pd.Timedelta(minutes=inputs.season.policy.setup_minutes.arrive)
        outside = sum(not is_there(inputs.home, one) for one in minutes_between(arrive, first))
        spent += ((last - arrive).total_seconds() / 60.0 + outside) / 60.0
    worth -= inputs.season.policy.hour_cost * spent
    return worth - inputs.season.policy.night_cost * table["night"].nunique()


def test_the_demo_is_proven_best() -> None:
    inputs = march_inputs()
    _, agenda, table = agenda_of(inputs)
    assert agenda.choice.gap == 0.0
    assert agenda.choice.nodes < 1000
    assert agenda.notes[0] == Proof(0.0)
    # The pair that shares slots of twenty minutes at most is served.
    assert {"QJ2KAW", "QF4LUM", "QN1PIK"} <= set(table["partner"])
    assert agenda.choice.value == pytest.approx(_worth(inputs, table), abs=1e-3)
    _check_rules(inputs, table)
    assert list(table.columns) == list(COLUMNS)
    assert table["slot"].tolist() == list(range(1, len(table) + 1))
    assert table["slot_start_utc"].is_monotonic_increasing


nights = st.sampled_from([("mon", "tue", "wed", "thu", "fri", "sat", "sun"), ("fri", "sat"), ("wed", "thu", "fri")])


@settings(max_examples=6)
@given(
    slot_minutes=st.sampled_from([SlotMinutes(*edges) for edges in ((20, 20), (20, 40), (45, 60), (90, 90))]),
    gap_minutes=st.sampled_from([0, 10, 15]),
    maximum_slots_per_night=st.integers(1, 5),
    maximum_nights=st.integers(1, 8),
    night_cost=st.sampled_from([0.0, 0.3, 1.5]),
    nights=nights,
    latest_hour_on_work_nights=st.sampled_from([None, dt.time(1), dt.time(22)]),
    minimum_sun_separation_deg=st.sampled_from([0.0, 5.0, 40.0]),
)
def test_every_rule_of_any_policy(**policy: object) -> None:
    inputs = march_inputs(**policy)
    _, agenda, table = agenda_of(inputs)
    _check_rules(inputs, table)
    assert agenda.choice.gap == 0.0
    assert agenda.choice.value == pytest.approx(_worth(inputs, table), abs=2e-3)


def test_more_room_is_never_worth_less() -> None:
    """Lifting any limit leaves the old agenda possible: the best is worth as much at least."""
    tight = make_agenda(grid_of(march_inputs(maximum_nights=2, maximum_slots_per_night=2))).choice.value
    for more in ({"maximum_nights": 3}, {"maximum_slots_per_night": 3}, {"gap_minutes": 0}):
        policy = {"maximum_nights": 2, "maximum_slots_per_night": 2} | more
        assert make_agenda(grid_of(march_inputs(**policy))).choice.value >= tight - 1e-3


def test_each_operator_needs_a_contact() -> None:
    inputs = march_inputs(maximum_slots_per_night=6)
    operators = (Operator("QM7TOR"), Operator("QM7NEW"))
    inputs = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, operators=operators))
    table = agenda_of(inputs)[2]
    _check_rules(inputs, table)
    both = table.groupby("partner")["operator"].nunique()
    assert (both == 2).sum() >= 3
    # Letters are a partner's own, whoever sits at the dish.
    assert not table.duplicated(["partner", "label"]).any()
    assert table["uid"].is_unique


def test_two_slots_with_one_partner() -> None:
    """A second slot pays where it betters the chance enough; several contacts count each."""
    alone = only_wanted(march_inputs(night_cost=0.0), "QX6ICE")
    table = agenda_of(alone)[2]
    assert len(table) == 2
    assert table["joint_chance"].nunique() == 1
    assert table["joint_chance"].iloc[0] >= table["chance"].max() + LEAST_GAIN
    # Not independent: the station figures err alike in both slots.
    assert table["joint_chance"].iloc[0] < 1 - (1 - table["chance"]).prod()
    sure = agenda_of(only_wanted(march_inputs(night_cost=0.0, presence=1.0), "QN1PIK"))[2]
    assert len(sure) == 1


def test_who_may_not_be_there_is_met_on_another_night() -> None:
    """A sure link at a presence of 0.9: a second night adds 0.09, a second slot in one night nothing."""
    table = agenda_of(only_wanted(march_inputs(night_cost=0.0), "QN1PIK"))[2]
    assert len(table) == table["night"].nunique() == 2
    assert (table["chance"] > 0.97).all()
    assert table["chance_met"].to_numpy() == pytest.approx(0.9 * table["chance"], abs=1e-9)
    assert table["joint_chance_met"].iloc[0] == pytest.approx(0.99, abs=0.01)
    one_night = agenda_of(only_wanted(march_inputs(night_cost=0.0, maximum_nights=1), "QN1PIK"))[2]
    assert len(one_night) == 1


def test_as_many_slots_as_contacts_are_wanted() -> None:
    """Three where there is room, whatever the nights; expected contacts are their sum, and no more than are wanted."""
    for wanted in (2, 3, 4):
        free = only_wanted(march_inputs(night_cost=0.0, hour_cost=0.0), "QN1PIK")
        inputs = with_wish(free, "QN1PIK", contacts_wanted=wanted)
        grid, agenda, table = agenda_of(inputs)
        assert len(table) == wanted
        assert contacts_of(agenda.slots, grid.inputs.wishes) == pytest.approx(table["chance_met"].sum(), abs=1e-9)
        assert agenda.choice.value == pytest.approx(2.0 * table["chance_met"].sum(), abs=1e-3)
    tight = with_wish(
        only_wanted(march_inputs(night_cost=0.0, maximum_nights=1, maximum_slots_per_night=2), "QN1PIK"),
        "QN1PIK",
        contacts_wanted=3,
    )
    assert len(agenda_of(tight)[2]) == 2


def test_nobody_wanted_and_no_nights() -> None:
    table = agenda_of(only_wanted(march_inputs()))[2]
    assert len(table) == 0
    assert list(table.columns) == list(COLUMNS)
    assert str(table["slot_start_utc"].dtype) == "datetime64[us, UTC]"
    away = with_home(march_inputs(), unavailable_dates=(DateRange(dt.date(2027, 2, 20), dt.date(2027, 4, 20)),))
    assert len(agenda_of(away)[2]) == 0


def test_the_same_every_time() -> None:
    first, second = (agenda_of(march_inputs(maximum_slots_per_night=4))[2] for _ in range(2))
    pd.testing.assert_frame_equal(first, second)


# What was agreed and sent


def test_what_is_agreed_stays() -> None:
    """Whatever the state, and also where it breaks rules, which is then said."""
    demo = _demo()
    fine = demo[demo["partner"] == "QF4LUM"].iloc[0]
    odd = dt.datetime(2027, 3, 14, 20, 7, tzinfo=dt.UTC)  # a Sunday, on which home has no hours
    answers = (
        answer("QF4LUM", fine["slot_start_utc"].to_pydatetime(), "confirmed", "C"),
        answer("QX6ICE", odd, "tentative"),
        answer("QN1PIK", odd + dt.timedelta(minutes=30), "fixed", "B"),
        answer("QT8NUI", dt.datetime(2027, 3, 2, 3, tzinfo=dt.UTC), "confirmed"),
    )
    inputs = with_record(march_inputs(maximum_nights=3), answers)
    _, agenda, table = agenda_of(inputs)
    for one in answers:
        row = table[(table["partner"] == one.partner) & (table["slot_start_utc"] == one.start_utc)].iloc[0]
        assert row["slot_end_utc"] == one.end_utc
        assert row["state"] == {"fixed": "proposed"}.get(one.state, one.state)
        assert row["label"] == (one.label or "A")
    assert table["night"].nunique() == 3
    said = " ".join(map(note_words, agenda.notes))
    assert "QX6ICE A of Sun 14 March 17:07 is kept as agreed, although it lies outside your hours" in said
    assert "QN1PIK B of Sun 14 March 17:37" in said
    assert "overlaps QX6ICE A" in said
    assert "QT8NUI A of Tue 2 March 00:00 is kept as agreed, although the Moon is not above both horizons" in said
    assert "QF4LUM C" not in said
    # Nothing new is put on top of them.
    new = table[~table["partner"].isin([one.partner for one in answers])]
    for row in new.itertuples():
        for one in answers:
            assert row.slot_end_utc + QUARTER <= one.start_utc or one.end_utc + QUARTER <= row.slot_start_utc


def test_no_further_slot_where_the_agreed_one_will_do() -> None:
    demo = _demo()
    sure = demo[demo["chance"] > 0.9].iloc[0]
    inputs = with_record(
        march_inputs(night_cost=0.0), (answer(sure["partner"], sure["slot_start_utc"].to_pydatetime(), "confirmed"),)
    )
    table = agenda_of(inputs)[2]
    assert (table["partner"] == sure["partner"]).sum() == 1


def test_declined_times_are_not_offered_again() -> None:
    """Nor their letters."""
    demo = _demo()
    old = demo[demo["partner"] == "QT8NUI"].iloc[0]
    answers = (answer("QT8NUI", old["slot_start_utc"].to_pydatetime(), "declined", "A"),)
    _, agenda, table = agenda_of(with_record(march_inputs(), answers, offers_of(demo)))
    new = table[table["partner"] == "QT8NUI"]
    assert len(new)
    assert ((new["slot_end_utc"] <= old["slot_start_utc"]) | (new["slot_start_utc"] >= old["slot_end_utc"])).all()
    assert "A" not in set(new["label"])
    assert old["uid"] not in set(table["uid"])
    assert old["uid"] in set(withdrawn_table(agenda)["uid"])


def test_what_was_sent_stays_put() -> None:
    """The same season again, and seasons that would choose other times now."""
    sent = _demo()
    offers = offers_of(sent)
    for policy in ({}, {"gap_minutes": 0, "night_cost": 0.05, "maximum_slots_per_night": 5}):
        table = agenda_of(with_record(march_inputs(**policy), (), offers))[2]
        kept = table.merge(sent, on=["uid", "slot_start_utc", "slot_end_utc", "label"])
        assert len(kept) == len(sent), policy


def test_nothing_is_added_to_a_letter_that_is_out() -> None:
    """Whatever the others answer: a no leaves hours and nights free, and who still thinks has no further slot."""
    sent = _demo()
    offers = offers_of(sent)
    for refusing in ("QN1PIK", "QK3RED", "QF4LUM"):
        mine = sent[sent["partner"] == refusing]
        no = tuple(
            answer(refusing, row["slot_start_utc"].to_pydatetime(), "declined", row["label"])
            for _, row in mine.iterrows()
        )
        table = agenda_of(with_record(march_inputs(), no, offers))[2]
        others, before = (one[one["partner"] != refusing] for one in (table, sent))
        told = before["partner"].unique()
        assert set(others[others["partner"].isin(told)]["uid"]) == set(before["uid"]), refusing


def test_offers_that_no_longer_fit_together_move() -> None:
    """A longer gap parts what was told: each keeps its letter at another time, as far as there is one for all."""
    sent = _demo()
    offers = offers_of(sent)
    for gap in (45, 60):
        inputs = march_inputs(gap_minutes=gap)
        anew, told = agenda_of(inputs)[2], agenda_of(with_record(inputs, (), offers))[2]
        assert set(anew["partner"]) <= set(told["partner"])
        assert set(told["uid"]) <= set(sent["uid"])
        moved = told.merge(sent, on="uid", suffixes=("", "_before"))
        assert (moved["slot_start_utc"] != moved["slot_start_utc_before"]).any()


def test_what_is_agreed_stays_ahead_of_what_is_asked() -> None:
    """A yes to the later of two slots and a no to the earlier: no new slot goes before it, which would stand for the
    case alone that the new one fails.
    """
    sent = _demo()
    mine = sent[sent["partner"] == "QN1PIK"].sort_values("slot_start_utc")
    assert len(mine) == 2
    first, last = (row["slot_start_utc"].to_pydatetime() for _, row in mine.iterrows())
    answers = (answer("QN1PIK", first, "declined", "A"), answer("QN1PIK", last, "confirmed", "B"))
    table = agenda_of(with_record(march_inputs(), answers, offers_of(sent)))[2]
    now = table[table["partner"] == "QN1PIK"].sort_values("slot_start_utc")
    assert now["label"].iloc[0] == "B"


def test_only_what_must_moves() -> None:
    """A partner away on its date moves, with letter and identifier; all others stay."""
    sent = _demo()
    old = sent[sent["partner"] == "QT8NUI"].iloc[0]
    local = old["slot_start_utc"].tz_convert("Pacific/Auckland").date()
    inputs = with_partner(march_inputs(), "QT8NUI", unavailable_dates=(DateRange(local, local),))
    _, agenda, table = agenda_of(with_record(inputs, (), offers_of(sent)))
    others = sent[sent["uid"] != old["uid"]]
    assert len(table.merge(others, on=["uid", "slot_start_utc"])) == len(others)
    moved = table[table["uid"] == old["uid"]].iloc[0]
    assert (moved["uid"], moved["label"]) == (old["uid"], old["label"])
    assert moved["slot_start_utc"] != old["slot_start_utc"]
    assert OfferMoved("QT8NUI", "A") in agenda.notes


def test_withdrawn_for_good() -> None:
    """A partner no longer wanted is told so; when wanted again it gets a new letter."""
    sent = _demo()
    offers = offers_of(sent)
    _, agenda, table = agenda_of(with_record(with_wish(march_inputs(), "QN1PIK", contacts_wanted=0), (), offers))
    gone = withdrawn_table(agenda)
    assert gone["partner"].tolist() == ["QN1PIK", "QN1PIK"]
    assert "QN1PIK" not in set(table["partner"])
    again = tuple(dataclasses.replace(one, withdrawn=one.partner == "QN1PIK") for one in offers)
    _, agenda, table = agenda_of(with_record(march_inputs(), (), again))
    assert table[table["partner"] == "QN1PIK"]["label"].tolist() == ["C", "D"]
    assert len(withdrawn_table(agenda)) == 0


def test_letters_go_on_after_z() -> None:
    spent = {("QA1AAA", letter) for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}
    assert next_label("QA1AAA", spent) == "AA"
    assert next_label("QB1BBB", spent) == "A"


def test_uid_is_of_the_slot_not_of_its_time() -> None:
    row = _demo().iloc[0]
    assert row["uid"] == f"qm7tor-{row['partner'].lower()}-3cm-2027-03-a@mutual-moon.invalid"


def test_what_was_sent_before_there_was_a_key_keeps_its_uid_and_what_is_new_ends_in_a_random_part() -> None:
    sent = _demo()
    first = sent.iloc[0]
    inputs = with_record(march_inputs(), (), offers_of(sent[sent["uid"] == first["uid"]]))
    key = "00112233445566778899aabbccddeeff"
    record = dataclasses.replace(inputs.record, uid_key=key)
    table = agenda_of(dataclasses.replace(inputs, record=record))[2]
    assert first["uid"] in set(table["uid"])
    new = table[table["uid"] != first["uid"]]
    assert len(new) > 3
    assert new["uid"].str.fullmatch(r"qm7tor-.*-3cm-2027-03-[a-z]-[0-9a-f]{16}@mutual-moon\.invalid").all()
    assert table["uid"].is_unique


# The table


def test_fall_backs_are_free() -> None:
    """A quarter of an hour at least, by both ends' hours, in a window, on no other slot's time, and later."""
    inputs = march_inputs()
    table, plan = _demo(), march()
    stations = {one.call: one for one in inputs.partners}
    found = 0
    for row in table.itertuples():
        stretches = [
            (row.fall_back_start_utc, row.fall_back_end_utc),
            (row.second_fall_back_start_utc, row.second_fall_back_end_utc),
        ]
        told = [one for one in (row.fall_back.tonight, row.fall_back.later) if one is not None]
        assert told == [one for one in stretches if not pd.isna(one[0])]
        for start, end in (one for one in stretches if not pd.isna(one[0])):
            found += 1
            assert end - start >= QUARTER
            assert start >= row.slot_end_utc
            mine = plan.windows[plan.windows["partner"] == row.partner]
            assert ((mine["window_start_utc"] <= start) & (mine["window_end_utc"] >= end)).any()
            assert all(
                is_there(inputs.home, m) and is_there(stations[row.partner], m) for m in minutes_between(start, end)
            )
            for other in table.itertuples():
                # A second slot with the same partner is told by its letter as the later one.
                own = (other.partner, other.label, other.slot_start_utc) == (row.partner, row.fall_back.label, start)
                if other.slot != row.slot and not own:
                    assert end + QUARTER <= other.slot_start_utc or start >= other.slot_end_utc + QUARTER
        if not pd.isna(stretches[1][0]):
            noon = dt.datetime.combine(row.night + dt.timedelta(days=1), dt.time(12), tzinfo=plan.zone)
            assert stretches[1][0] >= noon
    assert found >= 5


def promised(table: pd.DataFrame) -> list[tuple[str, pd.Timestamp, pd.Timestamp]]:
    """Partner, start and end of every fall-back that is no slot of its own."""
    return [
        (row.partner, *stretch)
        for row in table.itertuples()
        for stretch, own in ((row.fall_back.tonight, ""), (row.fall_back.later, row.fall_back.label))
        if stretch is not None and not own
    ]


@pytest.mark.parametrize("most", [3, 5])
def test_no_two_fall_backs_are_promised_for_one_time(most: int) -> None:
    """Over a month with several slots a night: the dish can keep every promise, with the gap between."""
    table = agenda_of(with_policy(march_inputs(), maximum_slots_per_night=most))[2]
    told = promised(table)
    gap = dt.timedelta(minutes=march_inputs().season.policy.gap_minutes)
    for (_, start, end), (_, other, until) in combinations(told, 2):
        assert end + gap <= other or until + gap <= start
    shared = table.groupby("night")["partner"].transform("size") > 1
    assert sum(one.tonight is not None for one in table.loc[shared, "fall_back"]) >= 2


def test_a_declined_time_is_no_fall_back() -> None:
    """Every fall-back of the demo is declined: others take their place, or none."""
    told = ["fall_back", "second_fall_back"]
    answers = [
        answer(row["partner"], row[f"{name}_start_utc"].to_pydatetime(), "declined", "Z", minutes=60)
        for row in _demo().to_dict("records")
        for name in told
        if not pd.isna(row[f"{name}_start_utc"])
    ]
    assert len(answers) >= 5
    table = agenda_of(with_record(march_inputs(), tuple(answers)))[2]
    for row in table.itertuples():
        for name in told:
            start, end = (getattr(row, f"{name}_{edge}_utc") for edge in ("start", "end"))
            mine = [one for one in answers if one.partner == row.partner and not pd.isna(start)]
            assert not [one for one in mine if one.start_utc < end and one.end_utc > start], (row.partner, name)


def test_a_second_slot_of_its_own_is_the_later_one() -> None:
    """With its letter, so that nobody takes it for a free stretch; after the last one a free stretch has none."""
    twice = with_wish(only_wanted(march_inputs(night_cost=0.0), "QN1PIK"), "QN1PIK", contacts_wanted=2)
    table = agenda_of(twice)[2]
    assert table["partner"].tolist() == ["QN1PIK", "QN1PIK"]
    first, last = (row for _, row in table.iterrows())
    assert isinstance(first["fall_back"], FallBack)
    assert first["fall_back"].label == last["label"]
    assert first["fall_back"].later == (last["slot_start_utc"], last["slot_end_utc"])
    assert last["fall_back"].label == ""


def test_means_are_those_of_the_samples() -> None:
    """The mean over the slot lies within what its samples span."""
    plan = march()
    for _, row in _demo().iterrows():
        rows = slot_rows(plan, row)
        assert rows["time_utc"].iloc[0] <= row["slot_start_utc"]
        assert rows["time_utc"].iloc[-1] >= row["slot_end_utc"]
        for name, of in (("report_at_home_db", "snr_at_home_db"), ("doppler_spread_hz", "doppler_spread_hz")):
            assert rows[of].min() - 1e-9 <= row[name] <= rows[of].max() + 1e-9
        assert row["polarization_advice"] in set(rows["polarization_advice"])


def test_it_is_in_the_plan_and_its_files() -> None:
    plan = march()
    pd.testing.assert_frame_equal(plan.agenda, _demo())
    head = csv_text(frames(plan)["agenda"]).splitlines()[0].split(",")
    assert {"slot", "partner", "slot_start_utc", "home_local", "chance", "state", "uid"} <= set(head)
    assert '"joint_chance": "1 (0 to 1)' in plan_json(plan)
    assert len(plan.withdrawn) == 0
    served = set(plan.agenda["partner"])
    for partner, absence in zip(plan.partners["partner"], plan.absences, strict=True):
        assert (absence is not None) == (partner not in served)
    used = set(plan.agenda["night"])
    for night, absence in zip(plan.nights["night"], plan.idle_nights, strict=True):
        assert (absence is not None) == (night not in used)
    for row, no_window in zip(plan.partners.itertuples(), plan.no_windows, strict=True):
        assert (no_window is None) == (row.windows > 0)


def test_an_agenda_is_quick() -> None:
    """Nodes, not seconds, so that no slow machine fails: the programs of the demo are small."""
    grid = grid_of(march_inputs())
    agenda = make_agenda(grid)
    assert agenda.choice.columns < 2000
    assert len(agenda_table(grid, agenda)) == len(agenda.slots)


def _same_chance(inputs: Inputs) -> int:
    """Slots of the ground that are the best slot of their window have the chance that the window has."""
    found = survey_of(inputs)
    grid = make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)
    starts = [minutes_of(moment) if not pd.isna(moment) else -1 for moment in found.windows["slot_start_utc"]]
    same = np.flatnonzero(
        (np.array(starts)[grid.slots.window] == grid.slots.start) & (grid.slots.end - grid.slots.start == 60)
    )
    assert grid.slots.chance[same] == pytest.approx(
        found.windows["chance"].to_numpy()[grid.slots.window[same]], abs=1e-9
    )
    return same.size


def test_chances_are_those_of_the_windows() -> None:
    """Worked out by another path, also where a review has learnt how sure the figures of a station are."""
    inputs = fortnight("QX6ICE", "QN1PIK")
    inputs = with_home(with_partner(inputs, "QX6ICE", available="always"), available="always")
    learnt = Correction("QX6ICE", "3cm", 1.0, -1.0, 0.5, 3.0, "2027-02-01")
    assert _same_chance(inputs) > 3
    assert _same_chance(dataclasses.replace(inputs, record=Record(corrections=(learnt,)))) > 3


# Odd seasons


def test_a_season_without_partners_or_windows() -> None:
    inputs = small_inputs(one_station("QA1AAA", 50.0, 10.0, 100.0), first=dt.date(2027, 3, 5), last=dt.date(2027, 3, 7))
    plan = make_plan(inputs, TODAY)
    assert len(plan.agenda) == 0
    assert set(plan.idle_nights) == {Absence(Cause.NOBODY_IN_SIGHT)}
    # Two poles' neighbours never share the Moon for long; a slot agreed there is kept all the same.
    ends = (one_station("QA1AAA", 80.0, 10.0, 0.0), one_station("QB1BBB", -80.0, -170.0, 0.0))
    ends = tuple(dataclasses.replace(one, minimum_elevation_deg=30.0) for one in ends)
    inputs = small_inputs(*ends, first=dt.date(2027, 3, 5), last=dt.date(2027, 3, 7))
    agreed = answer("QB1BBB", dt.datetime(2027, 3, 6, 20, tzinfo=dt.UTC), "confirmed", operator="QA1AAA")
    plan = make_plan(with_record(inputs, (agreed,)), TODAY)
    assert plan.agenda["state"].tolist() == ["confirmed"]
    assert plan.agenda["window"].tolist() == [-1]
    assert plan.agenda["chance"].tolist() == [0.0]
    assert len(slot_rows(plan, plan.agenda.iloc[0])) == 0
    assert any(isinstance(note, KeptAsAgreed) and Broken(Rule.MOON_DOWN) in note.broken for note in plan.agenda_notes)
    assert csv_text(frames(plan)["agenda"])


def test_a_slot_agreed_with_a_stranger_holds_the_dish() -> None:
    demo = _demo()
    first = demo.iloc[0]
    answers = (answer("QY9YYY", first["slot_start_utc"].to_pydatetime(), "confirmed"),)
    _, agenda, table = agenda_of(with_record(march_inputs(), answers))
    assert "QY9YYY" not in set(table["partner"])
    assert (
        (table["slot_start_utc"] >= first["slot_end_utc"] + QUARTER)
        | (table["slot_end_utc"] <= first["slot_start_utc"] - QUARTER)
    ).all()
    assert any(isinstance(note, HeldByStranger) and note.partner == "QY9YYY" for note in agenda.notes)


@pytest.mark.parametrize("label", ["C", ""])
def test_what_was_agreed_outside_the_nights_is_told_and_not_withdrawn(label: str) -> None:
    """The evening of 31 March lies after the lowest point of that evening, in a night that carries a date of April.

    A line of the record that was agreed and sent for March stays agreed; its letter is not given to another slot.
    """
    last, sent = march().period.end, _demo()
    late = dt.datetime(2027, 4, 1, 1, 0, tzinfo=dt.UTC)  # 31 March 22:00 in Montevideo
    assert last < late
    offer = dataclasses.replace(
        offers_of(sent[sent["partner"] == "QF4LUM"])[0],
        uid="qm7tor-qf4lum-3cm-2027-03-c@mutual-moon.invalid",
        label="C",
        start_utc=late,
        end_utc=late + dt.timedelta(hours=1),
    )
    agreed = answer("QF4LUM", late, "confirmed", label)
    _, agenda, table = agenda_of(with_record(march_inputs(), (agreed,), (*offers_of(sent), offer)))
    local = late.astimezone(march().zone)
    assert OutsideNights("QF4LUM", label, local, before=False) in agenda.notes
    assert len(withdrawn_table(agenda)) == 0
    # All else stays as it was agreed and sent: times, letters and identifiers.
    assert len(table.merge(sent, on=["uid", "slot_start_utc", "slot_end_utc", "label"])) == len(sent)
    assert "C" not in set(table.loc[table["partner"] == "QF4LUM", "label"])
    # Without the answer it is an open offer that finds no place here, and that is said.
    _, agenda, _ = agenda_of(with_record(march_inputs(), (), (*offers_of(sent), offer)))
    assert not any(isinstance(note, OutsideNights) for note in agenda.notes)
    assert withdrawn_table(agenda)["uid"].tolist() == [offer.uid]


@pytest.mark.parametrize("apart_min", [45, 65])
def test_two_agreed_too_near_are_told_alike_in_whatever_order(apart_min: int) -> None:
    """Within an hour they overlap; five minutes apart they leave no gap of a quarter of an hour."""
    first = _demo().iloc[0]
    start = first["slot_start_utc"].to_pydatetime()
    agreed = (
        answer(first["partner"], start, "confirmed", "A"),
        answer("QG8FEN", start + dt.timedelta(minutes=apart_min), "confirmed", "A"),
    )
    rules = []
    for answers in (agreed, agreed[::-1]):
        notes = agenda_of(with_record(march_inputs(), answers))[1].notes
        near = [one for note in notes if isinstance(note, KeptAsAgreed) for one in note.broken if one.label]
        assert len(near) == 1
        rules.append(near[0].rule)
    assert rules == [Rule.OVERLAP if apart_min < 60 else Rule.GAP] * 2


def test_an_offer_that_nobody_answered_in_time_holds_nothing() -> None:
    """Once its hour is over it is neither withdrawn nor kept for its partner, who is planned as if never asked."""
    sent = _demo()
    begun = dataclasses.replace(march_inputs(), planned_from=dt.date(2027, 3, 14))
    over = sent[sent["night"] < begun.planned_from]
    assert len(over) >= 4
    _, agenda, table = agenda_of(with_record(begun, (), offers_of(over)))
    assert len(withdrawn_table(agenda)) == 0
    _, _, fresh = agenda_of(begun)
    assert table[["partner", "slot_start_utc"]].equals(fresh[["partner", "slot_start_utc"]])
    assert agenda.commitments.open_offers == ()
    assert len(table.merge(over, on=["partner", "label"])) == 0


def test_what_lies_outside_the_nights_is_told_about_the_plan_s_own_dates_only() -> None:
    """Before the first night and after the last; not a refusal, and not what another month holds."""
    period = march().period
    early, late = (
        (edge + dt.timedelta(minutes=beyond)).replace(second=0, microsecond=0)
        for edge, beyond in ((period.start, -1), (period.end, 1))
    )
    held = dt.datetime.combine(period.first_night, dt.time(12), tzinfo=period.zone).astimezone(dt.UTC)
    answers = (
        answer("QF4LUM", early, "confirmed", "D"),
        answer("QT8NUI", held, "confirmed", "D"),
        answer("QX6ICE", late, "tentative"),
        answer("QN1PIK", late, "declined", "A"),
        answer("QI9TEA", late + dt.timedelta(days=1), "confirmed", "A"),
    )
    notes = agenda_of(with_record(march_inputs(), answers))[1].notes
    # The first night begins on 28 February at 19:14: that evening is February's by its date.
    assert [note for note in notes if isinstance(note, OutsideNights)] == [
        OutsideNights("QX6ICE", "", late.astimezone(period.zone), before=False)
    ]


def test_a_record_of_noon_to_noon_gives_the_same_agreed_slots() -> None:
    """Lines and invitations of 0.1.0, whose nights ran from noon to noon: every time, letter and identifier stays."""
    sent = _demo()
    offers = offers_of(sent)
    answers = tuple(
        dataclasses.replace(answer(one.partner, one.start_utc, "confirmed", one.label), end_utc=one.end_utc)
        for one in offers
    )
    table = agenda_of(with_record(march_inputs(), answers, offers))[2]
    agreed = table[table["state"] == "confirmed"]
    assert len(agreed.merge(sent, on=["partner", "uid", "label", "slot_start_utc", "slot_end_utc"])) == len(sent)
    again = agenda_of(with_record(march_inputs(), answers))[2]
    assert agreed["uid"].tolist() == again.loc[again["state"] == "confirmed", "uid"].tolist()


def test_a_slot_agreed_by_an_operator_who_is_none_is_told() -> None:
    start = dt.datetime(2027, 3, 13, 19, 0, tzinfo=dt.UTC)
    inputs = with_record(march_inputs(), (answer("QF4LUM", start, "confirmed", "A", operator="QM7ZZZ"),))
    notes = " ".join(map(note_words, agenda_of(inputs)[1].notes))
    assert "QF4LUM A of Sat 13 March 16:00 is kept as agreed, although its operator QM7ZZZ is not among yours." in notes


def test_a_record_of_other_months_is_left_alone() -> None:
    demo = _demo()
    answers = (answer("QN1PIK", dt.datetime(2027, 5, 6, 20, tzinfo=dt.UTC), "confirmed", "A"),)
    table = agenda_of(with_record(march_inputs(), answers))[2]
    pd.testing.assert_frame_equal(table, demo)


def test_short_windows_are_taken_whole() -> None:
    """Kawara Cape shares twenty minutes at most with home: the slot is the window, to whole minutes inward."""
    row = _demo()[_demo()["partner"] == "QJ2KAW"].iloc[0]
    window = march().windows.iloc[row["window"]]
    assert window["duration_min"] < 21
    assert pd.Timedelta(0) <= window["window_end_utc"] - row["slot_end_utc"] < pd.Timedelta(minutes=1)
    # Its start waits until half a beam is clear.
    assert pd.Timedelta(0) <= row["slot_start_utc"] - window["window_start_utc"] < pd.Timedelta(minutes=6)


def test_an_offer_of_another_length_stays() -> None:
    """What was sent as half an hour is not stretched to an hour when the policy is."""
    short = agenda_of(march_inputs(slot_minutes=SlotMinutes(30, 30)))[2]
    table = agenda_of(with_record(march_inputs(), (), offers_of(short)))[2]
    assert len(table.merge(short, on=["uid", "slot_start_utc", "slot_end_utc"])) == len(short)
