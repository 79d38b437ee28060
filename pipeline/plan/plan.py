"""One plan: every stage in order, from the inputs to the tables that reports are made of.

Stations and season → sky → passes → windows → samples → nights → partners → agenda. Nothing is read or written here.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd
from geographiclib.geodesic import Geodesic

from pipeline.absence.causes import Absence, Cause
from pipeline.absence.why_no_night import nights_without_slot
from pipeline.absence.why_not import partners_without_slot
from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.agenda_table import SITE, agenda_table, alternatives_table, withdrawn_table
from pipeline.agenda.alternatives import alternatives_of
from pipeline.agenda.commitments import PAST
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.notes import Note
from pipeline.agenda.reserves import Reserve, reserve_nights
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.inputs.model import Station
from pipeline.inputs.modes import Mode
from pipeline.outlook.board import Board, make_board
from pipeline.outlook.carpets import Carpet, make_carpets
from pipeline.outlook.facts import Fact
from pipeline.outlook.month_course import MonthCourse, month_course
from pipeline.outlook.night_sites import choose_sites
from pipeline.outlook.nights import judge
from pipeline.outlook.questions import Question, questions_for_partners
from pipeline.outlook.reasons import facts_of_nights
from pipeline.outlook.site_choice import Chosen
from pipeline.outlook.trips import Trips, make_trips, trips_notes
from pipeline.outlook.usable_windows import UsableWindow, usable_windows
from pipeline.outlook.weather import PairWeather, telling_weather
from pipeline.outlook.worth import Worth
from pipeline.pairs.equipment import pair_frequency_mhz
from pipeline.pairs.survey import Progress, Survey, make_survey
from pipeline.plan import tables
from pipeline.plan.views import NightView, PartnerView, Slot, assumed_of, night_view, partner_view, slots_of
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
    with the partners, and so do `questions`: what each is worth asking, the decisive first. `siting` is the choice of
    a site a night, where it was made for this plan.
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
    siting: Chosen | None = None

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

    @cached_property
    def weather(self) -> tuple[PairWeather, ...]:
        """Of the partners with a window those whose weather says something."""
        return telling_weather(self.inputs, self.samples, self.first_night, self.last_night)

    def is_worked(self, call: str) -> bool:
        """Whether all contacts that were wanted with a partner are made."""
        absence = self.absences[self.inputs.place_of(call)]
        return absence is not None and absence.cause is Cause.WORKED

    def is_answered_for(self, call: str) -> bool:
        """Whether nothing is asked of a partner: it is worked, or nobody has said how its past slot went."""
        said = set(self.agenda.loc[self.agenda["partner"] == call, "slot_outcome"])
        return self.is_worked(call) or (PAST in said and "" not in said)

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
        return assumed_of(self.inputs)


def make_plan(inputs: Inputs, today: dt.date, progress: Progress | None = None, calendar: bool = True) -> Plan:
    """The plan of the season's period, from `planned_from` on; `today` only says which month it is where none is named.

    Without `calendar` its carpets, trips and boards, which the calendar's pages alone show, stay empty.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the period.
    """
    tell = progress or (lambda _: None)
    sited = choose_sites(inputs, today, tell)
    inputs = inputs if sited is None else sited.inputs
    found = make_survey(inputs, span_of(inputs, today), tell) if sited is None else sited.survey
    inputs = with_beginning(inputs, found.period)
    period, sky = found.period, found.sky
    windows, samples = found.windows, found.samples
    calls = [s.call for s in inputs.partners]

    no_windows = _no_windows(found)
    tell("Agenda")
    grid = make_slot_grid(inputs, period, windows, samples, found.modes)
    agenda = make_agenda(grid)

    tell("Nights")
    worth = Worth(grid, agenda.commitments)
    nights = judge(worth, _nights_table(inputs, found), agenda)
    if inputs.sites:
        nights = nights.assign(**{SITE: [inputs.home_on(date).title for date in period.dates]})
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
        carpets=make_carpets(grid) if calendar else (),
        modes=found.modes,
        notes=(f"Moon and Sun from JPL kernel {sky.kernel}", sky.clock_note, *inputs.warnings),
        kernel=sky.kernel,
        clock_note=sky.clock_note,
        agenda=agenda_table(grid, agenda),
        contacts_expected=contacts_of(agenda.slots, inputs.wishes),
        trips=make_trips(grid, agenda) if calendar else (),
        agenda_notes=(*agenda.notes, *trips_notes(grid, agenda)),
        alternatives=alternatives_table(grid, alternatives_of(grid, agenda)),
        withdrawn=withdrawn_table(agenda),
        no_windows=no_windows,
        absences=partners_without_slot(grid, agenda, no_windows),
        idle_nights=nights_without_slot(grid, agenda, nights),
        night_facts=facts_of_nights(worth, nights),
        reserves=reserve_nights(grid, agenda),
        usable_windows=usable_windows(worth),
        boards=tuple(
            make_board(inputs, sky, found.on(night).standpoints.sites, period, night)
            for night in sorted(agenda.nights if calendar else ())
        ),
        questions=questions_for_partners(grid, agenda),
        siting=None if sited is None else sited.choice,
    )


def _nights_table(inputs: Inputs, survey: Survey) -> pd.DataFrame:
    """A row a night; where home moves each as it is at its site."""
    period, made = survey.period, dict[Survey, pd.DataFrame]()
    for here in dict.fromkeys(survey.stays or (survey,)):
        moon_up, sites = here.home_above_horizon(inputs.home), here.standpoints.sites
        made[here] = nights_table(survey.sky, sites, period, survey.windows, moon_up)
    if not survey.stays:
        return made[survey]
    return pd.concat([made[here].iloc[[night]] for night, here in enumerate(survey.stays)])


def _no_windows(survey: Survey) -> tuple[NoWindow | None, ...]:
    """The cause for each partner without a window; where home moves by the nights at the site that has most of them."""
    pairs = survey.pairs
    survey, time = _usual_stay(survey)
    found: list[NoWindow | None] = []
    for index, windows in enumerate(pairs, start=1):
        if windows.start_s.size:
            found.append(None)
            continue
        seen = [survey.look(np.full(time.size, owner), time) for owner in (0, index)]
        azimuth, elevation = np.stack([s[0] for s in seen]), np.stack([s[1] for s in seen])
        found.append(why_no_window(survey.standpoints.rules, (0, index), azimuth, elevation))
    return tuple(found)


def _usual_stay(survey: Survey) -> tuple[Survey, npt.NDArray[np.float64]]:
    """The survey of the site that has most nights, and instants of these, s, (n,)."""
    time = np.arange(*survey.period_s, STEP_S)
    if not survey.stays:
        return survey, time
    usual = max(survey.stays, key=survey.stays.count)
    mine = np.array([one is usual for one in survey.stays])
    night = survey.period.night_index(time, survey.sky.start)
    return usual, time[mine[np.clip(night, 0, mine.size - 1)]]


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
