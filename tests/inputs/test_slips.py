"""Slips of operators with an editor, a spreadsheet and a telephone: the line of the slip and the right form in own figures.

Each is made in the files that `new` lays out; what comes back is what somebody at the elbow would say (common practice,
no source). Conversions are checked by their definitions elsewhere in this folder.
"""

# ruff: noqa: E501 - a slip a line reads as a table, and odd characters are what it is about
from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.line_shapes import LAYOUT, shapes_of
from pipeline.inputs.reading import read_season_files
from pipeline.inputs.writing import station_text
from tests.inputs.helpers import HOME, PARTNER, SEASON, line_of, swapped

STATION = (LAYOUT / "station.yaml").read_text("utf-8")
LAID_SEASON = (LAYOUT / "season.yaml").read_text("utf-8")
PLACE = "{latitude_deg: 52.1042, longitude_deg: 5.1806, height_m: 12}"
RIGHT_PLACE = f"position: {PLACE}"
POWER = "    power_w: 40"
DISH = "    antenna: {dish_diameter_m: 1.8, aperture_efficiency: 0.55}"
HORIZON = "#horizon:\n#  - {azimuth_deg: 0, elevation_deg: 2.0}"
HOURS = "#available:\n#  - {days: [mon, tue, wed, thu], from: 18:00, to: 23:30}"
NOISE = "#    noise_figure_db: 0.8"
MODES = "#    modes: [Q65, CW]"
MONTHS = "#months: [2027-03]"
PARTNERS = "#partners:\n#  - {call: QF4LUM, contacts_wanted: 1, priority: 2}"
POLICY = "#policy:"
ZONE = "time_zone: Europe/Amsterdam"
NAME = "name: Our hill"
AWAY = "#unavailable_dates: [2027-03-12, 2027-03-20/2027-03-22]"

