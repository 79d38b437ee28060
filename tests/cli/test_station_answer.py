"""What a partner tells of its hours and equipment: into its own file by one command, once, and never asked again."""

from __future__ import annotations

import datetime as dt
import shlex
from pathlib import Path

import pytest

from pipeline.inputs.model import WEEKDAYS, Hours, Station
from pipeline.inputs.station import read_station, with_band
from pipeline.inputs.yaml_tree import load_tree
from pipeline.letters.station_answer import PLACES, with_told
from tests.cli.test_choices import OUT, moon, table
from tests.conftest import Type

__all__ = ["moon"]
FILE = Path("stations/qt8nui.yaml")
HEAD = "call: QT8NUI\nposition: {locator: RE44qt}"


def message() -> str:
    return (OUT / "letters" / "QT8NUI" / "message.txt").read_text("utf-8")


def test_an_answer_counts_from_then_on_and_the_next_question_follows(moon: Type) -> None:
    assert moon("plan", "--no-pdf")[0] == 0
    code, out, _ = moon("letters", "--no-pdf")
    assert code == 0
    asked = "From when to when can you be at your station? We guessed: every day 07:00 to 23:30, your time."
    assert "right?" not in message()
    assert "sky free" not in message()
    assert asked in message()
    told = "QT8NUI is asked a question; note the answer, for instance: mutual-moon answer QT8NUI hours=18:00-23:30\n"
    assert told in out
    before, slots = FILE.read_text("utf-8"), [row for row in table("agenda") if row["partner"] == "QT8NUI"]
    code, out, err = moon("answer", "QT8NUI", "hours=05:00-23:30")
    assert (code, err) == (0, "")
    assert out.startswith("QT8NUI hours  05:00-23:30: no longer assumed\nnoted in stations/qt8nui.yaml; next: ")
    assert FILE.read_text("utf-8").startswith(before)
    code, out, _ = moon("plan", "--no-pdf")
    assert code == 0
    assert "hours assumed" not in out
    assert [row["slot_start_utc"] for row in table("agenda") if row["partner"] == "QT8NUI"] == [
        row["slot_start_utc"] for row in slots
    ]
    code, out, _ = moon("letters", "--no-pdf")
    assert code == 0
    assert asked not in message()
    assert "How large is your dish? We guessed 1.8 m." in message()
    assert "note the answer, for instance: mutual-moon answer QT8NUI dish_diameter_m=1.8\n" in out
    sentence = "hours=always: qt8nui.yaml states available already; change it there.\n"
    assert moon("answer", "QT8NUI", "hours=always") == (2, "", sentence)


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        (
            'hours="fri,sat 18:00-23:30; sun 09:00-22:00"',
            "[{days: [fri, sat], from: 18:00, to: 23:30}, {days: [sun], from: 09:00, to: 22:00}]",
        ),
        (
            '"hours = mon-wed 18:00-23:00; sat, sun 08:00-22:00."',
            "[{days: [mon, tue, wed], from: 18:00, to: 23:00}, {days: [sat, sun], from: 08:00, to: 22:00}]",
        ),
        ("'hours=[{days: [fri, sat], from: 18:00, to: 23:30}]'", "[{days: [fri, sat], from: 18:00, to: 23:30}]"),
        ("hours=18:00-23:30", "[{from: 18:00, to: 23:30}]"),
        ("hours=always", "always"),
    ],
)
def test_hours_of_several_days(moon: Type, typed: str, written: str) -> None:
    """As README has them, by the shell's own reading of its quotes."""
    code, _, err = moon("answer", "QT8NUI", *shlex.split(typed))
    assert (code, err) == (0, "")
    assert f"\navailable: {written}\n" in FILE.read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("power_w=-4",), "power_w=-4: bands.3cm.power_w is -4; a power at the feed in watts is meant, more than 0, "),
        (("hours=18:00",), "hours=18:00: for instance 18:00-23:30 is meant, or always.\n"),
        (
            ("hours=fun 18:00-23:30",),
            "hours=fun 18:00-23:30: available.1.days.1 is 'fun'; the days are written mon, tue, wed, thu, fri, sat, ",
        ),
        (("hours=18:00-18:00",), "hours=18:00-18:00: available.1 begins and ends at 18:00; for all day "),
        (
            ("time_zone=Pacific/Auckland",),
            "time_zone=Pacific/Auckland: qt8nui.yaml states time_zone already; change it there.\n",
        ),
        (("gain_dbi=[",), "gain_dbi=[: "),
        (("A=yes", "power_w=40"), "power_w=40: this goes into another file; type it in a command of its own.\n"),
    ],
)
def test_what_will_not_do_is_told_as_the_reader_tells_it(words: tuple[str, ...], sentence: str, moon: Type) -> None:
    before = FILE.read_bytes()
    code, out, err = moon("answer", "QT8NUI", *words)
    assert (code, out) == (2, "")
    assert err.startswith(sentence)
    assert FILE.read_bytes() == before


