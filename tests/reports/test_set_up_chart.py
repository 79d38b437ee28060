"""The small curve of what each set-up buys: its figures, its marked number, its message."""

import re
from itertools import pairwise

import pytest

from pipeline.outlook.trips import Trips
from pipeline.reports.set_up_chart import set_up_chart
from tests.outlook.some_trips import some_trips


def rows(many: int, chosen: int | None) -> tuple[Trips, ...]:
    return some_trips(*(6.6 - 5.0 / count for count in range(1, many + 1)), chosen=chosen)


@pytest.mark.parametrize(("many", "chosen"), [(1, 1), (2, None), (6, 4), (20, 7), (31, 31)])
def test_figures_stand_inside_and_apart(many: int, chosen: int | None) -> None:
    chart = set_up_chart(rows(many, chosen), 162.0)
    texts = re.findall(r'<text x="([\d.-]+)" y="([\d.-]+)"[^>]*>([^<]+)<', chart)
    counts = [(float(x), int(words)) for x, y, words in texts if float(y) > 55.0]
    assert counts == sorted(counts)
    assert all(4.0 <= x <= 158.0 for x, _ in counts)
    # A figure of three signs at 7.4 pt takes about 11 pt.
    assert all(after - before >= 13.0 for (before, _), (after, _) in pairwise(counts))
    assert chosen is None or chosen in [count for _, count in counts]
    assert len(texts) == 2 * len(counts)
    assert all(0.0 <= float(y) <= 62.0 for _, y, _ in texts)


def test_the_agendas_own_number_is_bold_and_told() -> None:
    chart = set_up_chart(rows(6, 4), 162.0)
    assert re.findall(r'font-weight="600"[^>]*>([^<]+)<', chart) == ["5.3", "4"]
    assert "this agenda has 4 nights</title>" in chart


def test_one_path_a_colour_and_kind_whatever_the_number() -> None:
    assert set_up_chart(rows(31, 9), 162.0).count("<path") == set_up_chart(rows(6, 4), 162.0).count("<path") == 6


def test_without_rows_there_is_no_curve() -> None:
    assert set_up_chart((), 162.0) == ""
