"""What upstairs rooms take of a plan: one slot, one partner, one night; never the whole plan to filter again.

From the plan's tables and inputs. `PartnerView` holds nothing of any other partner, so that a letter made from it
cannot tell of one.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pandas as pd

from pipeline.absence.causes import Cause
from pipeline.inputs.letter_keys import Letters
from pipeline.inputs.model import BandEquipment, Operator, Partner, Policy, Station
from pipeline.inputs.modes import Mode
from pipeline.outlook.questions import Question
from pipeline.pairs.equipment import pair_transmit_mhz
from pipeline.pairs.feed_advice import FeedAdvice, advice_in
from pipeline.plan.tonight import Offsets
from pipeline.record.inputs import Inputs
from pipeline.record.model import Answer, Offer
from pipeline.windows.beginning import rows_ahead
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.windows.no_window import NoWindow

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

Stretch = tuple[dt.datetime, dt.datetime]
# A column of a plan made again at the site: the number that a slot of that night has.
NUMBER = "number_in_night"
# Columns of the agenda that a slot carries as they are.
FIGURES = (
    "chance", "joint_chance", "report_at_partner_db", "report_at_home_db", "margin_at_partner_db", "margin_at_home_db",
    "doppler_spread_hz",
)  # fmt: skip


@dataclass(frozen=True)
class OtherTime:
    """Another time that the partner may choose for a slot, by its own letter; UTC."""

    label: str
    start: dt.datetime
    end: dt.datetime
    chance: float


@dataclass(frozen=True)
class Slot:
    """One slot of the agenda with what is expected in it; instants are UTC, figures means over the slot.

    `number` counts the night's slots from 1. Reports (2500 Hz) and margins in dB, the spread in Hz; NaN where the Moon
    is not up for both. `again_tonight` and `again_later` are where to try again if it is missed. `outcome` is empty
    until the slot is over.
    """

    number: int
    uid: str
    partner: Station
    label: str
    operator: str
    band: str
    night: dt.date
    start: dt.datetime
    end: dt.datetime
    state: str
    mode: Mode | None
    opener: str
    home_mhz: float
    partner_mhz: float
    chance: float
    joint_chance: float
    report_at_partner_db: float
    report_at_home_db: float
    margin_at_partner_db: float
    margin_at_home_db: float
    doppler_spread_hz: float
    feed_advice: FeedAdvice | None
    again_tonight: Stretch | None
    again_later: Stretch | None
    outcome: str = ""
    alternatives: tuple[OtherTime, ...] = ()

    @property
    def fall_backs(self) -> tuple[Stretch, ...]:
        """Where to try again, the nearest first."""
        return tuple(one for one in (self.again_tonight, self.again_later) if one is not None)

    @property
    def call(self) -> str:
        """The partner's call."""
        return self.partner.call

    @property
    def equipment(self) -> BandEquipment:
        """The partner's on this band."""
        return self.partner.bands[self.band]


@dataclass(frozen=True)
class Withdrawn:
    """An offer of the ledger that the agenda no longer holds."""

    uid: str
    label: str
    sequence: int
    start: dt.datetime
    end: dt.datetime


@dataclass(frozen=True)
class PartnerView:
    """All of a plan that concerns one partner and lies ahead. `windows` and `samples` are its own rows, by time.

    `cause` is why it has no slot, without the figures, which may name others. `offers` and `answers` are what the
    record holds of it; `edges` are the first and the last instant of the span; `questions` are what it is worth asking.
    `stays` tell where home stands night by night, where it moves.
    """

    number: str
    first_night: dt.date
    last_night: dt.date
    edges: Stretch
    home: Station
    home_zone: ZoneInfo
    station: Station
    wish: Partner
    band: str
    mode: Mode | None
    home_mhz: float
    partner_mhz: float
    policy: Policy
    letters: Letters
    operators: tuple[Operator, ...]
    paper: str
    slots: tuple[Slot, ...]
    withdrawn: tuple[Withdrawn, ...]
    windows: pd.DataFrame
    samples: pd.DataFrame
    summary: dict[str, Any]
    no_window: NoWindow | None
    cause: Cause | None
    offers: tuple[Offer, ...]
    answers: tuple[Answer, ...]
    is_answered_for: bool = False
    questions: tuple[Question, ...] = ()
    stays: tuple[tuple[Stretch, Station], ...] = ()

    @property
    def call(self) -> str:
        """The partner's call."""
        return self.station.call

    def home_at(self, moment: dt.datetime) -> Station:
        """Home where it stands at a moment."""
        return next((home for (begin, end), home in self.stays if begin <= moment < end), self.home)

    @property
    def is_wanted(self) -> bool:
        """Whether a contact is wanted or agreed; if not, a partner only hears that its slots are withdrawn."""
        return bool(self.slots) or (self.wish.contacts_wanted > 0 and not self.is_answered_for)


