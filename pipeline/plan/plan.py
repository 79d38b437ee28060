"""One plan: every stage in order, from the inputs to the tables that reports are made of.

Stations and season → sky → passes → windows → samples → nights → partners → agenda. Nothing is read or written here.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from geographiclib.geodesic import Geodesic

from pipeline.absence.causes import Absence, Cause
from pipeline.absence.why_no_night import nights_without_slot
from pipeline.absence.why_not import partners_without_slot
from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.agenda_table import agenda_table, alternatives_table, withdrawn_table
from pipeline.agenda.alternatives import alternatives_of
from pipeline.agenda.commitments import PAST
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.notes import Note
from pipeline.agenda.reserves import Reserve, reserve_nights
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.inputs.model import Station
from pipeline.inputs.modes import Mode
from pipeline.outlook.board import Board, make_boards
from pipeline.outlook.carpets import Carpet, make_carpets
from pipeline.outlook.facts import Fact
from pipeline.outlook.month_course import MonthCourse, month_course
from pipeline.outlook.nights import judge
from pipeline.outlook.questions import Question, questions_for_partners
from pipeline.outlook.reasons import facts_of_nights
from pipeline.outlook.trips import Trips, make_trips, trips_notes
from pipeline.outlook.usable_windows import UsableWindow, usable_windows
from pipeline.outlook.worth import Worth
from pipeline.pairs.equipment import pair_frequency_mhz
from pipeline.pairs.survey import Progress, Survey, make_survey
from pipeline.plan import tables
from pipeline.plan.views import NightView, PartnerView, Slot, night_view, partner_view, slots_of
from pipeline.record.inputs import Inputs
from pipeline.windows.beginning import with_beginning
from pipeline.windows.nights import Nights
from pipeline.windows.no_window import STEP_S, NoWindow, why_no_window
from pipeline.windows.span import plan_number, span_of
from pipeline.windows.tables import nights_table


@dataclass(frozen=True)
class Plan:
    """All that reports are made of. Frames have the columns of DEVELOPERS.md, words aside, which files alone carry.

    Quantities not computed are absent; `fall_back` of the agenda holds values (FallBack). `alternatives` are the other
    times that letters offer for its slots.

    `no_windows` and `absences` go along with the partners, `idle_nights` with the nights: None where there is a window,
    or a slot. `night_facts` go along with the nights: what speaks for or against each. `reserves` are those of the
    nights to set up. `contacts_expected` are those of the slots ahead, `trips` what each further night would bring.
    `usable_windows` are those with a usable slot; `boards` belong to the nights that have slots, `carpets` go along
    with the partners, and so do `questions`: what each is worth asking, the decisive first.
    """

    inputs: Inputs
    number: str
    period: Nights
    windows: pd.DataFrame
    samples: pd.DataFrame
    nights: pd.DataFrame
    partners: pd.DataFrame
    course: MonthCourse
    carpets: tuple[Carpet, ...]
    modes: tuple[Mode | None, ...]
    notes: tuple[str, ...]
    kernel: str
    clock_note: str
    agenda: pd.DataFrame
    contacts_expected: float
    trips: tuple[Trips, ...]
    agenda_notes: tuple[Note, ...]
    alternatives: pd.DataFrame
    withdrawn: pd.DataFrame
    no_windows: tuple[NoWindow | None, ...]
    absences: tuple[Absence | None, ...]
    idle_nights: tuple[Absence | None, ...]
    night_facts: tuple[tuple[Fact, ...], ...]
    reserves: tuple[Reserve, ...]
    usable_windows: tuple[UsableWindow, ...]
    boards: tuple[Board, ...]
    questions: tuple[tuple[Question, ...], ...]

    @property
    def first_night(self) -> dt.date:
        """The first date of the plan."""
        return self.period.first_night

    @property
    def last_night(self) -> dt.date:
        """The last date of the plan."""
        return self.period.last_night

    @property
    def zone(self) -> ZoneInfo:
        """Home's time zone."""
        return self.period.zone

    @property
    def band(self) -> str:
        """The season's band."""
        return self.inputs.season.band

    @property
    def frequency_mhz(self) -> float:
        """Home's frequency on the season's band."""
        return pair_frequency_mhz(self.inputs, self.band)

    @property
    def ahead(self) -> pd.DataFrame:
        """The rows of the agenda that are still to come."""
        return self.agenda[self.agenda["slot_outcome"] == ""]

    @cached_property
    def slots(self) -> tuple[Slot, ...]:
        """Every slot of the agenda by time."""
        return slots_of(self)

    def is_answered_for(self, call: str) -> bool:
        """Whether nothing is asked of a partner: it is worked, or nobody has said how its past slot went."""
        absence = self.absences[self.inputs.place_of(call)]
        said = set(self.agenda.loc[self.agenda["partner"] == call, "slot_outcome"])
        return (absence is not None and absence.cause is Cause.WORKED) or (PAST in said and "" not in said)

    @property
    def nights_with_slots(self) -> list[dt.date]:
        """Dates of the nights that have slots, in order."""
        return sorted({slot.night for slot in self.slots})

    def for_partner(self, call: str) -> PartnerView:
        """All that concerns one partner, and nothing of any other. Raises ValueError where it is none."""
        return partner_view(self, call)

    def night(self, date: dt.date) -> NightView:
        """What the sheets of one night take. Raises ValueError where no night carries the date."""
        return night_view(self, date)

    @property
    def assumed(self) -> dict[str, tuple[str, ...]]:
        """Which figures of the season and of which station are defaults: `season` or call to dotted keys."""
        stations = {one.call: one.assumed for one in (self.inputs.home, *self.inputs.partners)}
        return {name: keys for name, keys in ({"season": self.inputs.season.assumed} | stations).items() if keys}


