"""Each fault of a station file has its sentence: file, line, field, what is wrong, what would be right."""

# ruff: noqa: E501 - a fault a line reads as a table
from __future__ import annotations

from pathlib import Path

import pytest

from tests.inputs.helpers import HOME, faults_of, lay_out, only_fault, swapped

# What is replaced in the home station's file, by what, the field told, and the sentence after file and line.
STATION_FAULTS = [
    ("position: {lat", "postion: {lat", "postion", "unknown key 'postion'; did you mean 'position'?"),
    ("power_w: 40", "powr_w: 40", "bands.3cm.powr_w", "unknown key 'powr_w' in bands.3cm; did you mean 'power_w'?"),
    (
        "battery: {voltage_v: 12.8",
        "battery: {zzz: 1, voltage_v: 12.8",
        "battery.zzz",
        "unknown key 'zzz' in battery; "
        "there is no key like it; take it out, or put # before the line to keep it as a note.",
    ),
    (
        "inclinometer_offset_deg: 0.0",
        "inclinometer_offset_deg: 95",
        "mount.inclinometer_offset_deg",
        "mount.inclinometer_offset_deg is 95; "
        "an offset in degrees is meant, -90 to 90, or {horizontal: 0.2, vertical: -0.4}.",
    ),
    (
        "inclinometer_offset_deg: 0.0",
        "inclinometer_offset_deg: {horizontal: 0.2, vertical: 95}",
        "mount.inclinometer_offset_deg.vertical",
        "mount.inclinometer_offset_deg.vertical is 95; an offset in degrees is meant, -90 to 90.",
    ),
    (
        "height_m: 212",
        "height_m: 2000000",
        "position.height_m",
        "position.height_m is 2000000; a height above sea level in metres is meant, -450 to 6500.",
    ),
    (
        "frequency_mhz: 10368.1",
        "frequency_mhz: 10368100000",
        "bands.3cm.frequency_mhz",
        "bands.3cm.frequency_mhz is 10368100000, which looks like hertz; write 10368.1.",
    ),
    (
        "frequency_mhz: 10368.1",
        "frequency_mhz: 10368100",
        "bands.3cm.frequency_mhz",
        "bands.3cm.frequency_mhz is 10368100, which looks like kilohertz; write 10368.1.",
    ),
    (
        "frequency_mhz: 10368.1",
        "frequency_mhz: 10.3681",
        "bands.3cm.frequency_mhz",
        "bands.3cm.frequency_mhz is 10.3681, which looks like gigahertz; write 10368.1.",
    ),
    (
        "frequency_mhz: 10368.1",
        "frequency_mhz: 1296.1",
        "bands.3cm.frequency_mhz",
        "bands.3cm.frequency_mhz is 1296.1; the band 3cm is 10000 to 10500 MHz; 1296.1 lies in 23cm.",
    ),
    (
        "latitude_deg: -34.50121, longitude_deg: -55.80342",
        "latitude_deg: -134.5, longitude_deg: 170",
        "position.latitude_deg",
        "position.latitude_deg is -134.5; a latitude in degrees, south negative, is meant, -90 to 90.",
    ),
    (
        "latitude_deg: -34.50121, longitude_deg: -55.80342",
        "latitude_deg: 174.7, longitude_deg: -41.3",
        "position.latitude_deg",
        "position.latitude_deg is 174.7; a latitude is -90 to 90 and longitude_deg -41.3 would be one: "
        "the two look swapped.",
    ),
    (
        "latitude_deg: -34.50121, long",
        "latitude_deg: 34.5 S, long",
        "position.latitude_deg",
        "position.latitude_deg is '34.5 S'; write -34.5; south and west are negative.",
    ),
    (
        "{latitude_deg: -34.50121, longitude_deg: -55.80342, height_m: 212}",
        "{locator: GF2Scl, height_m: 212}",
        "position.locator",
        "position.locator is 'GF2Scl'; character 4 is 'S', where a digit 0 to 9 is meant.",
    ),
    (
        "{latitude_deg: -34.50121, ",
        "{locator: JN58td, latitude_deg: -34.50121, ",
        "position.locator",
        "position.locator is 'JN58td'; latitude_deg and longitude_deg lie in GF25cl; keep one of the two.",
    ),
    (
        "{latitude_deg: -34.50121, longitude_deg: -55.80342, height_m: 212}",
        "GF25cl",
        "position",
        "position is 'GF25cl'; write {locator: GF25cl, height_m: ...} with the height above sea level in metres.",
    ),
    (
        "{latitude_deg: -34.50121, longitude_deg: -55.80342, height_m: 212}",
        "{height_m: 212}",
        "position",
        "position has no place; give locator, or latitude_deg and longitude_deg.",
    ),
    (
        "longitude_deg: -55.80342, height",
        "height",
        "position.longitude_deg",
        "position.longitude_deg is missing; write for instance `longitude_deg: -55.80342`.",
    ),
    (
        "  - {azimuth_deg: 260, elevation_deg: 1.0}",
        "  - {azimuth_deg: 95, elevation_deg: 3}",
        "horizon.3",
        "the horizon has two elevations at azimuth 95: 7.5 (line 10) and 3; keep one of the two.",
    ),
    (
        "  - {azimuth_deg: 260, elevation_deg: 1.0}",
        "  - {azimuth_deg: 360, elevation_deg: 3}",
        "horizon.3",
        "the horizon has two elevations at azimuth 360: 2 (line 9) and 3; 0 and 360 are one azimuth.",
    ),
    (
        "time_zone: America/Montevideo",
        "time_zone: America/Montevido",
        "time_zone",
        "time_zone is 'America/Montevido'; did you mean 'America/Montevideo'?",
    ),
    ("America/Montevideo", "montevideo", "time_zone", "time_zone is 'montevideo'; by the station's place montevideo is America/Montevideo; write that."),
    (
        "America/Montevideo",
        "UTC-3",
        "time_zone",
        "time_zone is 'UTC-3'; the name of a zone is meant, not an offset, which knows no summer time; "
        "by the station's place write America/Montevideo.",
    ),
    (
        "time_zone: America/Montevideo\n",
        "",
        "time_zone",
        "time_zone is missing; the home station needs one, for instance `time_zone: America/Montevideo`.",
    ),
    (
        "time_zone: America/Montevideo",
        "time_zone: America/Montevideo\nlanguage: German",
        "language",
        "language is 'German'; did you mean 'de'?",
    ),
    (
        "time_zone: America/Montevideo",
        "time_zone: America/Montevideo\nlanguage: Klingon",
        "language",
        "language is 'Klingon'; one of these languages is meant, else leave it out: en (English), de (German), es (Spanish), fr (French), "
        "it (Italian), ja (Japanese), pt (Portuguese).",
    ),
    (
        "noise_figure_db: 0.8",
        "noise_figure_db: 0,8",
        "bands.3cm.noise_figure_db",
        "bands.3cm.noise_figure_db is '0,8'; write 0.8 with a decimal point.",
    ),
    (
        "power_w: 40",
        "power_w: 40 W",
        "bands.3cm.power_w",
        "bands.3cm.power_w is '40 W'; write the number alone: 40.",
    ),
    ("power_w: 40", "power_w: .inf", "bands.3cm.power_w", "bands.3cm.power_w is '.inf'; a power at the feed in watts is meant, more than 0, at most 5000."),
    (
        "power_w: 40",
        "power_w: 1e999",
        "bands.3cm.power_w",
        "bands.3cm.power_w is 1e999; a number of ordinary size is meant.",
    ),
    (
        "power_w: 40",
        "power_w: \u22124",
        "bands.3cm.power_w",
        "bands.3cm.power_w is '\u22124'; write -4 with a plain hyphen as the minus sign.",
    ),
    (
        "power_w: 40",
        "power_w: 0",
        "bands.3cm.power_w",
        "bands.3cm.power_w is 0; a power at the feed in watts is meant, more than 0, at most 5000.",
    ),
    (
        "modes: [Q65, CW]",
        "modes: [Q65-60C, CW]",
        "bands.3cm.modes.1",
        "bands.3cm.modes.1 is 'Q65-60C'; did you mean 'Q65'?",
    ),
    ("  3cm:", "  3 cm:", "bands.3 cm", "unknown band '3 cm' in bands; did you mean '3cm'?"),
    ("  3cm:", "  10GHz:", "bands.10GHz", "unknown band '10GHz' in bands; did you mean '3cm'?"),
    (
        "polarization: rotatable",
        "polarization: rotateable",
        "bands.3cm.polarization",
        "bands.3cm.polarization is 'rotateable'; did you mean 'rotatable'?",
    ),
    (
        "{dish_diameter_m: 1.8, aperture_efficiency: 0.55}",
        "{dish_diameter_m: 1.8, gain_dbi: 40}",
        "bands.3cm.antenna",
        "bands.3cm.antenna needs dish_diameter_m or gain_dbi, one of the two.",
    ),
    (
        "{dish_diameter_m: 1.8, aperture_efficiency: 0.55}",
        "{gain_dbi: 40, aperture_efficiency: 0.55}",
        "bands.3cm.antenna.aperture_efficiency",
        "bands.3cm.antenna.aperture_efficiency goes with dish_diameter_m only; leave it out.",
    ),
    (
        "from: 18:00, to: 23:30",
        "from: 18.00, to: 23:30",
        "available.1.from",
        "available.1.from is 18.00; write 18:00.",
    ),
    (
        "from: 18:00, to: 23:30",
        "from: 18:00, to: 25:30",
        "available.1.to",
        "available.1.to is '25:30'; a time of day is meant, 00:00 to 24:00.",
    ),
    (
        "from: 18:00, to: 23:30",
        "from: 18:00, to: 18:00",
        "available.1",
        "available.1 begins and ends at 18:00; for all day write from: 00:00, to: 24:00.",
    ),
    (
        "days: [fri, sat]",
        "days: [fri, saturday]",
        "available.2.days.2",
        "available.2.days.2 is 'saturday'; did you mean 'sat'?",
    ),
    (
        "2027-03-20/2027-03-22",
        "2027-03-22/2027-03-20",
        "unavailable_dates.2",
        "unavailable_dates.2 is '2027-03-22/2027-03-20'; the first date comes after the last; "
        "write 2027-03-20/2027-03-22.",
    ),
    (
        "2027-03-12,",
        "2027-02-30,",
        "unavailable_dates.1",
        "unavailable_dates.1 is '2027-02-30'; there is no such day.",
    ),
    (
        "2027-03-12,",
        "12.3.2027,",
        "unavailable_dates.1",
        "unavailable_dates.1 is '12.3.2027'; write 2027-03-12.",
    ),
    (
        "email: ines@basalt-tor.example",
        "email: ines at basalt-tor.example",
        "email",
        "email is 'ines at basalt-tor.example'; one mail address is meant; write ines@basalt-tor.example.",
    ),
    (
        "email: ines@basalt-tor.example",
        'email: "ines@basalt-tor.example\\nBcc: all@basalt-tor.example"',
        "email",
        "email is 'ines@basalt-tor.example Bcc: all@basalt-tor.example'; "
        "one mail address is meant, such as ines@basalt-tor.example.",
    ),
    (
        "name: Basalt Tor",
        'name: "Basalt\\nTor"',
        "name",
        "name is 'Basalt Tor'; one line of text without tabs is meant.",
    ),
    (
        "name: Basalt Tor",
        'name: "Basalt\\x07Tor"',
        "",
        "the value holds the control character U+0007; take it out.",
    ),
    (
        "azimuth_from_deg: 200, azimuth_to_deg: 160,",
        "azimuth_from_deg: 200,",
        "mount.azimuth_from_deg",
        "mount has azimuth_from_deg but no azimuth_to_deg; give both, clockwise, or none.",
    ),
    (
        "{name: grain silo, azimuth_deg: 231.4}",
        "{name: grain silo}",
        "landmarks.2",
        "landmarks.2 has no whole place; give latitude_deg and longitude_deg, or azimuth_deg.",
    ),
    (
        "minimum_elevation_deg: 5",
        "minimum_elevation_deg: [5]",
        "minimum_elevation_deg",
        "minimum_elevation_deg is a list; write 5 without brackets.",
    ),
    (
        "checklist:\n  - Set the drive to its lowest before the cable goes on",
        "checklist:\n  - ",
        "checklist.1",
        "checklist.1 is empty; give it a value or leave it out.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "field", "sentence"), STATION_FAULTS)
def test_station_fault(tmp_path: Path, old: str, new: str, field: str, sentence: str) -> None:
    text = swapped(HOME, old, new)
    faults = faults_of(lay_out(tmp_path, qm7tor=text))
    assert [fault.message for fault in faults] == [sentence]
    fault = faults[0]
    assert fault.field == field
    assert fault.file == "qm7tor.yaml"
    if new:
        changed = next(
            number for number, pair in enumerate(zip(HOME.splitlines(), text.splitlines(), strict=False), 1)
            if pair[0] != pair[1]
        )  # fmt: skip
        assert fault.line == changed
    assert str(fault) == f"qm7tor.yaml, line {fault.line}: {sentence}"


SURVEY_FAULTS = [
    ("azimuth,elevation\n0,1\n", "survey.csv, line 1: the first line is 'azimuth,elevation'; write azimuth_deg,elevation_deg."),
    ("azimuth_deg,elevation_deg\n0,1\n400,1\n", "survey.csv, line 3: survey.2.azimuth_deg is 400; an azimuth in degrees from true north is meant, 0 to 360."),
    ("azimuth_deg,elevation_deg\n0,1\n\n10,1\n10,2\n", "survey.csv, line 5: the horizon has two elevations at azimuth 10: 1 (line 4) and 2; keep one of the two."),
    ("azimuth_deg,elevation_deg\n0\n", "survey.csv, line 2: survey.1.elevation_deg is missing; write for instance `elevation_deg: 7.5`."),
]  # fmt: skip


@pytest.mark.parametrize(("survey", "sentence"), SURVEY_FAULTS)
def test_survey_fault(tmp_path: Path, survey: str, sentence: str) -> None:
    home = swapped(HOME, HOME[HOME.index("horizon:") : HOME.index("mount:")], "horizon: {file: survey.csv}\n")
    (tmp_path / "survey.csv").write_text(survey, encoding="utf-8")
    assert str(only_fault(lay_out(tmp_path, qm7tor=home))) == sentence


def test_survey_that_is_not_there(tmp_path: Path) -> None:
    home = swapped(HOME, HOME[HOME.index("horizon:") : HOME.index("mount:")], "horizon: {file: survey.csv}\n")
    fault = only_fault(lay_out(tmp_path, qm7tor=home))
    assert (fault.file, fault.line, fault.field) == ("qm7tor.yaml", 8, "horizon.file")
    assert fault.message.startswith("horizon.file is 'survey.csv'; there is no file ")
