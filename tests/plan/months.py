"""Plans that the tests of this room share: the demo's months, and bare ones of two stations; made once a process."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.agenda_table import agenda_table
from pipeline.agenda.commitments import make_commitments
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.inputs.model import Antenna, BandEquipment, DateRange, Partner, Policy, Position, Season, Station
from pipeline.inputs.modes import Mode, mode_table
from pipeline.outlook.facts import Fact
from pipeline.outlook.nights import judge
from pipeline.outlook.reasons import facts_of_nights
from pipeline.outlook.worth import Worth
from pipeline.pairs.survey import Survey, make_survey
from pipeline.plan.plan import Plan, make_plan
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.windows.span import span_of
from pipeline.windows.tables import nights_table

SEASON_FILE = Path(__file__).resolve().parents[2] / "stations" / "season.yaml"
TODAY = dt.date(2026, 1, 1)


@cache
def demo_inputs(month: str = "2027-03") -> Inputs:
    """The demo's stations and season in any month."""
    return read_inputs(SEASON_FILE, month)


def with_equipment(station: Station, **changes: Any) -> Station:
    """The same station with other figures on every band."""
    bands = {band: dataclasses.replace(one, **changes) for band, one in station.bands.items()}
    return dataclasses.replace(station, bands=bands)


def with_policy(inputs: Inputs, **changes: Any) -> Inputs:
    """The same season under another policy."""
    policy = dataclasses.replace(inputs.season.policy, **changes)
    return dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, policy=policy))


def only_partners(inputs: Inputs, *calls: str) -> Inputs:
    """The same season with these partners alone."""
    return dataclasses.replace(
        inputs,
        partners=tuple(one for one in inputs.partners if one.call in calls),
        wishes=tuple(wish for wish in inputs.wishes if wish.call in calls),
    )


@lru_cache(maxsize=4)
def month_plan(month: str = "2027-03") -> Plan:
    """A month of the demo at a step of a quarter of an hour."""
    return make_plan(with_policy(demo_inputs(month), step_minutes=15), TODAY)


def survey_of(inputs: Inputs) -> Survey:
    """Windows and samples of the season's period."""
    return make_survey(inputs, span_of(inputs, TODAY), lambda _: None)


def agenda_alone(inputs: Inputs) -> pd.DataFrame:
    """The agenda's table of the season's period; its plan takes twice as long, for reasons, trips and the map."""
    found = survey_of(inputs)
    grid = make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)
    return agenda_table(grid, make_agenda(grid))


@dataclass(frozen=True)
class Outlook:
    """What a plan knows before it makes an agenda, which takes it as long again."""

    inputs: Inputs
    band: str
    windows: pd.DataFrame
    samples: pd.DataFrame
    nights: pd.DataFrame
    modes: tuple[Mode | None, ...]
    night_facts: tuple[tuple[Fact, ...], ...]
    worth: Worth


def outlook(inputs: Inputs) -> Outlook:
    """The season's period with its nights judged."""
    found = survey_of(inputs)
    grid = make_slot_grid(inputs, found.period, found.windows, found.samples, found.modes)
    worth = Worth(grid, make_commitments(grid))
    sky = nights_table(
        found.sky, found.standpoints.sites, found.period, found.windows, found.home_above_horizon(inputs.home)
    )
    nights = judge(worth, sky)
    facts = facts_of_nights(worth, nights)
    return Outlook(inputs, inputs.season.band, found.windows, found.samples, nights, found.modes, facts, worth)


def one_station(call: str, latitude_deg: float, longitude_deg: float, height_m: float, **equipment: Any) -> Station:
    """A station on 3 cm with a dish; what is not said is plain."""
    figures: dict[str, Any] = {
        "antenna": Antenna(dish_diameter_m=1.8), "power_w": 50.0, "noise_figure_db": 0.8,
        "loss_before_preamplifier_db": 0.0, "spillover_fraction": 0.05, "polarization": "horizontal",
        "pointing_error_deg": 0.2, "frequency_accuracy_hz": 2.0, "modes": ("CW",),
    }  # fmt: skip
    band = BandEquipment(**(figures | equipment))
    position = Position(latitude_deg, longitude_deg, height_m)
    return Station(call=call, position=position, time_zone="UTC", available="always", bands={"3cm": band})


def small_inputs(home: Station, *partners: Station, first: dt.date, last: dt.date, **policy: Any) -> Inputs:
    """A season of a few nights between stations made here."""
    season = Season(
        home=home.call, band="3cm", frequency_mhz=10_368.0, dates=DateRange(first, last), policy=Policy(**policy)
    )
    wishes = tuple(Partner(one.call) for one in partners)
    return Inputs(season, home, partners, wishes, {"season.yaml": "0"}, modes=mode_table())
