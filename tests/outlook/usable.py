"""The usable slots of a span in a plain table, and seasons drawn at random: what the outlook is held against."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pandas as pd

from pipeline.inputs.lengths import SlotMinutes
from pipeline.inputs.model import WEEKDAYS, Hours
from pipeline.record.inputs import Inputs
from tests.plan.months import Outlook, demo_inputs, with_equipment, with_policy


def usable_slots(plan: Outlook) -> pd.DataFrame:
    """Every usable slot: partner, night, start and end (UTC), window, chance, presence and clear share."""
    slots, grid = plan.worth.usable, plan.worth.grid
    frame = pd.DataFrame(
        {
            "partner": [plan.inputs.partners[pair].call for pair in slots.pair],
            "night": [grid.period.dates[night] for night in slots.night],
            "start": pd.to_datetime(slots.start * 60, unit="s", utc=True),
            "end": pd.to_datetime(slots.end * 60, unit="s", utc=True),
            "window": slots.window,
            "chance": slots.chance,
            "worth": slots.chance * slots.presence * slots.clear,
        }
    )
    assert (frame["chance"] >= plan.inputs.season.policy.outcome_thresholds.marginal).all()
    return frame


def best_slots(plan: Outlook) -> pd.DataFrame:
    """Of each night and partner the slot worth most, to a thousandth, the earliest of equals."""
    slots = usable_slots(plan)
    slots["rounded"] = slots["worth"].round(3)
    ordered = slots.sort_values(["rounded", "start"], ascending=[False, True], kind="stable")
    return ordered.drop_duplicates(["night", "partner"])


def in_the_middle(plan: Outlook, slot: pd.Series, *names: str) -> list[float]:
    """Columns of the samples in the middle of a slot, between the two beside it."""
    window = plan.windows.iloc[int(slot["window"])]
    mine = plan.samples[plan.samples["partner"] == slot["partner"]]
    mine = mine[mine["time_utc"].between(window["window_start_utc"], window["window_end_utc"])]
    seconds = (mine["time_utc"] - slot["start"]).dt.total_seconds().to_numpy()
    middle = (slot["end"] - slot["start"]).total_seconds() / 2.0
    return [float(np.interp(middle, seconds, mine[name].to_numpy(float))) for name in names]


def random_season(seed: int) -> Inputs:
    """The demo's stations with other powers, hours and presences, under another policy and in another month."""
    rng = np.random.default_rng(seed)
    inputs = demo_inputs(f"2027-{rng.integers(1, 13):02d}")
    count = int(rng.integers(3, 10))
    chosen = sorted(rng.choice(len(inputs.partners), size=count, replace=False).tolist())
    partners = tuple(
        dataclasses.replace(
            with_equipment(inputs.partners[place], power_w=float(rng.choice([5.0, 20.0, 60.0, 200.0]))),
            available="always" if rng.random() < 0.3 else _hours(rng),
            unavailable_dates=(),
            presence=None if rng.random() < 0.5 else float(rng.choice([0.5, 0.8, 1.0])),
        )
        for place in chosen
    )
    home = dataclasses.replace(inputs.home, available="always" if rng.random() < 0.3 else _hours(rng))
    inputs = dataclasses.replace(
        inputs, home=home, partners=partners, wishes=tuple(inputs.wishes[place] for place in chosen)
    )
    least = int(rng.choice([20, 30, 45]))
    return with_policy(
        inputs,
        step_minutes=15,
        slot_minutes=SlotMinutes(least, least + int(rng.choice([0, 15, 30]))),
        night_cost=float(rng.choice([0.0, 0.3])),
        maximum_slots_per_night=int(rng.integers(1, 5)),
        minimum_sun_separation_deg=float(rng.choice([5.0, 12.0])),
        nights=tuple(day for day in WEEKDAYS if rng.random() < 0.8) or WEEKDAYS,
    )


def _hours(rng: np.random.Generator) -> tuple[Hours, ...]:
    start = int(rng.integers(0, 24))
    return (Hours(WEEKDAYS, dt.time(start), dt.time((start + int(rng.integers(4, 16))) % 24)),)