# What stands in the file, what the operator makes of it, in which of its lines the slip is (from 0), words of the answer.
SHAPES = [
    (POWER, "    power_w 40", 0, "without a colon; write `power_w: 40`"),
    (PLACE, "{locator: 52.1042 N 5.1806 E}", 0, "these are coordinates; in its place write latitude_deg: 52.1042, longitude_deg: 5.1806."),
    (DISH, DISH.replace("1.8", "01. Aug"), 0, "a spreadsheet has made a date of it; was it 1.8? Set the column to text"),
    (DISH, DISH.replace("1.8", "1-Dez"), 0, "a spreadsheet has made a date of it; was it 1.12?"),
    (POWER, f"{POWER}\n    frequency_accuracy_hz: GPSDO", 1, "such a source is usually within 2.1 Hz there: write 2.1."),
    (POWER, f"{POWER}\n    frequency_accuracy_hz: TCXO", 1, "such a source is usually within 10000 Hz there: write 10000."),
    (POWER, "    power_w = 40", 0, "'=' stands where a colon is meant; write `power_w: 40`"),
    (POWER, "    power_w:40", 0, "no space after the colon; write `power_w: 40`"),
    (POWER, "\tpower_w: 40", 0, "begins with a tab; YAML wants spaces; begin with 4: `power_w: 40`"),
    (POWER, "   power_w: 40", 0, "begins with 3 spaces, line @    antenna: {dish@ of the same level with 4"),
    (POWER, "      power_w: 40", 0, "begins with 6 spaces, deeper than line @    antenna: {dish@, which has its value already; begin it with 4"),
    (POWER, "  power_w: 40", 0, "it belongs to 3cm: begin its line two spaces further in than `3cm:`, with `power_w: 40`"),
    (POWER, "power_w: 40", 0, "it belongs in bands.3cm (line @  3cm:@): write `power_w: 40` there"),
    (POWER, "    power_w: 40 noise_figure_db: 0.8", 0, "two keys stand in one line; write `power_w: 40` and begin a new line before noise_figure_db"),
    (DISH, DISH.replace("1.8", "1,8").replace("0.55", "0,55"), 0, "a comma ends a value, so dish_diameter_m reads as 1; write `antenna: {dish_diameter_m: 1.8, aperture_efficiency: 0.55}`"),
    (PLACE, PLACE.replace(", ", " "), 0, f"a comma is missing before longitude_deg; write `{RIGHT_PLACE}`"),
    (PLACE, PLACE.replace(", ", "; "), 0, f"write `{RIGHT_PLACE}`"),
    (PLACE, PLACE[:-1], 0, f"bracket that opens here is not closed; write `{RIGHT_PLACE}`"),
    (PLACE, PLACE[1:-1], 0, f"keys in one line stand in braces; write `{RIGHT_PLACE}`"),
    (PLACE, f"({PLACE[1:-1]})", 0, f"write `{RIGHT_PLACE}`"),
    (PLACE, PLACE.replace(": ", ":"), 0, f"no space after the colon; write `{RIGHT_PLACE}`"),
    (PLACE, PLACE.replace(": ", "="), 0, f"write `{RIGHT_PLACE}`"),
    (HORIZON, "#horizon:\n  - {azimuth_deg: 0, elevation_deg: 2.0}", 1, "below `horizon:` in line @#horizon:@, which is still a comment; take its # away too"),
    (HORIZON, "horizon:\n  {azimuth_deg: 0, elevation_deg: 2.0}", 1, "begins with a dash; write `- {azimuth_deg: 0, elevation_deg: 2.0}`"),
    (HORIZON, "horizon:\n  -{azimuth_deg: 0, elevation_deg: 2.0}", 1, "the dash of a list has a space behind it; write `- {azimuth_deg: 0, elevation_deg: 2.0}`"),
    (HORIZON, "horizon:\n  – {azimuth_deg: 0, elevation_deg: 2.0}", 1, "the long dash –; write `- {azimuth_deg: 0, elevation_deg: 2.0}` in plain characters"),
    (HORIZON, "horizon:\n  • {azimuth_deg: 0, elevation_deg: 2.0}", 1, "the bullet •; write `- {azimuth_deg: 0"),
    (HORIZON, "horizon:\n  - azimuth_deg: 0, elevation_deg: 2,5", 1, "stand in braces; write `- {azimuth_deg: 0, elevation_deg: 2.5}`"),
    (HORIZON, "horizon:\n  azimuth_deg: 90, elevation_deg: 2", 1, "stand in braces; write `- {azimuth_deg: 90, elevation_deg: 2}`"),
    (HORIZON, "horizon:\n  - 0, 2.0", 1, "write {azimuth_deg: 0, elevation_deg: 2.0}"),
    (NAME, "name: “Our hill”", 0, 'the curly quote “; write `name: "Our hill"` in plain characters'),
    (NAME, "name: Our hill: south", 0, 'put text with a colon in quotes: `name: "Our hill: south"`'),
    (NAME, "name: 'Robin's hill'", 0, 'quotes end before the text does; write `name: "Robin\'s hill"`'),
    (NAME, "name: 'Our hill", 0, "the quotation mark that opens here is not closed; write `name: 'Our hill'`"),
    (NAME, "name：Our hill", 0, "the full-width form ：; write `name: Our hill`"),
    (NAME, "name:\u00a0Our hill", 0, "a no-break space (U+00A0); write `name: Our hill`"),
    (NAME, "\u200bname: Our hill", 0, "an invisible zero-width space (U+200B); delete it and write `name: Our hill`"),
    ("#mount: {maximum_elevation_deg: 85,", "mount: {maximum_elevation_deg: 85,", 0, "goes on in the next line, which is still a comment; take its # away as well"),
    ("#        inclinometer_offset_deg: 0.0,", "        inclinometer_offset_deg: 0.0,", 0, "below `mount:` in line @#mount:@, which is still a comment"),
    ("# The name of your time zone. It", "The name of your time zone. It", 0, "an explanation that lost its #; put `# ` back before it"),
    ("bands:\n  3cm:", "bands\n  3cm:", 0, "without a colon; write `bands:`"),
    ("bands:\n  3cm:", "3cm:", 0, "a band stands below `bands:`"),
    ("minimum_elevation_deg: 5", "// my limit\nminimum_elevation_deg: 5", 0, "a note begins with #; write `# my limit`"),
    (PLACE, f"{PLACE}}}", 0, f"the bracket }} closes nothing that is open; write `{RIGHT_PLACE}`"),
    (HOURS, "available:\n  - {days: [sat, sun, from: 20:00, to: 23:30}", 1, "the bracket [ is not closed; write `- {days: [sat, sun], from: 20:00, to: 23:30}`"),
    (HOURS, "available:\n  - {days: [sat, sun] from: 20:00, to: 23:30}", 1, "a comma is missing behind the bracket ]; write `- {days: [sat, sun], from: 20:00"),
    (HORIZON, "horizon:\n  - azimuth_deg: 0\n  elevation_deg: 2.0", 2, "begins with 2 spaces, line @- azimuth_deg: 0@ of the same level with 4"),
    (HORIZON, "horizon:\n  1. {azimuth_deg: 0, elevation_deg: 2.0}", 1, "begins with a dash; write `- {azimuth_deg: 0"),
    (NAME, "name: @home", 0, 'put the value in quotes: `name: "@home"`'),
    (NAME, "- name: Our hill", 0, "a dash begins an entry of a list, and none is open here; write `name: Our hill`"),
    (NOISE, "    noise_figure_db: ,8", 0, "write `noise_figure_db: 0.8`"),
    ("minimum_elevation_deg: 5", "minimum_elevation_deg: 5\nThe mount is new.", 1, "this line is no key with its value; put `# ` before it if it is a note"),
    ("email: robin@our-hill.example", "email: -", 0, "leave it out, key and all, where nobody knows it"),
    ("#horizon:", "horizon:", 0, "horizon has no points; lines @#  - {azimuth_deg: 0,@ to @#  - {azimuth_deg: 260,@ are still comments; take their # away too"),
    ("#available:\n#  - {days: [mon,", "available:\n#  - {days: [mon,", 0, "available has no entries; lines @#  - {days: [mon,@ and @#  - {days: [fri,@ are still comments; take their # away too"),
    ("#landmarks:\n#  - {name: church", "landmarks:\n#  - {name: church", 0, "landmarks has no entries; lines @#  - {name: church@ and @#  - {name: grain@ are still comments"),
    ("#sites:", "sites:", 0, "sites has no entries; lines @#  quarry:@ and @#           horizon:@ are still comments; take their # away too"),
    ("#mount: {maximum_elevation_deg: 85,", " mount: {maximum_elevation_deg: 85}\n#", 0, "begins with 1 space, deeper than line @minimum_elevation_deg: 5@, which has its value already; begin it with none"),
    (POWER, f"{POWER}\n meet: room 7", 1, "begins with 1 space, line @bands:@ of the same level with 0; begin it with none: `meet: room 7`"),
    (POWER, f"{POWER}\nbands:\n  23cm:\n    power_w: 100", 1, "bands stands in line @bands:@ already; put `23cm:` beneath `3cm` of line @  3cm:@, in the same column, and take line"),
    (POWER, "\u00a0\u00a0\u00a0\u00a0power_w: 40", 0, "begins with a no-break space (U+00A0); begin it with 4 spaces: `power_w: 40`"),
    (POWER, "    power_w：４０", 0, "the full-width form ：; write `power_w: 40` in plain characters"),
    ("latitude_deg: 52.1042, l", "latitude_deg: É 52°6,25', l", 0, "a comma ends a value, so latitude_deg reads as É 52°6; write `position: {latitude_deg: 52.10417, longitude_deg:"),
]  # fmt: skip
VALUES = [
    (POWER, "    power_w: 0.04 kW", 0, "watts are meant; write 40."),
    (POWER, "    power_w: 0,04 kW", 0, "watts are meant; write 40."),
    (POWER, "    power_w: 46 dBm", 0, "watts are meant; write 39.8."),
    (POWER, "    power_w: 40W at the feed", 0, "write the number alone: 40."),
    (POWER, "    power_w: ~40", 0, "write 40."),
    (POWER, "    power_w: 4O", 0, "a letter stands among the digits; write 40."),
    (POWER, "    power_w: 4O W", 0, "a letter stands among the digits; write the number alone: 40."),
    (POWER, "    power_w: O.04 kW", 0, "a letter stands among the digits; watts are meant; write 40."),
    (POWER, "    power_w: 40-50", 0, "one number is meant; for 40 to 50 write for instance 45."),
    (POWER, "    watts: 40", 0, "did you mean 'power_w'?"),
    ("dish_diameter_m: 1.8,", "dish_diameter_m: 180 cm,", 0, "metres are meant; write 1.8."),
    ("dish_diameter_m: 1.8,", "dish_diameter_m: 6',", 0, "metres are meant; write 1.83."),
    ("dish_diameter_m: 1.8,", "dish_diameter_m: 180,", 0, "if these are centimetres, write 1.8"),
    ("aperture_efficiency: 0.55", "aperture_efficiency: 55 %", 0, "a share is meant; write 0.55."),
    (DISH, "    antenna: 1.8 m dish", 0, "write {dish_diameter_m: 1.8}."),
    (DISH, "    dish: 1.8", 0, "write `antenna: {dish_diameter_m: 1.8}` there"),
    (NOISE, "    noise_figure_db: 58 K", 0, "decibels are meant; write 0.792."),
    (NOISE, "nf: 0.8", 0, "it belongs in bands.3cm (line @  3cm:@): write `noise_figure_db: 0.8` there"),
    (NOISE, "    noise_figure_db: n/a", 0, "leave it out"),
    ("#    polarization: rotatable", "    polarization: H", 0, "write horizontal."),
    (MODES, "    modes: Q65, CW", 0, "write [Q65, CW]."),
    ("#    frequency_mhz: 10368.1", "    frequency_mhz: 10.3681 GHz", 0, "megahertz are meant; write 10368.1."),
    (PLACE, "52.1042, 5.1806", 0, "write {latitude_deg: 52.1042, longitude_deg: 5.1806}."),
    (PLACE, "JO22OC", 0, "write {locator: JO22oc, height_m: ...}"),
    (PLACE, "{locator: J022OC, height_m: 12}", 0, "did you mean JO22oc?"),
    ("longitude_deg: 5.1806, height", "longitude_deg: 5°10'50\" O, height", 0, "by Europe/Amsterdam write 5.18056; south and west are negative."),
    ("latitude_deg: 52.1042, l", "latitude_deg: 52°06'15\" N, l", 0, "write 52.10417; south and west are negative"),
    ("longitude_deg: 5.1806, height", "longitude_deg: 5.1806 W, height", 0, "write -5.1806; south and west are negative"),
    ("latitude_deg: 52.1042, l", "latitude_deg: \"É 52°6,25'\", l", 0, "write 52.10417; south and west are negative"),
    ("latitude_deg: 52.1042, l", "latitude_deg: \"52°6,25'\", l", 0, "write 52.10417: degrees as one decimal number"),
    ("latitude_deg: 52.1042, l", "latitude_deg: \"52°06'N,5°11'E\", l", 0, "these are two numbers; write latitude_deg: 52.1, longitude_deg: 5.18333."),
    ("height_m: 12}\n# Or", "height_m: 40 ft}\n# Or", 0, "metres are meant; write 12.2."),
    ("height_m: 12}\n# Or", "height_m: n. 45 m mpy}\n# Or", 0, "write the number alone: 45."),
    ("height_m: 12}\n# Or", "height_m: n. 45}\n# Or", 0, "write 45."),
    ("height_m: 12}\n# Or", "height_m: 45 mslm}\n# Or", 0, "write the number alone: 45."),
    ("minimum_elevation_deg: 5", "locator: JO22\nminimum_elevation_deg: 5", 0, "it belongs in position (line @position:@): write `locator: JO22` there"),
    (PLACE, "{latitude_deg: \"-34,60\", longitude_deg: 5.18}", 0, "write -34.6 with a decimal point"),
    (ZONE, f"holidays: Brasil\n{ZONE}", 0, "a country's two letters are meant (ISO 3166); write BR."),
    (ZONE, f"holidays: Česko\n{ZONE}", 0, "write CZ."),
    (ZONE, f"holidays: Deutschland\n{ZONE}", 0, "write DE."),
    (DISH, "    antenna: {schotel_m: 1.8}", 0, "did you mean 'dish_diameter_m'?"),
    (POWER, "    výkon: 40", 0, "did you mean 'power_w'?"),
    (ZONE, "time_zone: CEST", 0, "by the station's place CEST is Europe/Amsterdam"),
    (ZONE, "time_zone: JST", 0, "JST is Asia/Tokyo, and the station's place lies by Europe/Amsterdam: one of the two is wrong"),
    (ZONE, "time_zone: W. Europe Standard Time", 0, "is Europe/Amsterdam; write that."),
    (ZONE, "time_zone: UTC+1", 0, "knows no summer time; by the station's place write Europe/Amsterdam"),
    (ZONE, "tz: Europe/Amsterdam", 0, "did you mean 'time_zone'?"),
    ("call: QA0NEW", "call: QAØNEW", 0, "did you mean QA0NEW?"),
    ("email: robin@our-hill.example", "email: Robin <robin@our-hill.example>", 0, "write robin@our-hill.example."),
    (HOURS, "available:\n  - {days: mon, tue, wed, from: 18:00, to: 23:30}", 1, "several days stand in square brackets; write `- {days: [mon, tue, wed], from: 18:00, to: 23:30}`"),
    (HOURS, "available:\n  - {days: lunes a viernes, from: 18:00, to: 23:30}", 1, "write [mon, tue, wed, thu, fri]."),
    (HOURS, "available:\n  - {days: [jue], from: 18:00, to: 23:30}", 1, "did you mean 'thu'?"),
    (HOURS, "available:\n  - {days: [so], from: 18:00, to: 23:30}", 1, "it means different days: sun (German, Swedish, ...), sat (Czech, Slovak)"),
    (HOURS, "available:\n  - {days: [mon], from: 18h, to: 23:30}", 1, "write 18:00."),
    (HOURS, "available:\n  - {days: [mon], from: 18:00, to: 11:30 pm}", 1, "write 23:30."),
    (HOURS, "available:\n  - {days: [mon], from: 18:00 UTC, to: 23:30}", 1, "18:00 UTC is 19:00 in January and 20:00 in July by Europe/Amsterdam"),
    (HOURS, "available: mon-fri 18:00-23:30", 0, "write {days: [mon, tue, wed, thu, fri], from: 18:00, to: 23:30}."),
    (POWER, "    power_kw: 0.04", 0, "power_kw is called power_w and 0.04 kw is written 40; write `power_w: 40`."),
    (POWER, "    power_w: [40]", 0, "write 40 without brackets"),
    (DISH, "    antenna: {dish_diameter_m: 1m80}", 0, "write 1.8."),
    (HORIZON, "horizon: survey.csv", 0, "write {file: survey.csv}."),
    (HORIZON, "horizon:\n  - 90: 3", 1, "write `- {azimuth_deg: 90, elevation_deg: 3}`."),
    (PLACE, "{latitude_deg: 5206.25N, longitude_deg: 5.18, height_m: 12}", 0, "write 52.10417"),
    (PLACE, "{breedte: 52.1042, longitude_deg: 5.18}", 0, "did you mean 'latitude_deg'?"),
    (HOURS, "available:\n  - {days: [mo, di, sa], from: 18:00 to 22:00, to: 23:30}", 1, "mo is written mon, di is written tue, sa is written sat; write [mon, tue, sat]."),
    (ZONE, "time_zone: MEZ", 0, "MEZ is Europe/Amsterdam; write that"),
    ("bands:\n  3cm:", "bands:\n  X-band:", 1, "did you mean '3cm'?"),
    (AWAY, "unavailable_dates: [2027-03]", 0, "for the whole month write 2027-03-01/2027-03-31."),
    (AWAY, "unavailable_dates: 20.3.2027 - 22.3.2027", 0, "write 2027-03-20/2027-03-22."),
    (AWAY, "unavailable_dates: 03/04/2027", 0, "write 2027-04-03 if it is 3 April, 2027-03-04 if it is 4 March."),
]  # fmt: skip
OF_THE_SEASON = [
    ("#partners:", "partners:", 0, "partners has no entries; line @#  - {call: QF4LUM@ is still a comment; take its # away too"),
    (MONTHS, "months: March 2027", 0, "write 2027-03."),
    (MONTHS, "months: 2027-03, 2027-04", 0, "write [2027-03, 2027-04]."),
    (MONTHS, "dates: 5.3.2027 - 2.4.2027", 0, "write 2027-03-05/2027-04-02."),
    (PARTNERS, "partners: QF4LUM, QJ2KAW", 0, "write [QF4LUM, QJ2KAW]."),
    (POLICY, "slot_minutes: 45\n#policy:", 0, "write `policy: {slot_minutes: 45}`"),
    ("#  gap_minutes: 15", "  gap_minutes: 15", 0, "below `policy:` in line @#policy:@, which is still a comment"),
    (POLICY, "policy:\n  slot_minutes: 45-60", 1, "write {least: 45, most: 60}."),
    (POLICY, "policy:\n  nights: weekends", 1, "write [fri, sat] for those of a weekend."),
    (POLICY, "policy:\n  latest_hour_on_work_nights: 1am", 1, "write 01:00."),
    (PARTNERS, "partners: all", 0, "leave it out, key and all: every other station of the folder is a partner then"),
    (POLICY, "policy:\n  solar_activity: SFI 140", 1, "write {flux_10_7_cm: 140}."),
    (MONTHS, "months: [3]", 0, "the year is missing; write it before the month, as in 2027-03"),
    ("home: my-station", "home: my-station.yaml", 0, "write `home: my-station`, without folder and ending"),
    ("#report: {paper: A4}", "paper: A4", 0, "write `report: {paper: A4}`"),
    ("frequency_mhz: 10368.1", "frequency: 10368.1", 0, "did you mean 'frequency_mhz'?"),
]  # fmt: skip


