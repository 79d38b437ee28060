"""A night planned again on the spot: what stays, what goes, what may come, against the rules one by one."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import Counter

import pandas as pd

from pipeline.agenda.replan import Change, Fate, Slip
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.plan.plan import Plan
from pipeline.plan.replanned import replan
from pipeline.wording.agenda import change_words
from tests.plan.months import month_plan, with_policy

HOUR = dt.timedelta(hours=1)


def _busiest(plan: Plan) -> dt.date:
    """The night with most slots."""
    return Counter(plan.agenda["night"]).most_common(1)[0][0]


def _tonight(plan: Plan, night: dt.date) -> pd.DataFrame:
    return plan.agenda[plan.agenda["night"] == night]


def _times(frame: pd.DataFrame) -> list[tuple[object, ...]]:
    columns = ["partner", "label", "uid", "state", "slot_start_utc", "slot_end_utc"]
    return sorted(tuple(row) for row in frame[columns].itertuples(index=False))


def _assert_allowed(plan: Plan, night: dt.date) -> None:
    """No two slots nearer than the gap, each inside a window and free by the ground's own minutes, no letter twice."""
    policy, rows = plan.inputs.season.policy, _tonight(plan, night).sort_values("slot_start_utc")
    gap = dt.timedelta(minutes=policy.gap_minutes)
    ends, starts = rows["slot_end_utc"].iloc[:-1], rows["slot_start_utc"].iloc[1:]
    assert all(end + gap <= start for end, start in zip(ends, starts, strict=True))
    assert len(rows) <= policy.maximum_slots_per_night
    assert not plan.agenda.duplicated(["partner", "label"]).any()
    assert plan.agenda["uid"].is_unique
    grid = make_slot_grid(plan.inputs, plan.period, plan.windows, plan.samples, plan.modes)
    for row in rows.to_dict("records"):
        pair = grid.pair_of(row["partner"])
        edges = [int(row[f"slot_{edge}_utc"].timestamp() // 60) for edge in ("start", "end")]
        assert pair is not None
        assert grid.stands(pair, edges[0], edges[1]), row["partner"]


def test_without_a_slip_all_stays() -> None:
    plan = month_plan()
    night = _busiest(plan)
    again = replan(plan, night, Slip())
    assert _times(_tonight(again.plan, night)) == _times(_tonight(plan, night))
    assert again.changes == (Change(Fate.NOTHING),)
    assert again.plan.number == plan.number


def test_other_nights_stand() -> None:
    plan = month_plan()
    night = _busiest(plan)
    again = replan(plan, night, Slip(dropped=frozenset(_tonight(plan, night)["partner"])))
    others = plan.agenda["night"] != night
    assert _times(again.plan.agenda[again.plan.agenda["night"] != night]) == _times(plan.agenda[others])


def test_dropped_partners_are_out_and_their_time_is_free() -> None:
    plan = month_plan()
    night = _busiest(plan)
    rows = _tonight(plan, night)
    gone = rows["partner"].iloc[0]
    again = replan(plan, night, Slip(dropped=frozenset({gone})))
    now = _tonight(again.plan, night)
    assert gone not in set(now["partner"])
    # Whoever else was planned stays where they were.
    rest = rows[rows["partner"] != gone]
    assert set(_times(rest)) <= set(_times(now))
    assert gone in {change.partner for change in again.changes if change.fate is Fate.DROPPED}
    _assert_allowed(again.plan, night)


def test_every_partner_but_one_dropped_in_turn() -> None:
    """Whatever is freed, what comes in keeps the rules and is told as new."""
    plan = month_plan()
    calls = {station.call for station in plan.inputs.partners}
    for night in sorted(set(plan.agenda["night"])):
        planned = set(_tonight(plan, night)["partner"])
        again = replan(plan, night, Slip(dropped=frozenset(planned)))
        now, told = _tonight(again.plan, night), [change_words(change) for change in again.changes]
        assert set(now["partner"]) <= calls - planned
        for row in now.to_dict("records"):
            assert (
                f"{row['partner']} {row['slot_start_utc']:%H:%M}–{row['slot_end_utc']:%H:%M} is new: ask them" in told
            )
            assert row["state"] == "proposed"
        _assert_allowed(again.plan, night)


def test_what_has_ended_is_gone_and_nothing_begins_before() -> None:
    plan = month_plan()
    night = _busiest(plan)
    rows = _tonight(plan, night).sort_values("slot_start_utc")
    after = rows["slot_end_utc"].iloc[0].to_pydatetime()
    again = replan(plan, night, Slip(after=after))
    now = _tonight(again.plan, night)
    assert rows["partner"].iloc[0] not in set(now["partner"])
    assert (now["slot_start_utc"] >= after).all()
    assert set(_times(rows.iloc[1:])) <= set(_times(now))


def test_a_slot_that_runs_goes_on() -> None:
    plan = month_plan()
    night = _busiest(plan)
    rows = _tonight(plan, night).sort_values("slot_start_utc")
    again = replan(plan, night, Slip(after=rows["slot_start_utc"].iloc[0].to_pydatetime() + HOUR / 4))
    assert _times(rows.iloc[:1])[0] in _times(_tonight(again.plan, night))


def test_a_confirmed_slot_stays_whatever_is_dropped() -> None:
    plan = month_plan()
    night = _busiest(plan)
    rows = _tonight(plan, night).sort_values("slot_start_utc")
    last = rows.index[-1]
    agreed = dataclasses.replace(plan, agenda=plan.agenda.copy())
    agreed.agenda.loc[last, "state"] = "confirmed"
    again = replan(agreed, night, Slip(dropped=frozenset(rows["partner"].iloc[:-1])))
    kept = _tonight(again.plan, night)
    kept = kept[kept["partner"] == rows["partner"].iloc[-1]]
    assert _times(kept) == _times(agreed.agenda.loc[[last]])


def test_the_log_decides_who_is_tried_again() -> None:
    """An attempt that is over is repeated where the log says no, and only there; one that worked is left in peace."""
    plan, night = month_plan(), dt.date(2027, 3, 13)
    rows = _tonight(plan, night).sort_values("slot_start_utc")
    first, home = rows["partner"].iloc[0], plan.inputs.home.call
    assert rows["fall_back"].iloc[0].tonight is not None
    after = rows["slot_end_utc"].iloc[0].to_pydatetime()
    others = frozenset(rows["partner"].iloc[1:])
    failed = replan(plan, night, Slip(after, others, {(first, home): False}))
    assert first in set(_tonight(failed.plan, night)["partner"])
    row = _tonight(failed.plan, night).set_index("partner").loc[first]
    assert row["label"] not in set(rows.loc[rows["partner"] == first, "label"])
    for tried in ({}, {(first, home): True}):
        again = replan(plan, night, Slip(after, others, tried))
        assert first not in set(_tonight(again.plan, night)["partner"])


def test_a_night_at_its_limit_still_tries_again_what_failed() -> None:
    """As many slots as the policy allows have ended: one that failed leaves its place to one more, and no more."""
    plan = month_plan("2027-05")
    # The busiest of the nights whose last slot can be tried again for a whole slot.
    last_slots = plan.agenda.sort_values("slot_start_utc").groupby("night").tail(1)
    least = dt.timedelta(minutes=plan.inputs.season.policy.slot_minutes.least)
    stretches = {row.night: row.fall_back.tonight for row in last_slots.itertuples()}
    again = {night for night, one in stretches.items() if one is not None and one[1] - one[0] >= least}
    night = Counter(night for night in plan.agenda["night"] if night in again).most_common(1)[0][0]
    rows = _tonight(plan, night).sort_values("slot_start_utc")
    inputs = with_policy(plan.inputs, maximum_slots_per_night=len(rows))
    full = dataclasses.replace(plan, inputs=inputs)
    last, home = rows.iloc[-1], plan.inputs.home.call
    assert last["fall_back"].tonight is not None
    after = last["slot_end_utc"].to_pydatetime()
    tried = {(call, home): True for call in rows["partner"]} | {(last["partner"], home): False}
    again = _tonight(replan(full, night, Slip(after, tried=tried)).plan, night)
    assert len(again) == 1
    assert (again["slot_start_utc"] >= after).all()
    assert _tonight(replan(full, night, Slip(after)).plan, night).empty


def test_nothing_is_left_of_a_night_that_is_over() -> None:
    plan = month_plan()
    night = _busiest(plan)
    after = dt.datetime.combine(night + dt.timedelta(days=1), dt.time(14, 30), tzinfo=dt.UTC)
    assert _tonight(replan(plan, night, Slip(after=after)).plan, night).empty


def test_slots_keep_their_numbers() -> None:
    """What stays has the number of the paper that the crew holds; what is new gets one that nobody had."""
    plan = month_plan()
    night = _busiest(plan)
    before = {(slot.call, slot.label): slot.number for slot in plan.slots if slot.night == night}
    first = min(before, key=lambda key: before[key])
    again = replan(plan, night, Slip(dropped=frozenset({first[0]}))).plan
    after = {(slot.call, slot.label): slot.number for slot in again.slots if slot.night == night}
    stayed = set(before) & set(after)
    assert stayed
    assert first not in after
    assert all(after[key] == before[key] for key in stayed)
    assert all(after[key] > max(before.values()) for key in set(after) - stayed)
    assert len(set(after.values())) == len(after)
    others = [(slot.night, slot.call, slot.number) for slot in plan.slots if slot.night != night]
    assert others == [(slot.night, slot.call, slot.number) for slot in again.slots if slot.night != night]
