"""The answer to "what if": every slot with date, hours and UTC, and of a partner what changed and nothing else."""

import dataclasses
import datetime as dt

import pandas as pd

from pipeline.plan.compare import compare_plans
from pipeline.plan.plan import Plan
from pipeline.reports.what_if_text import what_if_text
from tests.agenda.slot_grids import march


def _answer(after: Plan) -> list[str]:
    return what_if_text(march(), ["QF4LUM.x=1"], compare_plans(march(), after)).splitlines()


def _with_agenda(agenda: pd.DataFrame) -> Plan:
    return dataclasses.replace(march(), agenda=agenda)


def test_nothing_changes() -> None:
    lines = _answer(march())
    assert "No slot would change." in lines
    assert not [line for line in lines if line.startswith("Partners")]
    assert lines[-1].startswith("Nothing was written")


def test_a_slot_across_midnight_has_both_dates_in_both_times() -> None:
    """23:30 to 00:30 at UTC-3 is 02:30 to 03:30 UTC of the next date (by hand)."""
    agenda = march().agenda.copy()
    start = dt.datetime(2027, 3, 20, 2, 30, tzinfo=dt.UTC)
    agenda.loc[agenda.index[-1], "slot_start_utc"] = pd.Timestamp(start)
    agenda.loc[agenda.index[-1], "slot_end_utc"] = pd.Timestamp(start + dt.timedelta(hours=1))
    (line,) = [line for line in _answer(_with_agenda(agenda)) if "moves from" in line]
    assert "to Fri 19 Mar 23:30 – Sat 20 Mar 00:30 local (Sat 20 Mar 02:30–03:30 UTC)" in line


def test_what_no_figure_shows_is_no_change() -> None:
    """A chance that differs by less than is printed; of several slots those without a line stay, and that is said."""
    agenda = march().agenda.copy()
    agenda["chance"] += 1e-5
    assert "No slot would change." in _answer(_with_agenda(agenda))
    agenda.loc[agenda.index[0], "chance"] = 0.31
    lines = _answer(_with_agenda(agenda))
    told = lines[lines.index("Slots:") + 1 :]
    assert told[0].startswith(f"  {agenda['partner'].iloc[0]} ")
    assert told[1] == "  All others stay as they are."


def test_another_operator_is_named() -> None:
    agenda = march().agenda
    call = agenda["partner"].iloc[0]
    lines = _answer(_with_agenda(agenda.assign(operator=["QM7NEW", *agenda["operator"].iloc[1:]])))
    assert [line for line in lines if line.startswith(f"  {call} by QM7NEW  new: ")]
    assert [line for line in lines if line.startswith(f"  {call} ") and "gone: " in line]


def test_of_a_partner_what_changed_alone() -> None:
    """A slot less for one partner: its chance in its slots falls to none, its windows are as they were."""
    agenda = march().agenda
    call = agenda["partner"].iloc[0]
    lines = _answer(_with_agenda(agenda.iloc[1:]))
    (told,) = [line for line in lines if line.startswith(f"  {call}: ")]
    assert told.startswith(f"  {call}: chance of a contact in its slots ")
    assert told.endswith(", none")
    assert "windows" not in told
    assert "dB" not in told


def test_margins_with_their_sign() -> None:
    """4 dB more at home (2.5 times the power of the partner is 3.98 dB)."""
    samples = march().samples.copy()
    mine = samples["partner"] == "QF4LUM"
    samples.loc[mine, "margin_at_home_db"] += 3.98
    lines = _answer(dataclasses.replace(march(), samples=samples))
    assert "  QF4LUM: signal over need 0.0 dB at QF4LUM, +4.0 dB at home" in lines


def test_who_is_no_partner_any_more() -> None:
    plan = march()
    inputs = dataclasses.replace(plan.inputs, partners=plan.inputs.partners[:-1], wishes=plan.inputs.wishes[:-1])
    gone = plan.inputs.partners[-1].call
    kept = {
        name: frame[frame["partner"] != gone] for name, frame in vars(plan).items() if name in ("windows", "samples")
    }
    after = dataclasses.replace(plan, inputs=inputs, agenda=plan.agenda[plan.agenda["partner"] != gone], **kept)
    assert f"  {gone}: no partner then" in _answer(after)