def answer(folder: Path, station: str = STATION, season: str = LAID_SEASON) -> list[tuple[str, int | None, str]]:
    """File, line and sentence of every fault of a folder with these two files."""
    (folder / "my-station.yaml").write_text(station, encoding="utf-8")
    (folder / "season.yaml").write_text(season, encoding="utf-8")
    read = read_season_files(folder / "season.yaml")
    return [(fault.file, fault.line, fault.message) for fault in InputFaults(read.faults).faults]


def line_of_slip(text: str, new: str, further: int) -> int:
    """The line in which the slip begins, and so many further."""
    return text[: text.index(new)].count("\n") + 1 + further


def with_lines(words: str, text: str) -> str:
    """The words with the line of what stands between two `@` put in."""
    return re.sub("@(.+?)@", lambda found: str(line_of(text, found[1])), words)


@pytest.mark.parametrize(("old", "new", "further", "words"), SHAPES + VALUES)
def test_a_slip_in_the_station(tmp_path: Path, old: str, new: str, further: int, words: str) -> None:
    text = swapped(STATION, old, new)
    told = answer(tmp_path, station=text)
    assert {(file, line) for file, line, _ in told} == {("my-station.yaml", line_of_slip(text, new, further))}, told
    assert with_lines(words, text) in told[0][2]


