"""Faults of the season file and of the folder as a whole, each with its sentence."""

# ruff: noqa: E501 - a fault a line reads as a table
from __future__ import annotations

from pathlib import Path

import pytest

from tests.inputs.helpers import HOME, PARTNER, SEASON, faults_of, lay_out, line_of, only_fault, swapped

SEASON_FAULTS = [
    ("home: QM7TOR", "home: QM7TOT", "home", "home is 'QM7TOT', but no file in this folder has that call; did you mean 'QM7TOR'?"),
    ("home: QM7TOR\n", "home:\n", "home", "home is missing; write for instance `home: QM7TOR`."),
    ("{call: QF4LUM,", "{call: QF4LAM,", "partners.1.call", "the partner QF4LAM has no file in this folder; did you mean 'QF4LUM'?"),
    ("{call: QF4LUM,", "{call: QM7TOR,", "partners.1", "the partner QM7TOR is the home station; take it out of the list."),
    ("{call: QF4LUM, ", "{call: QF4-LUM, ", "partners.1.call", "partners.1.call is 'QF4-LUM'; a call sign is meant: letters A to Z, digits and '/' between them; did you mean QF4LUM?"),
    ("months: [2027-03]", "months: [2027-3]", "months.1", "months.1 is '2027-3'; write 2027-03."),
    ("months: [2027-03]", "months: [1899-12]", "months.1", "months.1 is '1899-12'; a month from 1900 to 2099 is meant."),
    ("months: [2027-03]", "months: [2027-13]", "months.1", "months.1 is '2027-13'; a month is meant, written as 2027-03."),
    ("months: [2027-03]", "months: [2027-03, 2027-03]", "months.2", "the month 2027-03 is listed twice; keep one."),
    (
        "months: [2027-03]",
        "months: [2027-03, 2027-05]",
        "months",
        "the months do not follow each other; plan months apart one by one, with --month.",
    ),
    ("months: [2027-03]", "dates: 2027-03-01/2028-06-01", "dates", "dates span 459 days; at most 400 are taken."),
    ("months: [2027-03]", "dates: 2027-03-05/2027-03-01", "dates", "dates is '2027-03-05/2027-03-01'; the first date comes after the last; write 2027-03-01/2027-03-05."),
    ("band: 3cm", "band: 3sm", "band", "band is '3sm'; did you mean '3cm'?"),
    ("frequency_mhz: 10368.1", "frequency_mhz: 10368100000", "frequency_mhz", "frequency_mhz is 10368100000, which looks like hertz; write 10368.1."),
    ("contacts_wanted: 1", "contacts_wanted: 1.5", "partners.1.contacts_wanted", "partners.1.contacts_wanted is 1.5; a whole number is meant."),
    ("refraction: true", "refraction: maybe", "policy.refraction", "policy.refraction is 'maybe'; true or false is meant."),
    ("atmosphere: seasonal", "atmosphere: sesonal", "policy.atmosphere", "policy.atmosphere is 'sesonal'; did you mean 'seasonal'?"),
    ("solar_activity: average", "solar_activity: 150", "policy.solar_activity", "policy.solar_activity is 150; write {flux_10_7_cm: 150}."),
    ("solar_activity: average", "solar_activity: calm", "policy.solar_activity", "policy.solar_activity is 'calm'; write quiet."),
    ("solar_activity: average", "solar_activity: {flux_10_7_cm: 14}", "policy.solar_activity.flux_10_7_cm", "policy.solar_activity.flux_10_7_cm is 14; the Sun's 10.7 cm flux in solar flux units is meant, 60 to 400."),
    ("strong: 0.9", "strong: 0.5", "policy.outcome_thresholds", "policy.outcome_thresholds are strong 0.5, workable 0.6, marginal 0.25; each is meant to be less than the one before."),
    ("nights: [fri, sat, sun]", "nights: [fri, sta]", "policy.nights.2", "policy.nights.2 is 'sta'; did you mean 'sat'?"),
    ("slot_minutes: 60", "slot_minutes: {least: 60, most: 45}", "policy.slot_minutes", "policy.slot_minutes: least is 60 and most 45; least is meant to be less."),
    ("slot_minutes: 60", "slot_minutes: {least: 3}", "policy.slot_minutes.least", "policy.slot_minutes.least is 3; a number of minutes is meant, 5 to 240."),
    ("slot_minutes: 60", "slot_minutes: 3", "policy.slot_minutes", "policy.slot_minutes is 3; a number of minutes is meant, 5 to 240, or {least: 45, most: 60}."),
    ("slot_minutes: 60", "slot_minutes: 300", "policy.slot_minutes", "policy.slot_minutes is 300; a number of minutes is meant, 5 to 240, or {least: 45, most: 60}."),
    ("slot_minutes: 60", "slot_minutes: 45.5", "policy.slot_minutes", "policy.slot_minutes is 45.5; a number of minutes is meant, 5 to 240, or {least: 45, most: 60}."),
    ("slot_minutes: 60", "slot_minutes: short", "policy.slot_minutes", "policy.slot_minutes is 'short'; a number of minutes is meant, 5 to 240, or {least: 45, most: 60}."),
    ("slot_minutes: 60", "slot_minutes: [45, 60]", "policy.slot_minutes", "policy.slot_minutes is a list; write {least: 45, most: 60}."),
    ("slot_minutes: 60", "presence: 1.5", "policy.presence", "policy.presence is 1.5; a share, such as 0.9, is meant, 0 to 1."),
    ("slot_minutes: 60", "assumed_skyline: {median_deg: 10, nine_in_ten_deg: 3}", "policy.assumed_skyline", "policy.assumed_skyline: median_deg is 10 and nine_in_ten_deg 3; the second is meant to be the higher one."),
    ("paper: A4", "paper: A5", "report.paper", "report.paper is 'A5'; accepted: A4, letter."),
    ('meet: "chat room or telephone, as you agree"', 'meet: "ask {sendr}"', "letters.meet", "letters.meet has 'sendr' in braces; the words that are filled in are {operator}, {call}, {home}, {sender}, {period}."),
    ('meet: "chat room or telephone, as you agree"', "meet: chat room, as you agree", "", "text with a comma needs quotes in braces; write `reply_by: 2027-02-20, meet: \"chat room, as you agree\"}`."),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "field", "sentence"), SEASON_FAULTS)
