"""Delay and Doppler against two-way light times by astropy on a JPL kernel, and against values worked out before."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from astropy.time import Time

from pipeline.link.doppler import EchoPath, echo_path
from tests.claims import asserted
from tests.conftest import Outside
from tests.link.two_way import INSTANTS, SITES, Site, installed_tables, later, our_sites, sky_at, two_way_light_time_s

FREQUENCY_MHZ = 10_368.0
bar_hz = asserted("Doppler at 10.4 GHz, 42 paths")
own_bar_hz, between_bar_hz = 1.0, 2.0
delay_bar_s = 1e-5
astropy_delay_bar_s = 4e-10
astropy_rate_bar_hz_per_s = 1e-4

# Skyfield 1.55 on DE440, light time iterated in the geocentric frame: sender, receiver, delay s, shift Hz, rate Hz/s.
WORKED_OUT = [
    ("E1", "JN58", "JN58", 2.419597, 370.5, -1.336),
    ("E1", "FN31", "FN31", 2.450711, 17211.0, 0.218),
    ("E1", "EQ", "EQ", 2.420998, 8470.3, -1.847),
    ("E1", "JN58", "FN31", 2.435153, 8791.7, -0.559),
    ("E1", "FN31", "JN58", 2.435155, 8789.8, -0.559),
    ("E2", "JN58", "JN58", 2.345047, -2634.8, -1.291),
    ("E2", "FN31", "FN31", 2.366423, 19144.3, -0.276),
    ("E2", "EQ", "EQ", 2.347477, 2095.6, -1.915),
    ("E2", "JN58", "FN31", 2.355734, 8255.4, -0.784),
    ("E3", "JN58", "JN58", 2.428219, -9906.4, -1.091),
    ("E3", "FN31", "FN31", 2.434075, 16113.9, -0.870),
    ("E3", "EQ", "EQ", 2.429087, -9750.5, -1.800),
    ("E3", "JN58", "FN31", 2.431145, 3103.9, -0.981),
    ("E4", "JN58", "JN58", 2.412720, 5305.3, -1.374),
    ("E4", "EQ", "EQ", 2.410078, 14495.8, -1.867),
]
# More places for the rigorous comparison: high north and south, the date line, a mountain.
TROMS: Site = (69.65, 18.96, 100.0)
RIVER_PLATE: Site = (-34.5, -55.8, 212.0)
FIJI: Site = (-16.5, 179.99, 10.0)
MAUNA: Site = (19.8, -155.5, 4205.0)
DAYS = [dt.datetime(2026, 2, 14, 3, 17, 9), dt.datetime(2026, 8, 30, 21, 40), dt.datetime(2027, 3, 9, 14, 5, 30)]
PATHS = [
    (TROMS, RIVER_PLATE),
    (RIVER_PLATE, TROMS),
    (FIJI, MAUNA),
    (MAUNA, MAUNA),
    (SITES["FN31"], SITES["JN58"]),
    (SITES["EQ"], FIJI),
]


def _ours(sender: Site, receiver: Site, instant: dt.datetime) -> EchoPath:
    sky, time = sky_at(instant)
    return echo_path(sky, our_sites(sky, sender), our_sites(sky, receiver), time)


def test_against_two_way_light_times_by_astropy(outside: Outside) -> None:
    """Frames by ERFA and UT1 by the IERS table, the Moon by jplephem; the light time differenced over 20 s and over 10.

    Both together leave nothing of its third derivative (Richardson), which is 0.003 Hz over 20 s. Whether the Moon is
    up plays no part: the light-time equation does not know the horizon.
    """
    off_hz, off_s, off_hz_per_s = [], [], []
    step_s = 5.0
    with installed_tables():
        for instant in [*(day.replace(tzinfo=dt.UTC) for day in DAYS), *INSTANTS.values()]:
            times = later(Time(instant), step_s * np.arange(-2, 3))
            for sender, receiver in PATHS:
                delay = two_way_light_time_s(sender, receiver, times)
                ours = _ours(sender, receiver, instant)
                near, wide = (delay[3] - delay[1]) / (2 * step_s), (delay[4] - delay[0]) / (4 * step_s)
                shift_hz = -FREQUENCY_MHZ * 1e6 * (4 * near - wide) / 3
                rate_hz_per_s = -FREQUENCY_MHZ * 1e6 * (delay[4] - 2 * delay[2] + delay[0]) / (2 * step_s) ** 2
                off_hz.append(abs(float(ours.shift_hz(FREQUENCY_MHZ)[0]) - shift_hz))
                off_hz_per_s.append(abs(float(ours.shift_rate_hz_per_s(FREQUENCY_MHZ)[0]) - rate_hz_per_s))
                off_s.append(abs(float(ours.delay_s[0]) - delay[2]))
    assert max(off_hz) < bar_hz
    assert max(off_hz_per_s) < astropy_rate_bar_hz_per_s
    assert max(off_s) < astropy_delay_bar_s
    assert len(off_hz) == 42
    outside("astropy", len(off_hz), f"{max(off_hz):.2g} Hz at 10.4 GHz", "Doppler shifts")
    outside("astropy", len(off_s), f"{max(off_s):.2g} s", "echo delays")


def test_worked_out_shifts(outside: Outside) -> None:
    worst = 0.0
    for epoch, sender, receiver, delay_s, shift_hz, rate_hz_per_s in WORKED_OUT:
        ours = _ours(SITES[sender], SITES[receiver], INSTANTS[epoch])
        off = abs(float(ours.shift_hz(FREQUENCY_MHZ)[0]) - shift_hz)
        assert off < (own_bar_hz if sender == receiver else between_bar_hz), (epoch, sender, receiver)
        assert float(ours.delay_s[0]) == pytest.approx(delay_s, abs=delay_bar_s)
        assert float(ours.shift_rate_hz_per_s(FREQUENCY_MHZ)[0]) == pytest.approx(rate_hz_per_s, abs=0.003)
        worst = max(worst, off)
    outside("Skyfield on DE440", len(WORKED_OUT), f"{worst:.2g} Hz at 10.4 GHz", "Doppler shifts")


def test_moon_a_degree_below_the_horizon() -> None:
    """Skyfield on DE440: the formula goes on where the Moon has set."""
    ours = _ours(SITES["FN31"], SITES["FN31"], INSTANTS["E4"])
    assert float(ours.shift_hz(FREQUENCY_MHZ)[0]) == pytest.approx(21108.2, abs=own_bar_hz)


def test_shift_grows_with_the_frequency() -> None:
    """The shift is a ratio: 10,368 MHz is 8 times 1296 and 72 times 144."""
    ours = _ours(SITES["JN58"], SITES["FN31"], INSTANTS["E1"])
    assert ours.shift_hz(1296.0) * 8 == pytest.approx(ours.shift_hz(10_368.0), rel=1e-12)
    assert ours.shift_hz(144.0) * 72 == pytest.approx(ours.shift_hz(10_368.0), rel=1e-12)


def test_shift_and_rate_are_slopes() -> None:
    """Of the delay and of the shift, by differences: over 10 s the third derivatives leave 0.001 Hz and nothing."""
    sky, time = sky_at(INSTANTS["E2"])
    ends = our_sites(sky, SITES["JN58"]), our_sites(sky, SITES["FN31"])
    before, now, after = (echo_path(sky, *ends, time + step_s) for step_s in (-5.0, 0.0, 5.0))
    slope_hz = -(after.delay_s - before.delay_s) / 10.0 * FREQUENCY_MHZ * 1e6
    bend_hz_per_s = (after.shift_hz(FREQUENCY_MHZ) - before.shift_hz(FREQUENCY_MHZ)) / 10.0
    assert now.shift_hz(FREQUENCY_MHZ) == pytest.approx(slope_hz, abs=0.002)
    assert now.shift_rate_hz_per_s(FREQUENCY_MHZ) == pytest.approx(bend_hz_per_s, abs=2e-5)