@pytest.mark.parametrize(("old", "new", "further", "words"), OF_THE_SEASON)
def test_a_slip_in_the_season(tmp_path: Path, old: str, new: str, further: int, words: str) -> None:
    text = swapped(LAID_SEASON, old, new)
    told = answer(tmp_path, season=text)
    assert [(file, line) for file, line, _ in told] == [("season.yaml", line_of_slip(text, new, further))], told
    assert with_lines(words, text) in told[0][2]


def test_what_is_laid_out_and_what_is_sound_has_no_shape_to_tell(tmp_path: Path) -> None:
    for text in (STATION, LAID_SEASON, HOME, PARTNER, SEASON):
        assert shapes_of(text) == ([], text)
    assert answer(tmp_path) == []
    folded = (
        'name: "Hill: the {south} side, it\'s [steep] = good"\nchecklist:\n  - power = off, first no\n  - home again\n'
    )
    odd = "checklist:\n  - |\n    call me\n    power_w 40\noperator: Ana, Bo & Cy's {crew}\nmeet: https://chat.example/a=b\n"
    for text in (folded, odd):
        assert shapes_of(text) == ([], text)


def test_a_file_typed_on_a_telephone_is_told_of_its_capitals_once(tmp_path: Path) -> None:
    """Telephones begin every line with a capital."""
    written = "Call: QF4LUM\nName: Lumme\nEmail: a@b.example\nPosition: {locator: KP10}\n"
    (tmp_path / "season.yaml").write_text(SEASON, "utf-8")
    (tmp_path / "qf4lum.yaml").write_text(written, "utf-8")
    read = read_season_files(tmp_path / "season.yaml")
    (fault,) = [str(one) for one in read.faults if one.file == "qf4lum.yaml"]
    assert "keys are written small: write `call`, and so in every line: name, email, position ..." in fault