@dataclass(frozen=True)
class NightView:
    """All of a plan that the sheets of one night take; `samples` are the night's rows of its partners.

    `edges` are the lowest points of the Moon that bound the night, UTC. `set_up_for` are the slots that the crew
    came for, where the night was planned again since.
    """

    date: dt.date
    edges: Stretch
    number: str
    inputs: Inputs
    zone: ZoneInfo
    band: str
    frequency_mhz: float
    assumed: dict[str, tuple[str, ...]]
    slots: tuple[Slot, ...]
    samples: pd.DataFrame
    offsets: Offsets = field(default_factory=Offsets)
    set_up_for: tuple[Stretch, ...] = ()


def night_view(plan: Plan, date: dt.date) -> NightView:
    """The night that carries this date; without slots its sheets serve tests. Raises ValueError where none does."""
    slots = tuple(slot for slot in plan.slots if slot.night == date)
    own = (plan.samples["night"] == date) & plan.samples["partner"].isin({slot.call for slot in slots})
    inputs = plan.inputs.on_night(date)
    return NightView(
        date,
        plan.period.edges_of(date),
        plan.number,
        inputs,
        plan.zone,
        plan.band,
        plan.frequency_mhz,
        assumed_of(inputs),
        slots,
        plan.samples[own],
    )


def assumed_of(inputs: Inputs) -> dict[str, tuple[str, ...]]:
    """Which figures of the season and of which station are defaults: `season` or call to dotted keys."""
    stations = {one.call: one.assumed for one in (inputs.home, *inputs.partners)}
    return {name: keys for name, keys in ({"season": inputs.season.assumed} | stations).items() if keys}


def slots_of(plan: Plan) -> tuple[Slot, ...]:
    """Every slot of the agenda by time."""
    rows = sorted(records(plan.agenda), key=lambda row: (row["slot_start_utc"], row["partner"]))
    count: dict[dt.date, int] = {}
    found = []
    for row in rows:
        night = as_date(row["night"])
        count[night] = count.get(night, 0) + 1
        # Planned again at the site, a slot keeps the number that the crew's paper has.
        kept = row.get(NUMBER)
        found.append(_slot(plan, row, night, count[night] if kept is None or is_missing(kept) else int(kept)))
    return tuple(found)


def _slot(plan: Plan, row: dict[str, Any], night: dt.date, number: int) -> Slot:
    index = plan.inputs.place_of(row["partner"])
    home_mhz, partner_mhz = pair_transmit_mhz(plan.inputs, index)
    tonight, later = _again(row, plan.period.edges_of(night)[1])
    return Slot(
        number=number,
        uid=str(row["uid"]),
        partner=plan.inputs.partners[index],
        label=str(row["label"]),
        operator=str(row["operator"]),
        band=str(row["band"]),
        night=night,
        start=as_instant(row["slot_start_utc"]),
        end=as_instant(row["slot_end_utc"]),
        state=str(row["state"]),
        mode=plan.modes[index],
        opener=str(row["opener"]),
        home_mhz=home_mhz,
        partner_mhz=partner_mhz,
        feed_advice=advice_in(row["polarization_advice"]),
        again_tonight=tonight,
        again_later=later,
        outcome=str(row["slot_outcome"]),
        alternatives=_alternatives(plan, row),
        **{name: float(row[name]) for name in FIGURES},
    )


