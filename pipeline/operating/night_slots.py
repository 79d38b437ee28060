"""The slots of one night as the sheets take them: rows of the agenda with their partner, mode and frequencies.

From `Plan.agenda`; nothing is computed here but what each end sends on.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from pipeline.pairs.equipment import pair_transmit_mhz
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant, noon_of

if TYPE_CHECKING:
    from pipeline.inputs.model import BandEquipment, Station
    from pipeline.inputs.modes import Mode
    from pipeline.plan.plan import Plan

Stretch = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True)
class NightSlot:
    """A slot: times in UTC; `row` holds the agenda's own columns. `number` counts the night's slots from 1."""

    number: int
    label: str
    partner: Station
    operator: str
    band: str
    start: dt.datetime
    end: dt.datetime
    state: str
    mode: Mode | None
    opener: str
    home_mhz: float
    partner_mhz: float
    zone: ZoneInfo
    row: dict[str, Any]

    @property
    def call(self) -> str:
        """The partner's call."""
        return self.partner.call

    @property
    def equipment(self) -> BandEquipment:
        """The partner's on this band."""
        return self.partner.bands[self.band]

    def instant(self, column: str) -> dt.datetime | None:
        """A time column of the agenda, or None."""
        value = self.row.get(column)
        return None if is_missing(value) else as_instant(value)

    @property
    def night_end(self) -> dt.datetime:
        """The noon after the night, UTC."""
        return noon_of(as_date(self.row["night"]) + dt.timedelta(days=1), self.zone)

    @property
    def again_tonight(self) -> Stretch | None:
        """The first fall-back where it lies in the same night."""
        start, end = self.instant("fall_back_start_utc"), self.instant("fall_back_end_utc")
        return None if start is None or end is None or start >= self.night_end else (start, end)

    @property
    def again_later(self) -> Stretch | None:
        """The first fall-back on another night."""
        for name in ("fall_back", "second_fall_back"):
            start, end = self.instant(f"{name}_start_utc"), self.instant(f"{name}_end_utc")
            if start is not None and end is not None and start >= self.night_end:
                return start, end
        return None


def slots_of(plan: Plan, night: dt.date) -> tuple[NightSlot, ...]:
    """The night's slots by time."""
    rows = sorted(records(plan.agenda), key=lambda row: (row["slot_start_utc"], row["partner"]))
    tonight = [row for row in rows if as_date(row["night"]) == night]
    return tuple(_slot(plan, number, row) for number, row in enumerate(tonight, start=1))


def nights_with_slots(plan: Plan) -> list[dt.date]:
    """Dates of the nights that have slots, in order."""
    return sorted({as_date(row["night"]) for row in records(plan.agenda)})


def _slot(plan: Plan, number: int, row: dict[str, Any]) -> NightSlot:
    index = plan.inputs.place_of(row["partner"])
    home_mhz, partner_mhz = pair_transmit_mhz(plan.inputs, index)
    return NightSlot(
        number=number,
        label=str(row["label"]),
        partner=plan.inputs.partners[index],
        operator=str(row["operator"]),
        band=str(row["band"]),
        start=as_instant(row["slot_start_utc"]),
        end=as_instant(row["slot_end_utc"]),
        state=str(row["state"]),
        mode=plan.modes[index],
        opener=str(row["opener"]),
        home_mhz=home_mhz,
        partner_mhz=partner_mhz,
        zone=plan.zone,
        row=row,
    )
