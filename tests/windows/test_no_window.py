"""Why a pair has no window: each cause is given only where its claim is true, checked on the same instants."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.inputs.model import Station
from pipeline.windows.moon_passes import find_passes, look_at_moon, overlaps
from pipeline.windows.no_window import Hidden, NoWindow, NoWindowKind, azimuth_range, why_no_window
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_AZIMUTH, MOUNT_ELEVATION, make_rules
from pipeline.windows.scene import sites_of
from tests.windows.skies import sky_between, station, utc

START, END = utc(2027, 3, 1), utc(2027, 4, 1)


def cause(home: Station, partner: Station, days: int = 31) -> tuple[NoWindow, np.ndarray, np.ndarray]:
    """The cause for a pair that has no window, with azimuths and elevations (2, n) behind it."""
    sky = sky_between(START, END)
    both = (home, partner)
    rules = make_rules(both)
    look = look_at_moon(sky, sites_of(sky, both), True)
    passes = find_passes(look, rules, 2, 0.0, days * 86400.0)
    assert overlaps(passes[0], passes[1:]).start_s.size == 0, "this pair was meant to have no window"
    time = np.arange(0.0, days * 86400.0, 120.0)
    seen = [look(np.full(time.size, end), time) for end in (0, 1)]
    azimuth, elevation = np.stack([one[0] for one in seen]), np.stack([one[1] for one in seen])
    return why_no_window(rules, (0, 1), azimuth, elevation), azimuth, elevation


def both_up(elevation: np.ndarray) -> np.ndarray:
    return (elevation >= 0.0).all(axis=0)


def test_never_above_both_horizons() -> None:
    """Antipodes: what is up here is down there, but for refraction and parallax, which the figure gives."""
    found, _, elevation = cause(station("QA1", 40.0, 10.0), station("QA2", -40.0, -170.0))
    assert found.kind is NoWindowKind.NEVER_ABOVE_BOTH
    assert not both_up(elevation).any()
    assert found.below_horizon_deg == pytest.approx(-elevation.min(axis=0).max())


def test_never_rises() -> None:
    """Near the pole the Moon stays down for days: Meeus, it keeps south of the equator for half of each month."""
    found, _, elevation = cause(station("QA1", 48.0, 11.0), station("QA2", 89.0, 0.0), days=3)
    assert found == NoWindow(NoWindowKind.NEVER_RISES, "partner")
    assert (elevation[1] < 0.0).all()


def ridge(first: float, last: float, top: float) -> list[tuple[float, float]]:
    return [(first - 0.1, 0.0), (first, top), (last, top), (last + 0.1, 0.0)]


def test_behind_the_ridge() -> None:
    """Far apart in longitude, the Moon stands low in the east of home while it is up at the partner."""
    home = station("QA1", 20.0, -70.0, horizon=ridge(40.0, 150.0, 60.0))
    found, azimuth, elevation = cause(home, station("QA2", 20.0, 70.0))
    (hidden,) = found.hidden_by
    assert (found.kind, found.end, hidden.rule) == (NoWindowKind.ALWAYS_HIDDEN, "home", HORIZON)
    here = azimuth[0, both_up(elevation)]
    assert here.min() == pytest.approx(hidden.azimuth_from_deg)
    assert here.max() == pytest.approx(hidden.azimuth_to_deg)


def test_below_the_minimum() -> None:
    partner = station("QA2", 20.0, 70.0, minimum_elevation_deg=60.0)
    found, _, elevation = cause(station("QA1", 20.0, -70.0), partner)
    (hidden,) = found.hidden_by
    assert (found.kind, found.end, hidden.rule) == (NoWindowKind.ALWAYS_HIDDEN, "partner", MINIMUM_ELEVATION)
    assert hidden.minimum_elevation_deg == 60.0
    assert both_up(elevation).any()
    assert elevation[1, both_up(elevation)].max() < 60.0


def test_higher_than_the_mount_reaches() -> None:
    """Twins under the Moon's path for an hour, when it stands high."""
    home = station("QA1", 0.0, 0.0, minimum_elevation_deg=60.0)
    partner = station("QA2", 0.0, 1.0, maximum_elevation_deg=40.0)
    found, _, _ = cause(home, partner)
    # The mount alone does not explain all of it, and no rule of one end does: so the cause is about home's hours.
    assert (found.kind, found.end) == (NoWindowKind.HIDDEN_WHILE_HOME_SEES, "partner")
    assert [hidden.rule for hidden in found.hidden_by] == [MOUNT_ELEVATION]


def test_outside_the_mount_stops() -> None:
    """A mount that faces north, in the northern hemisphere."""
    home = station("QA1", 60.0, 0.0, stops=(320.0, 20.0))
    found, azimuth, elevation = cause(home, station("QA2", 30.0, 0.0), days=2)
    (hidden,) = found.hidden_by
    assert (found.end, hidden.rule) == ("home", MOUNT_AZIMUTH)
    here = azimuth[0, both_up(elevation)]
    assert here.min() == pytest.approx(hidden.azimuth_from_deg)
    assert here.max() == pytest.approx(hidden.azimuth_to_deg)


def test_two_rules_together_are_both_told() -> None:
    """Neither the ridge nor the minimum explains all of the time: the cause holds both."""
    home = station("QA1", 20.0, -70.0, horizon=ridge(30.0, 110.0, 80.0), minimum_elevation_deg=35.0)
    found, azimuth, elevation = cause(home, station("QA2", 20.0, 70.0))
    here = both_up(elevation)
    behind = np.interp(azimuth[0, here], [29.9, 30.0, 110.0, 110.1], [0.0, 80.0, 80.0, 0.0]) > elevation[0, here]
    low = elevation[0, here] < 35.0
    assert (behind | low).all()
    assert not behind.all()
    assert not low.all()
    assert {hidden.rule for hidden in found.hidden_by} == {HORIZON, MINIMUM_ELEVATION}


def test_a_window_of_the_night_before_explains_nothing() -> None:
    """At the first instants both ends see the Moon, in a window that belongs to the night before."""
    rules = make_rules((station("QA1"), station("QA2", minimum_elevation_deg=50.0)))
    azimuth = np.array([[10.0, 20.0, 30.0], [10.0, 20.0, 30.0]])
    later = why_no_window(rules, (0, 1), azimuth, np.array([[60.0, 10.0, -5.0], [60.0, 10.0, 9.0]]))
    assert later.end == "partner"
    assert later.hidden_by == (Hidden(MINIMUM_ELEVATION, 20.0, 20.0, 50.0),)
    alone = why_no_window(rules, (0, 1), azimuth, np.array([[60.0, -1.0, -5.0], [60.0, 10.0, 9.0]]))
    assert alone == NoWindow(NoWindowKind.BEFORE_FIRST_NIGHT)


@pytest.mark.parametrize(
    ("azimuths", "expected"),
    [([95.0, 120.0, 100.0], (95.0, 120.0)), ([350.0, 10.0, 0.0], (350.0, 10.0)), ([180.0], (180.0, 180.0))],
)
def test_shortest_arc(azimuths: list[float], expected: tuple[float, float]) -> None:
    assert azimuth_range(np.array(azimuths)) == expected
