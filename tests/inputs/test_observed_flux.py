"""The observed 10.7 cm flux: both layouts of open daily tables (by their columns, from memory), and what is wrong."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.observed_flux import flux_in
from pipeline.pairs.solar_activity import Activity, activity_on
from pipeline.record.inputs import read_inputs
from tests.inputs.helpers import SEASON, lay_out, swapped

NAMED = """\
fluxdate    fluxtime    fluxjulian    fluxcarrington  fluxobsflux  fluxadjflux  fluxursi
----------  ----------  ------------  --------------  -----------  -----------  --------
20270312    170000      02461477.208  0002295.100     000131.0     000129.0     000116.1
20270312    200000      02461477.333  0002295.105     000142.5     000140.3     000126.3
20270312    230000      02461477.458  0002295.110     000143.0     000140.8     000126.7
20270313    200000      02461478.333  0002295.140     000150.0     000147.7     000132.9
"""
BY_DATE = """\
:Product: daily figures
# year month day flux spots
2027 03 13  150  95
2027 3 12  142  90
2027 03 14  -1  -1
"""


def test_the_middle_reading_of_a_day_counts() -> None:
    """A burst of one hour moves no day: 142.5 stands between 131.0 and 143.0."""
    assert flux_in(NAMED.encode(), "flux.txt") == ((dt.date(2027, 3, 12), 142.5), (dt.date(2027, 3, 13), 150.0))


def test_rows_by_date_in_any_order_and_marks_for_missing_values() -> None:
    assert flux_in(BY_DATE.encode(), "flux.txt") == ((dt.date(2027, 3, 12), 142.0), (dt.date(2027, 3, 13), 150.0))


@pytest.mark.parametrize(
    ("text", "line", "told"),
    [
        ("2027 03 13 150\nnonsense\n", 2, "'nonsense' is no day with its flux; year, month, day and flux are meant"),
        ("2027 13 13 150\n", 1, "is no day with its flux"),
        ("2027 03 13 1e2\n", 1, "is no day with its flux"),
        ("# nothing\n", None, "the file holds no day with a flux"),
        ("2027 03 13 9000\n", None, "the file holds no day with a flux"),
        ("2027 03 13 150\n" * 40_001, None, "there are over 40000 lines"),
    ],
)
def test_a_fault_is_one_sentence(text: str, line: int | None, told: str) -> None:
    with pytest.raises(InputFaults, match=told) as caught:
        flux_in(text.encode(), "flux.txt")
    (fault,) = caught.value.faults
    assert (fault.file, fault.line) == ("flux.txt", line)


def test_a_season_reads_it_and_the_days_value_and_age_are_known(tmp_path: Path) -> None:
    text = swapped(SEASON, "solar_activity: average", "solar_activity: quiet\n  solar_flux_file: flux.txt")
    season = lay_out(tmp_path, season=text)
    with pytest.raises(InputFaults, match=r"flux.txt: there is no file"):
        read_inputs(season)
    (season.parent / "flux.txt").write_text(BY_DATE)
    inputs = read_inputs(season)
    assert "flux.txt" in inputs.files
    assert activity_on(inputs, dt.date(2027, 3, 20)) == Activity(150.0, dt.date(2027, 3, 13))
    # The Sun turns once in 27 days; what is older, or not yet seen, tells nothing.
    assert activity_on(inputs, dt.date(2027, 4, 9)).value == 150.0
    assert activity_on(inputs, dt.date(2027, 4, 10)) == Activity("quiet")
    assert activity_on(inputs, dt.date(2027, 3, 11)) == Activity("quiet")
    assert activity_on(inputs, dt.date(2027, 3, 13)).share < activity_on(inputs, dt.date(2027, 3, 11)).share