def test_season_fault(tmp_path: Path, old: str, new: str, field: str, sentence: str) -> None:
    text = swapped(SEASON, old, new)
    fault = only_fault(lay_out(tmp_path, season=text))
    assert (fault.file, fault.field, fault.message) == ("season.yaml", field, sentence)
    assert fault.line == line_of(text, new.strip())


def test_every_unknown_word_of_the_letters_is_told_and_no_known_one(tmp_path: Path) -> None:
    texts = 'greeting: "Hi {Operator} {call}", closing: "73 {period} { {}"'
    text = swapped(SEASON, 'greeting: "Dear {operator}"', texts)
    text = swapped(text, "chat room or telephone, as you agree", "{home} {sender} {me too}")
    told = [(fault.field, fault.message.split(";")[0]) for fault in faults_of(lay_out(tmp_path, season=text))]
    assert told == [
        ("letters.greeting", "letters.greeting has 'Operator' in braces"),
        ("letters.closing", "letters.closing has '' in braces"),
        ("letters.meet", "letters.meet has 'me too' in braces"),
    ]


def test_months_and_dates_together(tmp_path: Path) -> None:
    text = swapped(SEASON, "months: [2027-03]", "months: [2027-03]\ndates: 2027-03-05/2027-03-09")
    assert str(only_fault(lay_out(tmp_path, season=text))) == (
        "season.yaml, line 6: the season has months and dates; keep one of the two."
    )


def test_duplicate_call(tmp_path: Path) -> None:
    fault = only_fault(lay_out(tmp_path, zweit="# again\n" + PARTNER))
    assert str(fault) == (
        "zweit.yaml, line 2: the call QF4LUM stands in qf4lum.yaml as well; keep one of the files "
        "(or, for two sites of home, name one by its file: `home: zweit`)."
    )


def test_partner_listed_twice(tmp_path: Path) -> None:
    text = swapped(SEASON, "priority: 2}", "priority: 2}\n  - qf4lum")
    assert str(only_fault(lay_out(tmp_path, season=text))) == (
        "season.yaml, line 8: the partner QF4LUM is listed twice; keep one line and set contacts_wanted in it."
    )


def test_band_left_open(tmp_path: Path) -> None:
    home = HOME + "  6cm: {power_w: 20}\n"
    fault = only_fault(lay_out(tmp_path, qm7tor=home, season="home: QM7TOR\n"))
    assert str(fault) == (
        "season.yaml, line 1: band is missing; write for instance `band: 3cm`; the home station has 3cm, 6cm."
    )


def test_file_of_no_kind(tmp_path: Path) -> None:
    fault = only_fault(lay_out(tmp_path, notes="cal: QX1ABC\nplace: here\n"))
    assert str(fault) == (
        "notes.yaml, line 1: the file has neither `call` (a station) nor `home` (a season); did you mean `call` by 'cal'?"
    )


def test_asked_month_that_is_none(tmp_path: Path) -> None:
    assert str(only_fault(lay_out(tmp_path), "march")) == (
        "--month: the month is 'march'; the year is missing; write it before the number of the month, as in 2027-03."
    )


def test_season_file_that_is_not_there(tmp_path: Path) -> None:
    fault = only_fault(tmp_path / "season.yaml")
    assert fault.message.startswith("there is no season file ")
    assert fault.message.endswith("; --season names another, and the command `new FOLDER` lays one out.")


def test_station_given_as_season(tmp_path: Path) -> None:
    lay_out(tmp_path)
    faults = faults_of(tmp_path / "qm7tor.yaml")
    assert str(faults[0]) == (
        "qm7tor.yaml, line 1: this is a station file (it has `call`); a season file has `home: CALL`. "
        "Give it with --season."
    )


def test_all_faults_of_all_files_in_one_go(tmp_path: Path) -> None:
    path = lay_out(
        tmp_path,
        qm7tor=swapped(swapped(HOME, "power_w: 40", "power_w: 4O"), "America/Montevideo", "Mars/Base"),
        qf4lum=swapped(PARTNER, "height_m: 520", "hight_m: 520"),
        broken="call: [\n",
        season=swapped(SEASON, "band: 3cm", "band: 3c"),
    )
    places = [(fault.file, fault.line, fault.field) for fault in faults_of(path)]
    assert places == [
        ("broken.yaml", 1, ""),
        ("qf4lum.yaml", 2, "position.hight_m"),
        ("qm7tor.yaml", 6, "time_zone"),
        ("qm7tor.yaml", 27, "bands.3cm.power_w"),
        ("season.yaml", 3, "band"),
    ]