def test_an_empty_key_without_commented_lines_is_no_slip(tmp_path: Path) -> None:
    bare = swapped(STATION, NAME, f"{NAME}\nhorizon:\n# - as I measured it\n")
    assert answer(tmp_path, bare, swapped(LAID_SEASON, POLICY, "policy:")) == []
    full = swapped(
        STATION,
        "#horizon:\n#  - {azimuth_deg: 0,",
        "horizon:\n#  - {azimuth_deg: 1, elevation_deg: 2}\n  - {azimuth_deg: 0,",
    )
    assert answer(tmp_path, full) == []


def test_a_group_that_holds_the_same_twice_is_kept_once(tmp_path: Path) -> None:
    told = answer(tmp_path, swapped(STATION, POWER, f"{POWER}\nbands:\n  3cm:\n    power_w: 100"))
    assert [sentence for _, _, sentence in told if "keep one of them" in sentence]
    assert len(told) == 1


def test_all_slips_of_a_file_come_in_one_go(tmp_path: Path) -> None:
    """Shapes and values, each once and in the order of the lines."""
    text = STATION
    for old, new in (
        (POWER, "    power_w 0,04 kW"),
        (NAME, "name: “Our hill”"),
        (ZONE, "time_zone: UYT"),
        (NOISE, "nf: 0.8"),
    ):
        text = swapped(text, old, new)
    told, power = answer(tmp_path, station=text), line_of(text, "    power_w")
    assert [line for _, line, _ in told] == [
        *(line_of(text, part) for part in ("“", "UYT")),
        power,
        line_of(text, "nf:"),
    ]
    assert "0,04 kW is written 40; write `power_w: 40`." in [sentence for _, line, sentence in told if line == power]