def _alternatives(plan: Plan, row: dict[str, Any]) -> tuple[OtherTime, ...]:
    if row["slot_outcome"]:
        return ()
    return tuple(
        OtherTime(
            str(one["label"]), as_instant(one["slot_start_utc"]), as_instant(one["slot_end_utc"]), float(one["chance"])
        )
        for one in _own(plan.alternatives, row["partner"])
        if one["instead_of"] == row["label"]
    )


def _again(row: dict[str, Any], night_end: dt.datetime) -> tuple[Stretch | None, Stretch | None]:
    """The fall-back of the same night and that of another one."""
    tonight = later = None
    for name in ("fall_back", "second_fall_back"):
        edges = [row.get(f"{name}_{edge}_utc") for edge in ("start", "end")]
        if any(is_missing(edge) for edge in edges):
            continue
        start, end = (as_instant(edge) for edge in edges)
        if start < night_end:
            tonight = tonight or (start, end)
        else:
            later = later or (start, end)
    return tonight, later


def partner_view(plan: Plan, call: str) -> PartnerView:
    """What one partner may be told. Raises ValueError where the call is none of the season's partners."""
    inputs, index = plan.inputs, plan.inputs.place_of(call)
    home_mhz, partner_mhz = pair_transmit_mhz(inputs, index)
    return PartnerView(
        number=plan.number,
        first_night=plan.first_night,
        last_night=plan.last_night,
        edges=(plan.period.start, plan.period.end),
        home=inputs.home,
        home_zone=plan.zone,
        station=inputs.partners[index],
        wish=inputs.wishes[index],
        band=inputs.bands[index],
        mode=plan.modes[index],
        home_mhz=home_mhz,
        partner_mhz=partner_mhz,
        policy=inputs.season.policy,
        letters=_letters(inputs, index),
        operators=inputs.season.operators,
        paper=inputs.season.report.paper,
        slots=tuple(slot for slot in plan.slots if slot.call == call and not slot.outcome),
        withdrawn=tuple(_withdrawn(row) for row in _own(plan.withdrawn, call)),
        windows=rows_ahead(_rows(plan.windows, call, "window_start_utc"), inputs),
        samples=rows_ahead(_rows(plan.samples, call, "time_utc"), inputs),
        summary=next(row for row in records(plan.partners) if row["partner"] == call) | _left(plan, call),
        no_window=plan.no_windows[index],
        cause=absence.cause if (absence := plan.absences[index]) else None,
        offers=tuple(offer for offer in inputs.record.offers if offer.partner == call),
        answers=tuple(one for one in inputs.record.answers if one.partner == call),
        is_answered_for=plan.is_answered_for(call),
        questions=plan.questions[index],
        stays=tuple((plan.period.edges_of(date), inputs.home_on(date)) for date in inputs.sites),
    )


def _letters(inputs: Inputs, index: int) -> Letters:
    """The season's, with the partner's own meeting place where its file names one."""
    letters = inputs.season.letters
    meet = inputs.partners[index].meet
    return letters if meet is None else dataclasses.replace(letters, meet=meet)


def _left(plan: Plan, call: str) -> dict[str, Any]:
    """Of a plan begun later than its first night: the windows of the partner that are left, and their hours."""
    if plan.inputs.planned_from is None:
        return {}
    windows = rows_ahead(_rows(plan.windows, call, "window_start_utc"), plan.inputs)
    return {"windows": len(windows), "hours": float(windows["duration_min"].sum()) / 60.0}


def _own(frame: pd.DataFrame, call: str) -> list[dict[str, Any]]:
    return records(frame[frame["partner"] == call]) if len(frame) else []


def _rows(frame: pd.DataFrame, call: str, by: str) -> pd.DataFrame:
    """A partner's own rows by time."""
    return frame[frame["partner"] == call].sort_values(by, kind="stable") if len(frame) else frame


def _withdrawn(row: dict[str, Any]) -> Withdrawn:
    return Withdrawn(
        uid=str(row["uid"]),
        label=str(row["label"]),
        sequence=int(row["sequence"]),
        start=as_instant(row["slot_start_utc"]),
        end=as_instant(row["slot_end_utc"]),
    )
