"""Figures that hardly anybody means are asked about; what is usual is common practice, no source."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pytest

from pipeline.explain.oddities import Unusual
from pipeline.explain.usual_figures import OF_SEASON, OF_STATION, unusual_of_season, unusual_of_station
from pipeline.inputs.model import Battery, Hours, Season, Station
from pipeline.record.inputs import read_inputs
from pipeline.reports.places import demo_folder


def changed(group: Any, key: str, value: float) -> Any:
    """The group with one dotted key changed."""
    name, _, rest = key.partition(".")
    return dataclasses.replace(group, **{name: changed(getattr(group, name), rest, value) if rest else value})


def season() -> Season:
    return read_inputs(demo_folder() / "season.yaml").season


def station(call: str = "QM7TOR") -> Station:
    inputs = read_inputs(demo_folder() / "season.yaml")
    return next(one for one in (inputs.home, *inputs.partners) if one.call == call)


def test_the_demo_has_usual_figures() -> None:
    inputs = read_inputs(demo_folder() / "season.yaml")
    assert unusual_of_season(inputs.season) == ()
    assert [unusual_of_station(one) for one in (inputs.home, *inputs.partners)] == [()] * 10


@pytest.mark.parametrize(
    ("key", "value", "meant"),
    [
        ("policy.night_cost", 20.0, None),
        ("policy.presence", 0.1, 0.9),
        ("policy.presence", 0.0, 1.0),
        ("policy.hour_cost", 1.0, None),
        ("policy.minimum_sun_separation_deg", 45.0, None),
        ("policy.setup_minutes.arrive", 1, 60.0),
    ],
)
def test_an_unusual_figure_of_a_season(key: str, value: float, meant: float | None) -> None:
    low, high = OF_SEASON[key]
    unit = "hours" if key.endswith("arrive") else ""
    assert unusual_of_season(changed(season(), key, value)) == (Unusual(key, value, low, high, meant, unit),)


@pytest.mark.parametrize("table", [OF_SEASON, OF_STATION])
def test_both_ends_of_what_is_usual_are_usual(table: dict[str, tuple[float, float]]) -> None:
    for key, (low, high) in table.items():
        whole = season() if table is OF_SEASON else station()
        for value in (low, high):
            try:
                made = changed(whole, key, value)
            except ValueError:
                # The reader refuses it for another figure's sake: nothing to be told of it.
                continue
            found = unusual_of_season(made) if table is OF_SEASON else unusual_of_station(made)
            assert key not in [one.key for one in found if isinstance(one, Unusual)]


@pytest.mark.parametrize(
    ("begin", "end", "told"),
    [("23:00", "19:00", 1), ("20:00", "15:00", 1), ("20:00", "14:59", 0), ("19:59", "18:00", 0)],
)
def test_an_evening_with_its_ends_exchanged(begin: str, end: str, told: int) -> None:
    hours = Hours(("mon",), dt.time.fromisoformat(begin), dt.time.fromisoformat(end))
    assert len(unusual_of_station(dataclasses.replace(station(), available=(hours,)))) == told


def test_watt_hours_as_ampere_hours() -> None:
    """2560 Wh at 25.6 V are 100 Ah."""
    battery = Battery(voltage_v=25.6, capacity_ah=2560.0, transmit_a=45.0)
    (one,) = unusual_of_station(dataclasses.replace(station(), battery=battery))
    assert (one.key, one.value, one.meant) == ("battery.capacity_ah", 2560.0, 100.0)  # type: ignore[attr-defined]
    small = dataclasses.replace(battery, capacity_ah=300.0)
    assert unusual_of_station(dataclasses.replace(station(), battery=small)) == ()
