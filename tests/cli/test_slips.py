"""Fifty slips of the command line and of figures, each with the words that the answer must hold.

What operators type in their first hours: common practice, no source.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest

from pipeline import cli
from pipeline.cli import run
from pipeline.commands.common import DEFECT
from pipeline.commands.remarks import slip_lines
from pipeline.explain.oddities import SLIPS
from pipeline.explain.places import place_oddities
from pipeline.explain.plausibility import oddities
from pipeline.explain.season_slips import season_oddities
from pipeline.inputs.cut_texts import cut_texts, doubtful_points
from pipeline.inputs.letter_keys import Letters
from pipeline.inputs.model import Antenna, Landmark, Position, Station
from pipeline.inputs.near_names import unread_files
from pipeline.record.inputs import read_inputs
from pipeline.reports.places import demo_folder
from pipeline.wording.plausibility import oddity_words
from tests.conftest import Type


@pytest.fixture(scope="module")
def stations(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with two nights of the demo and one partner."""
    folder = tmp_path_factory.mktemp("slips") / "stations"
    folder.mkdir()
    for name in ("qm7tor", "qf4lum"):
        shutil.copy(demo_folder() / f"{name}.yaml", folder)
    text = "home: QM7TOR\nband: 3cm\ndates: 2027-03-13/2027-03-14\npolicy: {step_minutes: 30}\n"
    (folder / "season.yaml").write_text(text, "utf-8")
    return folder


