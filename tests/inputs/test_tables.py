"""Rosters as spreadsheets of several countries save them: what is taken, with which note, and all faults in one go."""

# ruff: noqa: E501 - a fault a line reads as a table
from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline.cli import app
from pipeline.inputs.faults import InputFaults
from pipeline.inputs.model import Station
from pipeline.inputs.roster import import_roster, notes_of
from pipeline.inputs.station import read_station
from pipeline.inputs.yaml_tree import load_tree


def desk(folder: Path, content: str | bytes) -> tuple[Path, Path]:
    """A roster, and a folder whose season names the band."""
    stations = folder / "stations"
    stations.mkdir()
    (stations / "season.yaml").write_text("home: QM7TOR\nband: 3cm\n", encoding="utf-8")
    roster = folder / "roster.csv"
    roster.write_bytes(content.encode() if isinstance(content, str) else content)
    return roster, stations


def station(path: Path) -> Station:
    """A station that was written."""
    made = read_station(load_tree(path.read_bytes(), path.name)).station
    assert made is not None
    return made


TAKEN = [
    "call;locator;dish_diameter_m;power_w;name\nQF4LUM;KP10;2,4;40;Höhe\n",
    "Call\tLocator\tDish_Diameter_M\tPOWER_W\tname\nQF4LUM\tKP10\t2,4\t40\tHöhe\n",
    "call,locator,dish_diameter_m,power_w,name,,\nQF4LUM,KP10,2.4,40,Höhe,,\n,,,,,,\n",
    "sep=;\ncall;locator;dish_diameter_m;power_w;name\nQF4LUM;KP10;2,4;40;Höhe\n",
    "Our stations;;\n\ncall;locator;band;dish_diameter_m;power_w;name\nQF4LUM;KP10;10 GHz;2,4;40;Höhe;;\n",
    "bands.3CM.Antenna.Dish_diameter_m,bands.3cm.power_w,NAME,Call,Position.Locator\n2.4,40,Höhe,QF4LUM,KP10\n",
]


@pytest.mark.parametrize("text", TAKEN)
def test_one_table_in_the_habits_of_several_spreadsheets(tmp_path: Path, text: str) -> None:
    roster, folder = desk(tmp_path, text)
    (path,) = import_roster(roster, folder)
    made = station(path)
    assert (made.call, made.name, made.position.locator) == ("QF4LUM", "Höhe", "KP10")
    assert list(made.bands) == ["3cm"]
    assert (made.bands["3cm"].antenna.dish_diameter_m, made.bands["3cm"].power_w) == (2.4, 40)


@pytest.mark.parametrize(
    ("encoding", "note"),
    [
        ("utf-8", None),
        ("utf-8-sig", None),
        ("cp1252", "roster.csv is not UTF-8 and was read as Windows-1252 (Latin-1): is `QF4LUM;KP10;Größe` right?"),
        ("latin-1", "roster.csv is not UTF-8 and was read as Windows-1252 (Latin-1): is `QF4LUM;KP10;Größe` right?"),
        ("utf-16", "roster.csv is UTF-16 and was read as such; UTF-8 is the usual encoding."),
        ("utf-16-le", "roster.csv is UTF-16 and was read as such; UTF-8 is the usual encoding."),
    ],
)
def test_encodings_are_taken_with_a_note(tmp_path: Path, encoding: str, note: str | None) -> None:
    roster, folder = desk(tmp_path, "call;locator;name\r\nQF4LUM;KP10;Größe\r\n".encode(encoding))
    assert notes_of(roster, folder) == ((note,) if note else ())
    assert [station(path).name for path in import_roster(roster, folder)] == ["Größe"]