def make_plan(inputs: Inputs, today: dt.date, progress: Progress | None = None) -> Plan:
    """The plan of the season's period, from `planned_from` on; `today` only says which month it is where none is named.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the period.
    """
    tell = progress or (lambda _: None)
    found = make_survey(inputs, span_of(inputs, today), tell)
    inputs = with_beginning(inputs, found.period)
    period, sky, sites = found.period, found.sky, found.standpoints.sites
    windows, samples = found.windows, found.samples
    calls = [s.call for s in inputs.partners]

    no_windows = _no_windows(found)
    tell("Agenda")
    grid = make_slot_grid(inputs, period, windows, samples, found.modes)
    agenda = make_agenda(grid)

    tell("Nights")
    worth = Worth(grid, agenda.commitments)
    moon_up = found.home_above_horizon(inputs.home)
    nights = judge(worth, nights_table(sky, sites, period, windows, moon_up), agenda)
    partners = tables.partners_table(worth, calls)
    _add_geodesics(partners, inputs.home, inputs.partners)
    return Plan(
        inputs=inputs,
        number=plan_number(inputs, period),
        period=period,
        windows=windows,
        samples=samples,
        nights=nights,
        partners=partners,
        course=month_course(inputs, found),
        carpets=make_carpets(grid),
        modes=found.modes,
        notes=(f"Moon and Sun from JPL kernel {sky.kernel}", sky.clock_note, *inputs.warnings),
        kernel=sky.kernel,
        clock_note=sky.clock_note,
        agenda=agenda_table(grid, agenda),
        contacts_expected=contacts_of(agenda.slots, inputs.wishes),
        trips=make_trips(grid, agenda),
        agenda_notes=(*agenda.notes, *trips_notes(grid, agenda)),
        alternatives=alternatives_table(grid, alternatives_of(grid, agenda)),
        withdrawn=withdrawn_table(agenda),
        no_windows=no_windows,
        absences=partners_without_slot(grid, agenda, no_windows),
        idle_nights=nights_without_slot(grid, agenda, nights),
        night_facts=facts_of_nights(worth, nights),
        reserves=reserve_nights(grid, agenda),
        usable_windows=usable_windows(worth),
        boards=make_boards(inputs, sky, sites, period, sorted(agenda.nights)),
        questions=questions_for_partners(grid, agenda),
    )


def _no_windows(survey: Survey) -> tuple[NoWindow | None, ...]:
    """The cause for each partner without a window."""
    time = np.arange(*survey.period_s, STEP_S)
    found: list[NoWindow | None] = []
    for index, windows in enumerate(survey.pairs, start=1):
        if windows.start_s.size:
            found.append(None)
            continue
        seen = [survey.look(np.full(time.size, owner), time) for owner in (0, index)]
        azimuth, elevation = np.stack([s[0] for s in seen]), np.stack([s[1] for s in seen])
        found.append(why_no_window(survey.standpoints.rules, (0, index), azimuth, elevation))
    return tuple(found)


def _add_geodesics(partners: pd.DataFrame, home: Station, others: tuple[Station, ...]) -> None:
    """Great-ellipse distance and bearing from home (WGS84, Karney 2013)."""
    lines = [
        Geodesic.WGS84.Inverse(
            home.position.latitude_deg,
            home.position.longitude_deg,
            other.position.latitude_deg,
            other.position.longitude_deg,
        )
        for other in others
    ]
    partners["ground_distance_km"] = [line["s12"] / 1000.0 for line in lines]
    partners["bearing_deg"] = [line["azi1"] % 360.0 for line in lines]