def test_a_home_in_a_file_that_cannot_be_read_is_not_missed(tmp_path: Path) -> None:
    (tmp_path / "partner.yaml").write_text(swapped(STATION, "call: QA0NEW", "call: QF4LUM"), "utf-8")
    told = answer(tmp_path, "{\\rtf1\\ansi call: QA0NEW}\n", swapped(LAID_SEASON, "home: my-station", "home: QA0NEW"))
    assert len(told) == 1
    assert "a document of a word processor (RTF)" in told[0][2]


def test_a_file_in_another_encoding_is_told_with_its_other_faults(tmp_path: Path) -> None:
    text = swapped(swapped(STATION, NAME, "name: Große Höhe"), POWER, "    power_w: 0.04 kW")
    answer(tmp_path)
    (tmp_path / "my-station.yaml").write_bytes(text.encode("cp1252"))
    told = [(fault.line, fault.message) for fault in read_season_files(tmp_path / "season.yaml").faults]
    assert [line for line, _ in told] == [line_of(text, "Große"), line_of(text, "0.04 kW")]
    assert "it reads as `name: Große Höhe` then" in told[0][1]


# What a text may hold besides letters, as operators write it: marks that mean something to YAML among them. A few marks
# alone say that nobody knows, and are told so.
TEXTS = st.text(alphabet=st.sampled_from("aB1é字 .,:;=-#'\"{}[]()&*!?|>%@/\\~<+"), min_size=1, max_size=30).filter(
    lambda text: text.strip() and not re.fullmatch(r"[-?!*&%@|>\s]+", text)
)


@settings(derandomize=True, max_examples=300, deadline=None)
@given(TEXTS, TEXTS, st.lists(TEXTS, min_size=1, max_size=3))
def test_no_sound_text_is_taken_for_a_slip(name: str, meet: str, checklist: list[str]) -> None:
    """What the writer of new files writes, whatever it quotes and wherever it folds."""
    tree = {"call": "QA1AA", "name": name, "meet": meet, "position": {"locator": "JN58td"}, "checklist": checklist}
    text = station_text(tree)
    assert shapes_of(text) == ([], text)
