"""The agenda as tables: a row a slot with the figures expected in it, a row another time for one, a row an offer gone.

From the agenda and the samples; figures are means over the slot, minute by minute. `fall_back` holds values, not words.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from pipeline.agenda.agenda import Agenda, Chosen
from pipeline.agenda.alternatives import Alternative
from pipeline.agenda.commitments import uid_of
from pipeline.agenda.contacts import chance_of_one
from pipeline.agenda.fall_backs import FallBack, Missed, fall_backs
from pipeline.agenda.joint import chance_together
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.pairs.feed_advice import advice_through
from pipeline.pairs.outcomes import opener_of
from pipeline.windows.instants import instant_of_minute

COLUMNS = (
    "slot", "partner", "operator", "band", "night", "slot_start_utc", "slot_end_utc", "chance", "chance_met",
    "joint_chance", "joint_chance_met", "state", "slot_outcome", "label", "uid", "mode", "opener",
    "report_at_partner_db", "report_at_home_db", "margin_at_partner_db", "margin_at_home_db", "doppler_spread_hz",
    "polarization_advice", "window", "fall_back", "fall_back_start_utc", "fall_back_end_utc",
    "second_fall_back_start_utc", "second_fall_back_end_utc",
)  # fmt: skip
# The site at which home stands then; only where it moves.
SITE = "site"
INSTANTS = tuple(name for name in COLUMNS if name.endswith("_utc"))
MEANS = {
    "report_at_partner_db": "snr_at_partner_db",
    "report_at_home_db": "snr_at_home_db",
    "margin_at_partner_db": "margin_at_partner_db",
    "margin_at_home_db": "margin_at_home_db",
    "doppler_spread_hz": "doppler_spread_hz",
}
ALTERNATIVES = (
    "partner", "operator", "band", "label", "instead_of", "night", "slot_start_utc", "slot_end_utc", "chance",
    "chance_met",
)  # fmt: skip
WITHDRAWN = ("partner", "label", "uid", "sequence", "slot_start_utc", "slot_end_utc")


def agenda_table(grid: SlotGrid, agenda: Agenda) -> pd.DataFrame:
    """A row for each slot, in order of time."""
    ahead = [one for one in agenda.slots if not one.is_over]
    missed = [Missed(one.slot, [(s.start, s.label) for s in _others(agenda, one)]) for one in ahead]
    found = fall_backs(grid, missed, agenda.busy, agenda.commitments.refused)
    after = {id(one): each for one, each in zip(ahead, found, strict=True)}
    rows = [
        _row(grid, agenda, number, one, after.get(id(one), FallBack(None, None)))
        for number, one in enumerate(agenda.slots, start=1)
    ]
    return _frame(rows, (*COLUMNS, SITE) if grid.inputs.sites else COLUMNS)


def alternatives_table(grid: SlotGrid, alternatives: Sequence[Alternative]) -> pd.DataFrame:
    """A row for each other time that letters offer, in the order of their slots."""
    rows = [
        {
            "partner": grid.inputs.partners[one.pair].call,
            "operator": one.operator,
            "band": grid.band_of(one.pair),
            "label": one.label,
            "instead_of": one.instead_of,
            "night": grid.period.dates[one.night],
            "slot_start_utc": instant_of_minute(one.start),
            "slot_end_utc": instant_of_minute(one.end),
            "chance": float(one.slot.chance[0]),
            "chance_met": float(one.slot.chance_met[0]),
            **_site(grid, one.night),
        }
        for one in alternatives
    ]
    return _frame(rows, (*ALTERNATIVES, SITE) if grid.inputs.sites else ALTERNATIVES)


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


def _frame(rows: Sequence[dict[str, object]], names: Sequence[str]) -> pd.DataFrame:
    """The rows with typed columns, also without any."""
    frame = pd.DataFrame(list(rows), columns=list(names))
    for name in names:
        if name.endswith("_utc"):
            frame[name] = pd.DatetimeIndex(pd.to_datetime(frame[name], utc=True)).as_unit("us")
        elif name.endswith(("_db", "_hz", "chance", "chance_met")):
            frame[name] = frame[name].astype(float)
        elif name in ("slot", "window", "sequence"):
            frame[name] = frame[name].astype("int64")
    return frame


def _site(grid: SlotGrid, night: int) -> dict[str, object]:
    return {SITE: grid.inputs.home_on(grid.period.dates[night]).title} if grid.inputs.sites else {}


def _others(agenda: Agenda, one: Chosen) -> list[Chosen]:
    """The same partner's and operator's other slots; those that are over and those ahead are apart."""
    person = (one.pair, one.operator)
    return [s for s in agenda.slots if (s.pair, s.operator) == person and s is not one and s.is_over == one.is_over]


def _row(grid: SlotGrid, agenda: Agenda, number: int, one: Chosen, after: FallBack) -> dict[str, object]:
    partner, mode = grid.inputs.partners[one.pair], grid.modes[one.pair]
    others = _others(agenda, one)
    together = (one,) if one.is_over else (one, *others)
    nights = np.array([each.night for each in together], dtype=np.int64)
    return {
        "slot": number,
        "partner": partner.call,
        "operator": one.operator,
        "band": grid.band_of(one.pair),
        "night": grid.period.dates[one.night],
        "slot_start_utc": instant_of_minute(one.start),
        "slot_end_utc": instant_of_minute(one.end),
        "chance": float(one.slot.chance[0]),
        "chance_met": float(one.slot.chance_met[0]),
        "joint_chance": chance_together(np.concatenate([s.slot.success for s in together]), nights, 1.0),
        "joint_chance_met": chance_of_one([s.slot for s in together]),
        "state": one.state,
        "slot_outcome": one.outcome,
        "label": one.label,
        "uid": one.uid or uid_of(grid, one.pair, one.label),
        "mode": mode.title if mode else "",
        "opener": opener_of(grid.inputs, one.pair),
        "window": int(one.slot.window[0]),
        **_site(grid, one.night),
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
    near = np.clip(np.searchsorted(track.axis_s, place), 0, track.axis_s.size - 1)
    return means | {"polarization_advice": advice_through(grid.samples.iloc[np.unique(near)])}


def _fall_back_columns(after: FallBack) -> dict[str, object]:
    found: dict[str, object] = {"fall_back": after}
    for name, stretch in (
        ("fall_back", after.tonight or after.later),
        ("second_fall_back", after.later if after.tonight else None),
    ):
        found[f"{name}_start_utc"], found[f"{name}_end_utc"] = stretch or (pd.NaT, pd.NaT)
    return found