@pytest.mark.parametrize("start", [b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"])
def test_a_workbook_is_refused_with_the_clicks_that_make_a_table(tmp_path: Path, start: bytes) -> None:
    roster, folder = desk(tmp_path, start + bytes(range(256)))
    with pytest.raises(InputFaults, match=r"a workbook, not a CSV table; .* choose File, then Save As"):
        import_roster(roster, folder)


FAULTS = [
    (
        "Callsign,Grid,Dish (cm),Powr,Foo\nQF4LUM,KP10,240,0.04 kW,1\nQJ2KAW,PM9Z,,,\n",
        [
            "line 1: Callsign is called call, Grid is called locator, Dish (cm) is called dish_diameter_m, Powr is called "
            "power_w; write the line as `call,locator,dish_diameter_m,power_w,Foo`.",
            "line 1: unknown key 'Foo'; take the column out, or name it like a station's key.",
            "line 2: 240 is written 2.4, 0.04 kW is written 40; write the row as `QF4LUM,KP10,2.4,40,1`.",
            "line 3: position.locator is 'PM9Z'; character 4 is 'Z', where a digit 0 to 9 is meant.",
        ],
    ),
    (
        "locator,locator,pos.lat\nKP10,KP10,x\n",
        [
            "line 1: the column locator stands there twice; keep one.",
            "line 1: unknown key 'pos.lat'; take the column out, or name it like a station's key.",
            "line 1: there is no column call (found: locator, locator, pos.lat); the first line names columns.",
            "line 2: call is missing; write for instance `call: QM7TOR`.",
        ],
    ),
    (
        b"call,locator,power_w\nQF4LUM,KP10,40 hp \x81\nQJ2KAW,PM9Z,1\n",
        [
            "line 2: a letter cannot be read in `QF4LUM,KP10,40 hp ?`; save the table as CSV with the encoding UTF-8.",
            "line 2: bands.3cm.power_w is '40 hp ?'; watts are meant, and 'hp' is no such unit; write how many watts it is.",
            "line 3: position.locator is 'PM9Z'; character 4 is 'Z', where a digit 0 to 9 is meant.",
        ],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("content", "sentences"), FAULTS)
def test_all_faults_of_head_and_rows_at_once(tmp_path: Path, content: str | bytes, sentences: list[str]) -> None:
    roster, folder = desk(tmp_path, content)
    with pytest.raises(InputFaults) as caught:
        import_roster(roster, folder)
    assert [str(fault) for fault in caught.value.faults] == [f"roster.csv, {sentence}" for sentence in sentences]
    assert [path.name for path in folder.iterdir()] == ["season.yaml"]


def test_equipment_without_a_band_asks_for_it(tmp_path: Path) -> None:
    roster, folder = desk(tmp_path, "call,locator,power_w\nQF4LUM,KP10,40\n")
    (folder / "season.yaml").unlink()
    with pytest.raises(InputFaults, match="the band of the equipment is not known; add a column band, such as 3cm"):
        import_roster(roster, folder)


def test_the_note_reaches_the_console(tmp_path: Path) -> None:
    roster, folder = desk(tmp_path, "call;locator;name\r\nQF4LUM;KP10;Größe\r\n".encode("cp1252"))
    result = CliRunner().invoke(app, ["import", str(roster), "--season", str(folder / "season.yaml")])
    assert result.exit_code == 0, result.output
    assert "note: roster.csv is not UTF-8 and was read as Windows-1252" in " ".join(result.stderr.split())


# What a spreadsheet, a page or a mail gives, and the answer of each line (common practice, no source).
ROSTERS = [
    ("QF4LUM;JN58td;1,8;40\n", ["line 1: the first line is a station already; write names of the columns above it, such as `call;locator;dish_diameter_m;power_w`."]),
    ("call;locator;height_m;dish_diameter_m;power_w\nQH6OST;JO32tc;-;2,4 m;40 W\n", ["line 2: - stays empty where nobody knows it, 2,4 m is written 2.4, 40 W is written 40; write the row as `QH6OST;JO32tc;;2.4;40`."]),
    ("Rufzeichen;Name;Standort;Spiegel\nQB6SUL;Rui;IM59mb;1,5\n", ["line 1: Rufzeichen is called call, Standort is called locator, Spiegel is called dish_diameter_m; write the line as `call;name;locator;dish_diameter_m`."]),
    ("Znak;Lokator;Średnica czaszy [m];Strefa czasowa\nQF4LUM;JN58;1,8;Europe/Warsaw\n", ["line 1: Znak is called call, Lokator is called locator, Średnica czaszy [m] is called dish_diameter_m, Strefa czasowa is called time_zone; write the line as `call;locator;dish_diameter_m;time_zone`."]),
    ("call,Elevation (ft),locator,dish\nQF4LUM,300,JN58,6 ft\n", ["line 1: Elevation (ft) is called height_m, dish is called dish_diameter_m; write the line as `call,height_m,locator,dish_diameter_m`.", "line 2: 300 is written 91.44, 6 ft is written 1.83; write the row as `QF4LUM,91.44,JN58,1.83`."]),
    ("call;locator;23cm dish;23cm power\nQF4LUM;JN58;3;100\n", ["line 1: 23cm dish is called bands.23cm.antenna.dish_diameter_m, 23cm power is called bands.23cm.power_w; write the line as `call;locator;bands.23cm.antenna.dish_diameter_m;bands.23cm.power_w`."]),
    ("call;locator;available\nQF4LUM;JN58;fri sat 18-23\n", ["line 2: a roster takes no hours; add `available: {days: [fri, sat], from: 18:00, to: 23:00}` to the station's file afterwards."]),
    ("call;position;dish_diameter_m\nQF4LUM;55,67 / 12,57;1,8\n", ["line 2: a place has columns of its own, one a key: latitude_deg: 55.67, longitude_deg: 12.57."]),
    ("call,locator,height_m,power_w\n,,m,W\nQF4LUM,JN58,3,150\n", ["line 2: the row holds units (m, W), not a station; take it out."]),
    ("call,locator,dish,power_w,nf\nQF4LUM,JN58,3,150,0,5\nQZ5KAR,JN59,4,5,300,0,4\n", ["line 1: dish is called dish_diameter_m, nf is called noise_figure_db; write the line as `call,locator,dish_diameter_m,power_w,noise_figure_db`.", "line 2: the row has 6 cells for 5 columns; a decimal comma parts a number in two: write noise_figure_db 0.5.", "line 3: the row has 7 cells for 5 columns; a decimal comma parts a number in two: write dish_diameter_m 4.5, noise_figure_db 0.4."]),
    ("call,locator,dish_diameter_m,power_w,noise_figure_db\nQF4LUM,JN58,3,1,5,6,2,7,8,9\n", ["line 2: the row has 10 cells for 5 columns; write numbers with a decimal point, and text with a comma in quotes."]),
    ("call,locator\nQF4LUM,JN58\n2 stations,JN59\n", ["line 3: call is '2 stations'; a call sign is meant: letters A to Z, digits and '/' between them; where the row is no station, take it out."]),
    ("call,locator\nQF 4 LUM,JN58\n", ["line 2: call is 'QF 4 LUM'; a call sign is meant: letters A to Z, digits and '/' between them; did you mean QF4LUM?"]),
    ("call;locator\nQF4LUM;JN58\nSumme;1\n", ["line 3: call is 'Summe'; a call sign has at least one letter and one digit; where the row is no station, take it out."]),
]  # fmt: skip


@pytest.mark.parametrize(("content", "sentences"), ROSTERS)
def test_one_answer_a_line_of_a_roster(tmp_path: Path, content: str, sentences: list[str]) -> None:
    roster, folder = desk(tmp_path, content)
    with pytest.raises(InputFaults) as caught:
        import_roster(roster, folder)
    assert [str(fault).removeprefix("roster.csv, ") for fault in caught.value.faults] == sentences


@pytest.mark.parametrize(
    "content",
    ["| call | locator |\n|------|---------|\n| QF4LUM | JN58td |\n", "call     locator\nQF4LUM   JN58td\n"],
)
def test_drawn_and_aligned_tables_are_read(tmp_path: Path, content: str) -> None:
    roster, folder = desk(tmp_path, content)
    (written,) = import_roster(roster, folder)
    assert "locator: JN58td" in written.read_text("utf-8")