TYPED = [
    ("plan stations/season.yaml", "plan --season stations/season.yaml"),
    ("plan 2027-03", "plan --month 2027-03"),
    ("plan --moth 2027-03", "did you mean --month?"),
    ("plan --month", "--month 2027-03"),
    ("plan --from 14.3.2027", "plan --from 2027-03-14"),
    ("plan --lat 4", "plan --what-if QM7TOR.latitude_deg=4"),
    ("plan --output there", "--out is meant"),
    ("plan --config mine.yaml", "--season is meant"),
    ("plan QF4LUM", "check QF4LUM"),
    ("plan QF4LUM.power_w=100", "plan --what-if QF4LUM.power_w=100"),
    ("plan --what-if power_w=100", "plan --what-if QM7TOR.power_w=100"),
    ("plan --what-if QF4LUM.power_w:100", "plan --what-if QF4LUM.power_w=100"),
    ("plan --what-if QF4LUM.power_w=100 --hold 0,2", "plan --what-if QF4LUM.power_w=100 --hold 0.2"),
    ("plan march", "--month 2027-03"),
    ("plan March 2027", "plan --month 2027-03"),
    ("year 12", "year --months 12"),
    ("year 2027-03 2027-12", "takes how many; write\n  mutual-moon year --months 10\n"),
    ("weather 2027", "another with --month; write\n  mutual-moon weather\n"),
    ("night 2027-03-13 QF4LUM", "night 2027-03-13 --drop QF4LUM"),
    ("add QF5XX KP10 2,4 40", "add QF5XX --locator KP10 --dish-diameter-m 2.4 --power-w 40"),
    ("add QF5XX", "add QF5XX --locator GF25"),
    ("letters 2027-03-13", "letters --after 2027-03-13"),
    ("letters --after 13.3.2027", "2027-03-13"),
    ("night 13.3.2027", "2027-03-13"),
    ("night 2027-03-13 --after 23.10", "--after 23:10Z"),
    ("night 2027-03-13 --drop QF5LUM", "partners are QF4LUM"),
    ("night 2027-03-13 --drop", "--drop QF4LUM"),
    ("explain 2027-03-13T20:00Z QF4LUM", "explain QF4LUM 2027-03-13T20:00Z"),
    ("explain QF4LUM 2027-03-13 20:00", "explain QF4LUM 2027-03-13T20:00Z"),
    ("explain QF4LUM 13.3.2027", "the time of day is missing"),
    ("explain QF4LUM 2027-03-13T20:00", "2027-03-13T23:00Z\n    where your own clock is"),
    ("answer A=yes QF4LUM", "answer QF4LUM A=yes"),
    ("QF4LUM check", "the command comes first; write\n  mutual-moon check QF4LUM"),
    ("--month 2027-03 plan", "the command comes first; write\n  mutual-moon plan --month 2027-03"),
    ("QF4LUM", "is a call, no command"),
    ("remove QF4LUM", "move its file elsewhere, stations/qf4lum.yaml"),
    ("config", "stations/season.yaml is written in any text editor"),
    ("QF4LUM A=yes", "mutual-moon answer QF4LUM A=yes"),
    ("QF4LUM 14.3. 21 UTC", "mutual-moon explain QF4LUM 2027-03-14T21:00Z"),
    ("14.3.", "mutual-moon night 2027-03-14"),
    ("stations/season.yaml", "plan --season stations/season.yaml"),
    ("log.adi", "mutual-moon review log.adi"),
    ("2027-03", "plan --month 2027-03"),
    ("init", "mutual-moon new"),
    ("calendar", "mutual-moon plan"),
    ("check --no-pdf", "--no-pdf goes with"),
    ("new my season", '"my season"'),
    ("new there --callsign QA1AA", "--call is meant"),
    ("add QF5XX --name Lumme Fjord --locator KP10", '--name "Lumme Fjord"'),
    ("add QF5XX --name 'Lumme Fjord' --locator KP10", "double quotes, not single ones"),
    ("add QF5XX --lokator KP10", "--locator is meant"),
    ("add QF5XX --diameter 3", "--dish-diameter-m is meant"),
    ("add --call QF5XX", "right behind the command"),
    ("measure sun 11.2 2027-03-13T18:20Z", "measure 2027-03-13T18:20Z sun 11.2"),
    ("measure 13.3.2027-18:20 sun 11.2", "2027-03-13"),
    ("year --months zwei", "a number alone is meant"),
    ("plan --season stations/sesson.yaml", "--season stations/season.yaml"),
    ("plan --month mars 2027 --no-pdf", "write\n  mutual-moon plan --month 2027-03 --no-pdf"),
    ("plan --no-pdf --month=M\u00e4rz 2027", "write\n  mutual-moon plan --no-pdf --month 2027-03"),
    (
        "plan --month 2027-03 2027-04",
        "several stand in the season file as months: [2027-03, 2027-04]; write\n  mutual-moon plan --month 2027-03\n",
    ),
    ("plan --what-if QF4LUM power 0,1 kW --no-pdf", "write\n  mutual-moon plan --what-if QF4LUM.power_w=100 --no-pdf"),
    ("plan --month 3/2027", "write\n  mutual-moon plan --month 2027-03"),
    ("plan --month 03.2027", "write\n  mutual-moon plan --month 2027-03"),
    ("propose QF4LUM 3\u670814\u65e5 25\u6642", "25:00: no time of day"),
    ("survey --heights 300=6,5;305=7", "survey --heights 300=6.5,305=7\n"),
    ("survey --heights 300,5=6", "survey --heights 300.5=6\n"),
    ("survey --heights 300", "'300'; an azimuth and its height are meant"),
]
# What is advised, typed as it stands, does what was meant.
ADVISED = [
    (
        "explain QF4LUM 14.03.2027 20:15",
        [
            "explain QF4LUM 2027-03-14T20:15Z\n    where UTC",
            "explain QF4LUM 2027-03-14T23:15Z\n    where your own clock is",
        ],
    ),
    ("explain QF4LUM 20.15 14 March 2027 UTC", ["explain QF4LUM 2027-03-14T20:15Z"]),
    ("explain 2027-03-14 20:15Z QF4LUM --season stations/season.yaml", ["explain QF4LUM 2027-03-14T20:15Z --season"]),
    (
        "measure 13-03-2027 19:20 zon 11,2",
        [
            "measure 2027-03-13T19:20Z sun 11.2\n    where UTC",
            "measure 2027-03-13T22:20Z sun 11.2\n    where your own clock is",
        ],
    ),
    ("measure 2027-03-13 19:20Z 11.2 dB Sonne", ["measure 2027-03-13T19:20Z sun 11.2"]),
    ("survey --heights 300=6,5,305=7,5 --no-pdf", ["survey --heights 300=6.5,305=7.5"]),
    (
        "add qa5xx KP20lg 2,4m 0.025 kW 0,8dB",
        ["add qa5xx --locator KP20lg --dish-diameter-m 2.4 --power-w 25 --noise-figure-db 0.8"],
    ),
]


def said(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[int, str]:
    monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
    code = run()
    printed = capsys.readouterr()
    return code, printed.out + printed.err


@pytest.mark.parametrize(("line", "words"), TYPED, ids=[line for line, _ in TYPED])
def test_a_slip_of_the_line_is_answered(
    stations: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], line: str, words: str
) -> None:
    """Words are parted at every blank, as a shell does it that knows no single quotes."""
    monkeypatch.chdir(stations.parent)
    code, told = said(capsys, monkeypatch, *line.split())
    assert code == 2
    assert words in told
    assert not (stations.parent / "out").exists()


