"""The agenda as tables: one row a slot with the figures expected in it, one row an offer withdrawn.

From the agenda and the samples; figures are means over the slot, minute by minute.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.agenda import hours
from pipeline.agenda.agenda import Agenda, Chosen
from pipeline.agenda.commitments import uid_of
from pipeline.agenda.contacts import chance_of_one
from pipeline.agenda.fall_backs import FallBack, fall_back
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.pairs.outcomes import opener_of
from pipeline.windows.instants import instant_of_minute

COLUMNS = (
    "slot", "partner", "operator", "band", "night", "slot_start_utc", "slot_end_utc", "home_local", "partner_local",
    "chance", "joint_chance", "state", "label", "uid", "mode", "opener", "report_at_partner_db", "report_at_home_db",
    "margin_at_partner_db", "margin_at_home_db", "doppler_spread_hz", "polarization_advice", "window", "fall_back",
    "fall_back_start_utc", "fall_back_end_utc", "second_fall_back_start_utc", "second_fall_back_end_utc",
)  # fmt: skip
INSTANTS = tuple(name for name in COLUMNS if name.endswith("_utc"))
MEANS = {
    "report_at_partner_db": "snr_at_partner_db",
    "report_at_home_db": "snr_at_home_db",
    "margin_at_partner_db": "margin_at_partner_db",
    "margin_at_home_db": "margin_at_home_db",
    "doppler_spread_hz": "doppler_spread_hz",
}
WITHDRAWN = ("partner", "label", "uid", "sequence", "slot_start_utc", "slot_end_utc")


def agenda_table(grid: SlotGrid, agenda: Agenda) -> pd.DataFrame:
    """A row for each slot, in order of time."""
    rows = [_row(grid, agenda, number, one) for number, one in enumerate(agenda.slots, start=1)]
    return _frame(rows, COLUMNS)


def withdrawn_table(agenda: Agenda) -> pd.DataFrame:
    """Offers of the ledger that the agenda no longer holds."""
    rows = [
        {
            "partner": one.partner,
            "label": one.label,
            "uid": one.uid,
            "sequence": one.sequence,
            "slot_start_utc": one.start_utc,
            "slot_end_utc": one.end_utc,
        }
        for one in agenda.withdrawn
    ]
    return _frame(rows, WITHDRAWN)


def local_span(start: int, end: int, zone: dt.tzinfo) -> str:
    """`2027-03-12 22:15 to 23:15 -03:00`; the date of the end, and the offset of the start, where they differ."""
    first, last = (instant_of_minute(minute).astimezone(zone) for minute in (start, end))
    offsets = [f"{moment:%z}" for moment in (first, last)]
    offsets = [f"{text[:3]}:{text[3:]}" for text in offsets]
    begin = f"{first:%Y-%m-%d %H:%M}" + ("" if offsets[0] == offsets[1] else f" {offsets[0]}")
    until = f"{last:%H:%M}" if first.date() == last.date() else f"{last:%Y-%m-%d %H:%M}"
    return f"{begin} to {until} {offsets[1]}"


def _frame(rows: Sequence[dict[str, object]], names: Sequence[str]) -> pd.DataFrame:
    """The rows with typed columns, also without any."""
    frame = pd.DataFrame(list(rows), columns=list(names))
    for name in names:
        if name.endswith("_utc"):
            frame[name] = pd.DatetimeIndex(pd.to_datetime(frame[name], utc=True)).as_unit("us")
        elif name.endswith(("_db", "_hz", "chance")):
            frame[name] = frame[name].astype(float)
        elif name in ("slot", "window", "sequence"):
            frame[name] = frame[name].astype("int64")
    return frame


def _row(grid: SlotGrid, agenda: Agenda, number: int, one: Chosen) -> dict[str, object]:
    partner, mode = grid.inputs.partners[one.pair], grid.modes[one.pair]
    others = [s for s in agenda.slots if (s.pair, s.operator) == (one.pair, one.operator) and s is not one]
    after = fall_back(grid, one.slot, [(s.start, s.label) for s in others], agenda.busy, agenda.commitments.refused)
    local = local_span(one.start, one.end, hours.zone_of(partner)) if partner.time_zone else ""
    return {
        "slot": number,
        "partner": partner.call,
        "operator": one.operator,
        "band": grid.band_of(one.pair),
        "night": grid.period.dates[one.night],
        "slot_start_utc": instant_of_minute(one.start),
        "slot_end_utc": instant_of_minute(one.end),
        "home_local": local_span(one.start, one.end, grid.period.zone),
        "partner_local": local,
        "chance": float(one.slot.chance[0]),
        "joint_chance": chance_of_one([s.slot for s in (one, *others)]),
        "state": one.state,
        "label": one.label,
        "uid": one.uid or uid_of(grid, one.pair, one.label),
        "mode": mode.title if mode else "",
        "opener": opener_of(grid.inputs, one.pair),
        "window": int(one.slot.window[0]),
        **_figures(grid, one),
        **_fall_back_columns(after),
    }


def _figures(grid: SlotGrid, one: Chosen) -> dict[str, object]:
    """Means over the minutes of the slot that its window holds."""
    rows = grid.rows_of(one.pair, one.start, one.end)
    window = int(one.slot.window[0])
    rows = rows[grid.minutes.window[rows] == window]
    if not rows.size:
        return dict.fromkeys(MEANS, np.nan) | {"polarization_advice": ""}
    minute, track = grid.minutes.minute[rows], grid.track
    place = (minute + 0.5) * 60.0 + track.shift_s[window]
    means = {
        name: float(np.interp(place, track.axis_s, grid.samples[of].to_numpy(float)).mean())
        for name, of in MEANS.items()
    }
    last = int(np.searchsorted(track.axis_s, minute[0] * 60.0 + track.shift_s[window], side="right")) - 1
    return means | {"polarization_advice": grid.samples["polarization_advice"].iloc[last]}


def _fall_back_columns(after: FallBack) -> dict[str, object]:
    found: dict[str, object] = {"fall_back": after.words}
    for name, stretch in (
        ("fall_back", after.tonight or after.later),
        ("second_fall_back", after.later if after.tonight else None),
    ):
        found[f"{name}_start_utc"] = pd.NaT if stretch is None else instant_of_minute(stretch[0])
        found[f"{name}_end_utc"] = pd.NaT if stretch is None else instant_of_minute(stretch[1])
    return found
