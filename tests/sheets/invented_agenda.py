"""A demo month with an agenda laid by hand, so that the sheets can be tested apart from the optimiser."""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import lru_cache
from typing import Any

import pandas as pd

from pipeline.agenda.agenda_table import COLUMNS
from pipeline.inputs.model import DateRange, Report, Station
from pipeline.inputs.sites import at_site, own_site
from pipeline.operating.dialing import CONVENTIONS
from pipeline.pairs.feed_advice import advice_through
from pipeline.pairs.outcomes import opener_of
from pipeline.plan.plan import Plan
from pipeline.reports.rendering import render_document
from pipeline.sheets.document import night_room
from tests.plan.months import TODAY, demo_inputs, make_plan, only_partners, with_equipment, with_policy

NIGHT = dt.date(2027, 3, 13)
EMPTY_NIGHT = dt.date(2027, 3, 2)
# The Moon is up from 15:04 to 00:54 at home; these need not be the best slots, only slots in windows.
SLOTS = (
    ("QZ5KAR", "2027-03-13T17:15Z", "confirmed"),
    ("QF4LUM", "2027-03-13T19:00Z", "proposed"),
    ("QN1PIK", "2027-03-13T21:30Z", "tentative"),
)


def with_agenda(plan: Plan, slots: tuple[tuple[str, str, str], ...] = SLOTS) -> Plan:
    """The plan with these slots alone."""
    return dataclasses.replace(plan, agenda=agenda_of(plan, slots))


def agenda_of(plan: Plan, slots: tuple[tuple[str, str, str], ...] = SLOTS, night: dt.date = NIGHT) -> pd.DataFrame:
    """Rows of an agenda: an hour each, figures from the window that holds the slot."""
    rows = []
    for number, (call, begin, state) in enumerate(slots, start=1):
        start = pd.Timestamp(begin)
        index = next(i for i, one in enumerate(plan.inputs.partners) if one.call == call)
        held = plan.windows[
            (plan.windows["partner"] == call)
            & (plan.windows["window_start_utc"] <= start)
            & (plan.windows["window_end_utc"] >= start + pd.Timedelta(hours=1))
        ]
        window = held.iloc[0]
        rows.append(
            {
                "slot": number,
                "partner": call,
                "operator": plan.inputs.home.call,
                "band": "3cm",
                "night": night,
                "slot_start_utc": start,
                "slot_end_utc": start + pd.Timedelta(hours=1),
                "state": state,
                "slot_outcome": "",
                "label": "A",
                "opener": opener_of(plan.inputs, index),
                "fall_back_start_utc": pd.Timestamp("2027-03-13T22:45Z") if number == 2 else pd.NaT,
                "fall_back_end_utc": pd.Timestamp("2027-03-13T23:30Z") if number == 2 else pd.NaT,
            }
            | {
                name: window[name]
                for name in (
                    "report_at_partner_db",
                    "report_at_home_db",
                    "doppler_spread_hz",
                    "margin_at_partner_db",
                    "margin_at_home_db",
                    "mode",
                )
            }
            | {"polarization_advice": advice_through(_during(plan, call, start))}
        )
    return pd.DataFrame(rows).reindex(columns=list(COLUMNS))


def _during(plan: Plan, call: str, start: pd.Timestamp) -> pd.DataFrame:
    """A partner's samples within the hour."""
    time = plan.samples["time_utc"]
    return plan.samples[(plan.samples["partner"] == call) & (time >= start) & (time <= start + pd.Timedelta(hours=1))]


def night_files(plan: Plan, date: dt.date, with_pdf: bool) -> dict[str, bytes]:
    """File name to content of a night's folder."""
    room = night_room(plan, date, with_pdf)
    return {name: render_document(one) for name, one in room.documents.items()} | dict(room.files)


@lru_cache(maxsize=16)
def _night_plan(paper: str, modes: tuple[str, ...] | None, accuracy_hz: float | None, dialing: str) -> Plan:
    plan = _two_weeks(modes, accuracy_hz)
    inputs = with_policy(plan.inputs, dialing=dialing)
    season = dataclasses.replace(inputs.season, report=Report(paper=paper))
    return dataclasses.replace(plan, inputs=dataclasses.replace(inputs, season=season))


@lru_cache(maxsize=8)
def _two_weeks(modes: tuple[str, ...] | None, accuracy_hz: float | None) -> Plan:
    """What follows from stations and sky, whatever the paper and the dials: those count above the plan alone."""
    inputs = only_partners(demo_inputs(), "QF4LUM", "QZ5KAR", "QN1PIK", "QJ2KAW")
    inputs = with_policy(inputs, step_minutes=15)
    equipment: dict[str, Any] = {} if modes is None else {"modes": modes}
    equipment |= {} if accuracy_hz is None else {"frequency_accuracy_hz": accuracy_hz}
    dates = DateRange(EMPTY_NIGHT, NIGHT + dt.timedelta(days=1))
    inputs = dataclasses.replace(
        inputs,
        season=dataclasses.replace(inputs.season, months=(), dates=dates),
        home=with_equipment(inputs.home, **equipment),
        partners=tuple(with_equipment(one, **equipment) for one in inputs.partners),
    )
    return with_agenda(make_plan(inputs, TODAY, calendar=False))


def night_plan(
    paper: str = "A4",
    modes: tuple[str, ...] | None = None,
    accuracy_hz: float | None = None,
    dialing: str = CONVENTIONS[0],
) -> Plan:
    """Two weeks of the demo with four partners, three slots on one night; all with these modes and this accuracy."""
    return _night_plan(paper, modes, accuracy_hz, dialing)


SITE_NOTES = "Firm sand only at low water; the key of the gate hangs in the harbour office until nine & <no> later."


def standing_at_the_beach(home: Station) -> Station:
    """Home at the second of two sites like its own place, the first of which has no notes."""
    beach = dataclasses.replace(own_site(home), name="Beach", notes=SITE_NOTES)
    return at_site(dataclasses.replace(home, sites=(own_site(home), beach)), beach)
