"""The table of a skyline as spreadsheets and instruments leave it: one answer for each habit, and no fault hidden."""

from __future__ import annotations

import math

import pytest

from pipeline.inputs.survey_table import is_of_units, read_survey, slope_deg

HEAD = "azimuth_deg,elevation_deg\n"


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("azimuth_deg;elevation_deg\n0;3\n90;1,5\n", [["0", "3"], ["90", "1.5"]]),
        ("azimuth_deg\televation_deg\n0\t3\n\n90\t1,5\n", [["0", "3"], ["90", "1.5"]]),
        (HEAD + "0,3\n90,1.5\n", [["0", "3"], ["90", "1.5"]]),
        ("azimuth_deg;elevation_deg\n0°;3 °\n90°;1,5°\n", [["0", "3"], ["90", "1.5"]]),
    ],
)
def test_tables_are_taken_as_rosters_are(text: str, rows: list[list[str]]) -> None:
    found = read_survey(text, "survey.csv")
    assert ([cells for _, cells in found.rows], found.faults) == (rows, [])


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("azimuth_deg;elevation_deg\nN;3\nNE;2\nE;1,5\nWNW;4\n",
         ["line 2: azimuth_deg of lines 2 to 5, N, NE, E, WNW, as points of the compass; from true north in degrees: "
          "0, 45, 90, 292.5."]),
        ("0,3.0\n75,5.5\n",
         ["line 1: the table begins with a point, '0,3.0'; put a line azimuth_deg,elevation_deg above it."]),
        ("Azimut;Winkel\nN;2\n90;4 %\n",
         ["line 1: the first line is 'Azimut;Winkel'; write azimuth_deg;elevation_deg.",
          "line 2: azimuth_deg of this line, N, as points of the compass; from true north in degrees: 0.",
          "line 3: elevation_deg of this line, 4 %, as slopes in percent; in degrees: 2.3."]),
        ("Our skyline\nazimuth_deg,elevation_deg\n0,3\n",
         ["line 1: this line stands above azimuth_deg,elevation_deg, the first being 'Our skyline'; the names are the "
          "first line of a survey."]),
        ("elevation_deg,azimuth_deg,note\n3,0,oak\n5,200,\n",
         ["line 1: the first line of a survey is azimuth_deg,elevation_deg: the azimuth stands first; take out note, "
          "and so in each line."]),
        (HEAD + "deg,deg\n0,3\n", ["line 2: the row holds units, not a point; take it out."]),
        (HEAD + "0,3\n90,1,5\n12,5,4,5\n",
         ["line 3: the row has 3 cells, for a decimal comma parts a number in two; write 90,1.5.",
          "line 4: the row has 4 cells, for a decimal comma parts a number in two; write 12.5,4.5."]),
        (HEAD + "3,0\n5,90\n2,270\n",
         ["line 2: the columns stand in each other's place; write the azimuth first: 0,3, and so in each line."]),
    ],
)  # fmt: skip
def test_each_habit_has_one_answer(text: str, told: list[str]) -> None:
    assert [str(one).removeprefix("survey.csv, ") for one in read_survey(text, "survey.csv").faults] == told


def test_a_slope_is_an_angle_by_its_arctangent() -> None:
    for percent in (7, 9, 12, 100):
        assert float(slope_deg(f"{percent} %") or 0) == pytest.approx(math.degrees(math.atan2(percent, 100)), abs=0.05)
    assert (slope_deg("7"), slope_deg("7,5%")) == (None, "4.3")


def test_a_row_of_units() -> None:
    assert is_of_units(["", "m", "", "W"])
    assert not is_of_units(["QM7TOR", "m"])
    assert not is_of_units(["", ""])