@pytest.mark.parametrize(("line", "advised"), ADVISED, ids=[line for line, _ in ADVISED])
def test_what_is_advised_is_taken(
    stations: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    line: str,
    advised: list[str],
) -> None:
    """Home's clock is three hours behind UTC all year (IANA time-zone database)."""
    shutil.copytree(stations, tmp_path / "stations")
    monkeypatch.chdir(tmp_path)
    code, told = said(capsys, monkeypatch, *line.split())
    assert code == 2
    assert all(one in told for one in advised)
    code, told = said(capsys, monkeypatch, *told[told.index(advised[0]) :].splitlines()[0].split())
    # Whether the Sun is up at that hour is another matter.
    assert code == 0 or "below the horizon" in told, told


def test_a_defect_of_the_reader_of_slips_is_shown_to_tests_and_spares_users(
    mutual_moon: Type, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`conftest` sets the variable, so that no test passes over such a defect."""

    def broken(*_: object) -> str:
        raise ZeroDivisionError("of the reader")

    monkeypatch.setattr(cli, "stands", broken)
    code, _, err = mutual_moon("--version")
    assert code == DEFECT
    assert "Traceback" in err
    assert "a defect of this program, not of your files: ZeroDivisionError: of the reader (test_slips.py" in err
    monkeypatch.delenv(cli.SHOW_DEFECTS)
    code, out, err = mutual_moon("--version")
    assert (code, err) == (0, "")
    assert out.startswith("Mutual Moon ")


def test_a_change_in_everyday_words_is_told_before_planning(
    stations: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(stations.parent)
    told = {text: said(capsys, monkeypatch, "plan", "--what-if", text) for text in ("QF4LUM power 0.1 kW", "more")}
    assert told["QF4LUM power 0.1 kW"][0] == 2
    assert "write\n  mutual-moon plan --what-if QF4LUM.power_w=100\n" in told["QF4LUM power 0.1 kW"][1]
    assert "Moon and Sun" not in told["more"][1]
    assert "QF4LUM.power_w=100 is meant" in told["more"][1]
    _, told_at_once = said(capsys, monkeypatch, "propose", "QF4LUM", "tomorrow")
    assert "Moon and Sun" not in told_at_once


def test_a_word_for_two_sources_names_both(
    stations: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In Spanish it is the Sun, in French the ground."""
    monkeypatch.chdir(stations.parent)
    code, told = said(capsys, monkeypatch, "measure", "2027-03-13T18:20Z", "sol", "11.2")
    assert code == 2
    assert "measure 2027-03-13T18:20Z sun 11.2\n    where sol is the sun" in told
    assert "measure 2027-03-13T18:20Z ground 11.2\n    where sol is the ground" in told


TAKEN = [
    ("help", "Commands:"),
    ("help plan", "--what-if"),
    ("plan help", "--what-if"),
    ("-V", "Mutual Moon"),
    ("PLAN --help", "--what-if"),
    ("check qf4lum", "QF4LUM Lumme Fjord"),
    ("check -season stations", "QF4LUM Lumme Fjord"),
    ("survey --heights 300=6.5 305=7.5", "--heights 300=6.5,305=7.5 --yes"),
    ("check \u2013\u2013season stations", "QF4LUM Lumme Fjord"),
]


@pytest.mark.parametrize(("line", "words"), TAKEN, ids=[line for line, _ in TAKEN])
def test_what_can_mean_one_thing_is_taken(
    stations: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], line: str, words: str
) -> None:
    monkeypatch.chdir(stations.parent)
    code, told = said(capsys, monkeypatch, *line.split())
    assert code == 0, told
    assert words in told


