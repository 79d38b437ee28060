"""Plans with an agenda of the tests' own choice: a real month of the demo, slots set where they are wanted."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from typing import Any

import pandas as pd

from pipeline.pairs.outcomes import opener_of
from pipeline.plan.plan import Plan, make_plan
from pipeline.record.model import Answer, Offer, Record
from tests.agenda.slot_grids import fortnight
from tests.plan.months import TODAY, month_plan

HOUR = dt.timedelta(hours=1)
WITHDRAWN = ["partner", "label", "uid", "sequence", "slot_start_utc", "slot_end_utc"]


def uid_of(call: str, label: str) -> str:
    """The UID of a slot of the demo's March."""
    return f"qm7tor-{call.lower()}-3cm-2027-03-{label.lower()}@mutual-moon.invalid"


def slot(
    plan: Plan,
    call: str,
    label: str = "A",
    place: int = 3,
    state: str = "proposed",
    longer_than_min: float = 80.0,
    **changes: Any,
) -> dict[str, Any]:
    """A slot of an hour in one of the partner's windows, on a quarter hour; the next two windows as fall-backs."""
    own = plan.windows[(plan.windows["partner"] == call) & (plan.windows["duration_min"] > longer_than_min)]
    row = own.iloc[place]
    starts = [one.ceil("15min") for one in own["window_start_utc"].iloc[place : place + 3]]
    starts += [pd.NaT] * (3 - len(starts))
    index = [one.call for one in plan.inputs.partners].index(call)
    return {
        "slot": 1,
        "partner": call,
        "operator": "QM7TOR",
        "band": row["band"],
        "night": row["night"],
        "slot_start_utc": starts[0],
        "slot_end_utc": starts[0] + HOUR,
        "chance": row["chance"],
        "state": state,
        "slot_outcome": "",
        "label": label,
        "uid": uid_of(call, label),
        "mode": row["mode"],
        "opener": opener_of(plan.inputs, index),
        "report_at_partner_db": row["report_at_partner_db"],
        "report_at_home_db": row["report_at_home_db"],
        "polarization_advice": row["polarization_advice"],
        "window": int(own.index[place]),
        "fall_back_start_utc": starts[1],
        "fall_back_end_utc": starts[1] + HOUR,
        "second_fall_back_start_utc": starts[2],
        "second_fall_back_end_utc": starts[2] + HOUR,
    } | changes


def with_slots(
    plan: Plan,
    *slots: dict[str, Any],
    offers: Sequence[Offer] = (),
    withdrawn: Sequence[dict[str, Any]] = (),
    answers: Sequence[Answer] = (),
) -> Plan:
    """The plan with these slots alone, this record, these offers withdrawn."""
    record = Record(answers=tuple(answers), offers=tuple(offers))
    agenda = pd.DataFrame(list(slots), columns=list(plan.agenda.columns)).sort_values("slot_start_utc")
    gone = [{"sequence": 0} | {name: row[name] for name in WITHDRAWN if name in row} for row in withdrawn]
    return dataclasses.replace(
        plan,
        inputs=dataclasses.replace(plan.inputs, record=record),
        agenda=agenda,
        withdrawn=pd.DataFrame(gone, columns=WITHDRAWN),
    )


def offer_of(row: dict[str, Any], sequence: int = 0, **changes: Any) -> Offer:
    """What the ledger holds once a slot was sent."""
    values = {
        "uid": row["uid"],
        "partner": row["partner"],
        "operator": row["operator"],
        "label": row["label"],
        "start_utc": row["slot_start_utc"].to_pydatetime(),
        "end_utc": row["slot_end_utc"].to_pydatetime(),
        "sequence": sequence,
        "withdrawn": False,
        "state": row["state"],
    }
    return Offer(**(values | changes))


def quick_letters() -> Plan:
    """Two weeks with one partner and a slot; nothing of it is shared with other tests."""
    plan = make_plan(fortnight("QF4LUM"), TODAY)
    return with_slots(plan, slot(plan, "QF4LUM", "A", 2))


def demo_letters() -> Plan:
    """The demo month: two slots for one partner, one for others, none for the rest."""
    plan = month_plan()
    return with_slots(
        plan,
        slot(plan, "QF4LUM", "A", 6),
        slot(plan, "QF4LUM", "B", 12),
        slot(plan, "QN1PIK", "A", 5),
        slot(plan, "QT8NUI", "A", 4),
        slot(plan, "QZ5KAR", "A", 7, state="confirmed"),
    )
