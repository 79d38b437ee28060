"""What pages say of a skyline from terrain, and where they say it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from pipeline.inputs.horizon import HorizonPoint, Terrain
from pipeline.inputs.model import Station
from pipeline.letters.station_words import _figures
from pipeline.operating.night_track import make_night_track
from pipeline.reports.method_view import method_view
from pipeline.reports.plan_text import plan_text
from pipeline.sheets.dish_sheet import dish_sheet
from pipeline.wording.speech import speech_for
from pipeline.wording.terrain import home_skyline_words, sheet_words, terrain_words
from tests.plan.months import one_station
from tests.sheets.invented_agenda import NIGHT, night_plan

TERRAIN = Terrain("tiles", ("a.hgt", "b.hgt"), 211.6, 2.0, 100.0, 640.0, HorizonPoint(95.0, 4.2), 12.3, False, False)


def station(**changes: object) -> Station:
    bare = one_station("QA1AAA", 50.0, 10.0, 100.0)
    return dataclasses.replace(bare, horizon=(HorizonPoint(95.0, 4.2),), **changes)  # type: ignore[arg-type]


def test_the_method_page_tells_the_kind_of_skyline() -> None:
    assert home_skyline_words(station()) == "Home is planned with a surveyed horizon."
    assert home_skyline_words(station(terrain=TERRAIN)) == (
        "Home is planned with a skyline from terrain: 2 elevation tiles, antenna 2 m above the ground at 212 m, ground"
        " within 100 m left aside, standard refraction; trees and buildings are not in it."
    )


def test_the_sheet_and_the_terminal_warn() -> None:
    beside = dataclasses.replace(TERRAIN, surveyed=True)
    assert sheet_words(station()) == ""
    assert sheet_words(station(terrain=TERRAIN)) == "The skyline is the terrain's: trees and buildings are not in it."
    assert sheet_words(station(terrain=beside)).startswith("Where you did not survey it, ")
    assert terrain_words([station()]) == ""
    assert terrain_words([station(terrain=TERRAIN)]) == (
        "skyline from terrain for QA1AAA: trees and buildings are not in it"
    )


def test_a_partner_reads_that_nobody_surveyed_its_sky() -> None:
    one = station(terrain=TERRAIN, language="de")
    said = [words for words, _ in _figures(one, "3cm", speech_for(one), 10.0)]
    assert "ein Horizont aus einem Höhenmodell, ohne Bäume" in said


def test_calendar_terminal_and_dish_sheet_say_it() -> None:
    # The skyline stays; only where it comes from is another.
    plan = night_plan()
    plan = dataclasses.replace(plan, agenda=plan.agenda.assign(chance=0.9))
    plain = (plan_text(plan, [Path("out/x/calendar.html")], Path("out")), *method_view(plan).policy)
    home = dataclasses.replace(plan.inputs.home, terrain=TERRAIN)
    partner = dataclasses.replace(plan.inputs.partners[0], terrain=TERRAIN)
    inputs = dataclasses.replace(plan.inputs, home=home, partners=(partner, *plan.inputs.partners[1:]))
    here = dataclasses.replace(plan, inputs=inputs)
    assert not [line for line in plain if "terrain" in line]
    text = " ".join(plan_text(here, [Path("out/x/calendar.html")], Path("out")).split())
    assert "skyline from terrain for QM7TOR and QF4LUM: trees and buildings are not in it" in text
    told = method_view(here).policy
    assert home_skyline_words(home) in told
    assert "Skyline from terrain for QF4LUM: trees and buildings are not in it." in told
    night = here.night(NIGHT)
    track = make_night_track(inputs, NIGHT, here.period.edges_of(NIGHT), [(one.start, one.end) for one in night.slots])
    assert dish_sheet(night, track, 45).readings.endswith(sheet_words(home))
    # Where nobody has stated a skyline the sheet asks to look.
    assert "Skyline not in the station file: look before you set up." not in dish_sheet(night, track, 45).moving
    bare = dataclasses.replace(inputs, home=dataclasses.replace(home, terrain=None, assumed=("horizon",)))
    night = dataclasses.replace(here, inputs=bare).night(NIGHT)
    assert dish_sheet(night, track, 45).moving[-1] == "Skyline not in the station file: look before you set up."
