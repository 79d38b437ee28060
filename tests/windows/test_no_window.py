"""Why a pair has no window: each sentence is said only where its claim is true, checked on the same instants."""

from __future__ import annotations

import re

import numpy as np
import pytest

from pipeline.inputs.model import Station
from pipeline.pairs.equipment import sites_of
from pipeline.windows.moon_passes import find_passes, look_at_moon, overlaps
from pipeline.windows.no_window import azimuth_range, no_window_reason
from pipeline.windows.rules import make_rules
from tests.windows.skies import sky_between, station, utc

START, END = utc(2027, 3, 1), utc(2027, 4, 1)


def reason(home: Station, partner: Station, days: int = 31) -> tuple[str, np.ndarray, np.ndarray]:
    """The sentence for a pair that has no window, with azimuths and elevations (2, n) behind it."""
    sky = sky_between(START, END)
    both = (home, partner)
    rules = make_rules(both)
    look = look_at_moon(sky, sites_of(sky, both), True)
    passes = find_passes(look, rules, 2, 0.0, days * 86400.0)
    assert overlaps(passes[0], passes[1:]).start_s.size == 0, "this pair was meant to have no window"
    time = np.arange(0.0, days * 86400.0, 120.0)
    seen = [look(np.full(time.size, end), time) for end in (0, 1)]
    azimuth, elevation = np.stack([one[0] for one in seen]), np.stack([one[1] for one in seen])
    return no_window_reason((home.call, partner.call), rules, (0, 1), azimuth, elevation), azimuth, elevation


def both_up(elevation: np.ndarray) -> np.ndarray:
    return (elevation >= 0.0).all(axis=0)


def test_never_above_both_horizons() -> None:
    """Antipodes: what is up here is down there, but for refraction and parallax, which the sentence gives."""
    text, _, elevation = reason(station("QA1", 40.0, 10.0), station("QA2", -40.0, -170.0))
    assert text.startswith("the Moon is never above both horizons")
    short = float(re.search(r"(\d+\.\d) degrees below", text).group(1))  # type: ignore[union-attr]
    assert not both_up(elevation).any()
    assert short == pytest.approx(-elevation.min(axis=0).max(), abs=0.051)


def test_never_rises() -> None:
    """Near the pole the Moon stays down for days: Meeus, it keeps south of the equator for half of each month."""
    text, _, elevation = reason(station("QA1", 48.0, 11.0), station("QA2", 89.0, 0.0), days=3)
    assert text == "the Moon never rises at QA2 in this period"
    assert (elevation[1] < 0.0).all()


def ridge(first: float, last: float, top: float) -> list[tuple[float, float]]:
    return [(first - 0.1, 0.0), (first, top), (last, top), (last + 0.1, 0.0)]


def test_behind_the_ridge() -> None:
    """Far apart in longitude, the Moon stands low in the east of home while it is up at the partner."""
    home = station("QA1", 20.0, -70.0, horizon=ridge(40.0, 150.0, 60.0))
    text, azimuth, elevation = reason(home, station("QA2", 20.0, 70.0))
    first, last = (float(value) for value in re.search(r"(\d+) to (\d+) degrees", text).groups())  # type: ignore[union-attr]
    assert text.startswith("the Moon is above both level horizons only while it is behind QA1's horizon at azimuth")
    here = azimuth[0, both_up(elevation)]
    assert first - 0.5 <= here.min() < here.max() <= last + 0.5
    assert here.min() == pytest.approx(first, abs=0.5)
    assert here.max() == pytest.approx(last, abs=0.5)


def test_below_the_minimum() -> None:
    partner = station("QA2", 20.0, 70.0, minimum_elevation_deg=60.0)
    text, _, elevation = reason(station("QA1", 20.0, -70.0), partner)
    assert text == (
        "the Moon is above both level horizons only while it is below QA2's minimum elevation of 60 degrees"
    )
    assert both_up(elevation).any()
    assert elevation[1, both_up(elevation)].max() < 60.0


def test_higher_than_the_mount_reaches() -> None:
    """Twins under the Moon's path for an hour, when it stands high."""
    home = station("QA1", 0.0, 0.0, minimum_elevation_deg=60.0)
    partner = station("QA2", 0.0, 1.0, maximum_elevation_deg=40.0)
    text, _, _ = reason(home, partner)
    # The mount alone does not explain all of it, and no rule of one end does: so the sentence is about home's hours.
    assert text == "whenever QA1 sees the Moon, it is higher than QA2's mount reaches"


def test_outside_the_mount_stops() -> None:
    """A mount that faces north, in the northern hemisphere."""
    home = station("QA1", 60.0, 0.0, stops=(320.0, 20.0))
    text, azimuth, elevation = reason(home, station("QA2", 30.0, 0.0), days=2)
    first, last = (float(value) for value in re.search(r"azimuth (\d+) to (\d+) degrees", text).groups())  # type: ignore[union-attr]
    assert "outside QA1's mount's reach" in text or "outside the mount" in text
    here = azimuth[0, both_up(elevation)]
    assert here.min() == pytest.approx(first, abs=0.5)
    assert here.max() == pytest.approx(last, abs=0.5)


def test_two_rules_together_are_both_told() -> None:
    """Neither the ridge nor the minimum explains all of the time: the sentence names both."""
    home = station("QA1", 20.0, -70.0, horizon=ridge(30.0, 110.0, 80.0), minimum_elevation_deg=35.0)
    text, azimuth, elevation = reason(home, station("QA2", 20.0, 70.0))
    here = both_up(elevation)
    behind = np.interp(azimuth[0, here], [29.9, 30.0, 110.0, 110.1], [0.0, 80.0, 80.0, 0.0]) > elevation[0, here]
    low = elevation[0, here] < 35.0
    assert (behind | low).all()
    assert not behind.all()
    assert not low.all()
    assert "horizon at azimuth" in text
    assert "minimum elevation" in text
    assert " or " in text


def test_a_window_of_the_night_before_explains_nothing() -> None:
    """At the first instants both ends see the Moon, in a window that belongs to the night before."""
    rules = make_rules((station("QA1"), station("QA2", minimum_elevation_deg=50.0)))
    azimuth = np.array([[10.0, 20.0, 30.0], [10.0, 20.0, 30.0]])
    later = no_window_reason(("QA1", "QA2"), rules, (0, 1), azimuth, np.array([[60.0, 10.0, -5.0], [60.0, 10.0, 9.0]]))
    assert later.endswith("below QA2's minimum elevation of 50 degrees")
    alone = no_window_reason(("QA1", "QA2"), rules, (0, 1), azimuth, np.array([[60.0, -1.0, -5.0], [60.0, 10.0, 9.0]]))
    assert alone == "the only window of this period began before its first night"


@pytest.mark.parametrize(
    ("azimuths", "expected"),
    [([95.0, 120.0, 100.0], (95.0, 120.0)), ([350.0, 10.0, 0.0], (350.0, 10.0)), ([180.0], (180.0, 180.0))],
)
def test_shortest_arc(azimuths: list[float], expected: tuple[float, float]) -> None:
    assert azimuth_range(np.array(azimuths)) == expected