def told(text: str, key: str, said: str, folder: Path) -> tuple[str, Station]:
    """The new text, and the station that it says, by the reader of station files."""
    path = folder / "qt8nui.yaml"
    path.write_bytes(text.encode())
    station = read_station(load_tree(text.encode(), path.name, folder)).station
    assert station is not None
    new = with_told(with_band(station, "3cm"), "3cm", folder, key, said).text
    read = read_station(load_tree(new.encode(), path.name, folder)).station
    assert read is not None
    return new, read


@pytest.mark.parametrize(
    ("text", "added"),
    [
        (HEAD, "\n# Told in an answer.\nbands:\n  3cm: {power_w: 40}\n"),
        (f"{HEAD}\nbands:\n  3cm:\n    noise_figure_db: 1 # dB\n", "power_w: 40  # told in an answer\n    "),
        (f"{HEAD}\nbands:\n  13cm: {{}}\n", "3cm: {power_w: 40}  # told in an answer\n  "),
        (f"{HEAD}\nbands: {{3CM: {{noise_figure_db: 1}}}} # x\n", "power_w: 40, "),
        (f"{HEAD}\r\nbands:\r\n  3cm: {{}}\r\n# end\r\n", "power_w: 40"),
        (f"{HEAD}\nbands:\n  3cm:\n    power_w:   # to be asked\n    noise_figure_db: 1\n", " 40"),
        (f"{HEAD}\nbands:\n# end\n", " {3cm: {power_w: 40}}"),
        ("{call: QT8NUI, position: {locator: RE44qt}}\n", "bands: {3cm: {power_w: 40}}, "),
    ],
)
def test_however_a_file_is_laid_out_its_words_stay(text: str, added: str, tmp_path: Path) -> None:
    new, station = told(text, "power_w", "40", tmp_path)
    assert new.replace(added, "", 1) == text
    assert station.bands["3cm"].power_w == 40.0
    assert "bands.3cm.power_w" not in station.assumed


def test_every_key_goes_where_the_reader_looks_for_it(tmp_path: Path) -> None:
    text, band = HEAD, "3cm"
    values = {
        "time_zone": "Pacific/Auckland", "power_w": "40", "dish_diameter_m": "2.4", "noise_figure_db": "0.7",
        "loss_before_preamplifier_db": "0.2", "hours": "always",
    }  # fmt: skip
    assert {*values, "gain_dbi"} == set(PLACES)
    for key, value in values.items():
        text, station = told(text, key, value, tmp_path)
    equipment = station.bands[band]
    assert (station.time_zone, station.available, equipment.antenna.dish_diameter_m) == (
        "Pacific/Auckland",
        "always",
        2.4,
    )
    assert (equipment.power_w, equipment.noise_figure_db, equipment.loss_before_preamplifier_db) == (40.0, 0.7, 0.2)
    assert text.count("# Told in an answer.") == 3
    assert told(HEAD, "gain_dbi", "33", tmp_path)[1].bands[band].antenna.gain_dbi == 33.0


@pytest.mark.parametrize(
    ("said", "hours"),
    [
        ("18:00-23:30", [(WEEKDAYS, (18, 0), (23, 30))]),
        ("sat, sun 09:00-22:00; fri 20:00–01:30", [(("sat", "sun"), (9, 0), (22, 0)), (("fri",), (20, 0), (1, 30))]),
        ("fri-mon 10:00-24:00", [(("fri", "sat", "sun", "mon"), (10, 0), (0, 0))]),
        ("[{days: [tue], from: 19:00, to: 22:00}]", [(("tue",), (19, 0), (22, 0))]),
    ],
)
def test_hours_as_they_are_said(said: str, hours: list, tmp_path: Path) -> None:
    _, station = told(HEAD, "hours", said, tmp_path)
    assert list(station.available or ()) == [Hours(days, dt.time(*start), dt.time(*end)) for days, start, end in hours]


def test_hours_that_leave_out_what_is_agreed_are_told_by_the_plan(moon: Type) -> None:
    """QT8NUI's slot begins on Sunday at 08:15 by its own clock (Pacific/Auckland, IANA database)."""
    assert moon("plan", "--no-pdf")[0] == 0
    assert moon("answer", "QT8NUI", "A=yes")[0] == 0
    told = "is kept as agreed, although it lies outside the hours of QT8NUI."
    assert told not in moon("plan", "--no-pdf")[1]
    assert moon("answer", "QT8NUI", "hours=mon-fri 18:00-20:00")[0] == 0
    assert told in " ".join(moon("plan", "--no-pdf")[1].split())