def test_another_ending_of_the_season_is_found(
    stations: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    shutil.copytree(stations, tmp_path / "stations")
    season = tmp_path / "stations" / "season.yaml"
    season.rename(season.with_suffix(".yml"))
    monkeypatch.chdir(tmp_path)
    assert said(capsys, monkeypatch, "check")[0] == 0
    season.with_suffix(".yml").rename(season.with_name("season.yaml.txt"))
    code, told = said(capsys, monkeypatch, "check")
    assert code == 2
    assert "season.yaml.txt is one: only names that end in .yaml are read; rename it to season.yaml" in told


def test_near_names_are_told(stations: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(stations, tmp_path / "stations")
    text = (folder / "qf4lum.yaml").read_text("utf-8")
    (folder / "qa1aa.yaml.txt").write_text(text.replace("QF4LUM", "QA1AA"), "utf-8")
    (folder / "qf4lum.yaml.bak").write_text(text, "utf-8")
    (folder / "notes.txt").write_text("call them on Friday\n", "utf-8")
    assert [(one.path.name, one.better) for one in unread_files(folder)] == [("qa1aa.yaml.txt", "qa1aa.yaml")]


def test_a_stray_copy_is_told_from_a_second_site(
    stations: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = shutil.copytree(stations, tmp_path / "stations")
    shutil.copy(folder / "qf4lum.yaml", folder / "qf4lum (1).yaml")
    monkeypatch.chdir(tmp_path)
    code, told = said(capsys, monkeypatch, "check")
    assert code == 2
    assert "qf4lum (1).yaml looks like a stray copy: keep qf4lum.yaml" in told


def demo(call: str) -> Station:
    inputs = read_inputs(demo_folder() / "season.yaml")
    return next(one for one in (inputs.home, *inputs.partners) if one.call == call)


def with_equipment(**changes: Any) -> Station:
    station = demo("QF4LUM")
    equipment = dataclasses.replace(station.bands["3cm"], **changes)
    return dataclasses.replace(station, bands={"3cm": equipment})


def at(latitude_deg: float, longitude_deg: float, call: str = "QM7TOR", **changes: Any) -> Station:
    place = Position(latitude_deg=latitude_deg, longitude_deg=longitude_deg, height_m=100.0)
    return dataclasses.replace(demo(call), position=place, **({"landmarks": ()} | changes))


FIGURES = [
    ("minus forgotten", at(-34.50121, 55.80342), "is longitude_deg -55.8034 meant?"),
    ("south forgotten", at(34.50121, -55.80342), "is latitude_deg -34.5012 meant?"),
    ("both forgotten", at(34.50121, 55.80342), "are latitude_deg -34.5012 and longitude_deg -55.8034 meant?"),
    ("swapped", at(23.40, 60.90, "QF4LUM"), "latitude and longitude look swapped: are latitude_deg 60.9"),
    ("far from its zone", at(35.0, 139.0, "QF4LUM"), "one of the two is likely wrong"),
    ("zone by offset", at(-34.5, -55.8, time_zone="Etc/GMT-3"), "always 3 hours ahead of UTC and knows no summer time"),
    ("zone by letters", at(60.9, 23.4, "QF4LUM", time_zone="EST"), "by the place Europe/Helsinki is the zone"),
    ("kilowatts", with_equipment(power_w=0.04), "are these kilowatts, and is 40 meant?"),
    ("far too much", with_equipment(power_w=4000.0), "is a great deal"),
    ("feet", with_equipment(antenna=Antenna(dish_diameter_m=18.0)), "are these feet, and is 5.486 meant?"),
    ("tiny", with_equipment(antenna=Antenna(dish_diameter_m=0.18)), "is small for the Moon"),
    ("gain of another band", with_equipment(antenna=Antenna(gain_dbi=62.0)), "would be a dish of"),
    ("wide", with_equipment(antenna=Antenna(gain_dbi=45.0, beamwidth_deg=5.0)), "cannot both be"),
    ("narrow", with_equipment(antenna=Antenna(gain_dbi=32.0, beamwidth_deg=0.5)), "one of the two is likely wrong"),
    ("kelvin", with_equipment(noise_figure_db=15.0), "is high for this band"),
    (
        "a locator's field",
        dataclasses.replace(
            demo("QF4LUM"),
            position=Position(latitude_deg=65.0, longitude_deg=30.0, locator="KP", uncertainty_km=700.0),
        ),
        "is a whole field",
    ),
    (
        "landmark at the dish",
        at(-34.5, -55.8, landmarks=(Landmark(name="silo", latitude_deg=-34.5, longitude_deg=-55.8),)),
        "stands at the dish itself",
    ),
    (
        "landmark out of sight",
        at(-34.5, -55.8, landmarks=(Landmark(name="silo", latitude_deg=-34.5, longitude_deg=55.7, height_m=40.0),)),
        "is longitude_deg -55.7 meant",
    ),
    ("template", dataclasses.replace(demo("QF4LUM"), operator="Robin Marsh"), "operator is still the example's"),
    ("home's place", dataclasses.replace(demo("QF4LUM"), position=demo("QM7TOR").position), "stands where home stands"),
]


@pytest.mark.parametrize(("station", "words"), [one[1:] for one in FIGURES], ids=[one[0] for one in FIGURES])
def test_what_figures_imply_is_told(station: Station, words: str) -> None:
    found = (*oddities(station, "3cm", 10_368.1), *place_oddities(station, demo("QM7TOR")))
    told = [oddity_words(one) for one in found if one.kind in SLIPS]
    assert any(words in one for one in told), told


def test_the_demo_has_no_slip() -> None:
    assert slip_lines(read_inputs(demo_folder() / "season.yaml")) == []


def test_answers_after_the_season_are_told() -> None:
    inputs = read_inputs(demo_folder() / "season.yaml")
    found = {}
    for due in (dt.date(2027, 3, 11), dt.date(2027, 3, 12), dt.date(2027, 4, 20)):
        letters = dataclasses.replace(inputs.season.letters, reply_by=due)
        assert isinstance(letters, Letters)
        late = dataclasses.replace(inputs, season=dataclasses.replace(inputs.season, letters=letters))
        found[due.isoformat()] = slip_lines(late, of_stations=False)
    assert found["2027-03-11"] == []
    assert "letters.reply_by is 2027-03-12, when 11 of 31 nights are over" in found["2027-03-12"][0]
    assert "letters.reply_by is 2027-04-20, after the last night" in found["2027-04-20"][0]


@pytest.mark.parametrize(
    ("wanted", "latest", "band", "told"),
    [
        (
            0, None, "3cm", "contacts_wanted is 0 for QF4LUM: nothing is planned there; it counts the contacts still "
            "wanted.",
        ),
        (1, dt.time(12, 30), "3cm", "policy.latest_hour_on_work_nights is 12:30, by day; is 00:30 meant?"),
        (1, dt.time(7), "3cm", "policy.latest_hour_on_work_nights is 07:00, by day; is 19:00 meant?"),
        (1, dt.time(17), "3cm", ""),
        (1, dt.time(6, 59), "3cm", ""),
        (
            1, None, "23cm", "the band is 23cm, and qm7tor.yaml has 3cm alone: all its equipment on 23cm is assumed; "
            "write 23cm there below bands, or band: 3cm here.",
        ),
    ],
)  # fmt: skip
def test_what_a_season_implies_is_told(wanted: int, latest: dt.time | None, band: str, told: str) -> None:
    inputs = read_inputs(demo_folder() / "season.yaml")
    policy: Any = dataclasses.replace(inputs.season.policy, latest_hour_on_work_nights=latest)
    home: Any = inputs.home
    if band not in home.bands:
        home = dataclasses.replace(
            home, bands=home.bands | {band: home.bands["3cm"]}, assumed=(*home.assumed, f"bands.{band}")
        )
    season: Any = dataclasses.replace(inputs.season, policy=policy, band=band)
    wishes: Any = (dataclasses.replace(inputs.wishes[0], contacts_wanted=wanted), *inputs.wishes[1:])
    changed = dataclasses.replace(inputs, season=season, home=home, wishes=wishes)
    found = [oddity_words(one) for one in season_oddities(changed, dt.date(2027, 3, 1), dt.date(2027, 3, 31))]
    assert found == ([told] if told else [])


def test_a_text_that_a_sign_cuts_off_is_told(tmp_path: Path) -> None:
    """YAML 1.2, section 6.6: a comment is parted from other text by a blank."""
    (tmp_path / "season.yaml").write_text(
        "title: Autumn round #2\nhome: QM7TOR # ours\nmeet: room  #  the old one\n", "utf-8"
    )
    (one,) = cut_texts(tmp_path)
    assert (one.line, one.read, one.meant) == (1, "Autumn round", "Autumn round #2")


def test_a_height_whose_point_may_part_thousands_is_asked_about(tmp_path: Path) -> None:
    """A point parts thousands in half of Europe and South America (Unicode CLDR, number symbols)."""
    (tmp_path / "season.yaml").write_text("home: QM7TOR\n", "utf-8")
    (tmp_path / "a.yaml").write_text(
        "position: {locator: IN70po, height_m: 1.200}\n# height_m: 1.300\npower_w: 1.5\nheight_m: 212.345\n", "utf-8"
    )
    (one,) = doubtful_points(tmp_path)
    assert str(one) == (
        "a.yaml, line 1: height_m 1.200 is read as 1.2, for a point parts decimals; "
        "if 1200 is meant write height_m: 1200"
    )
