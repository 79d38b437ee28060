"""A month of moonrise and moonset at the level, geometric horizon against Skyfield's own search."""

from __future__ import annotations

import numpy as np
from skyfield import almanac
from skyfield.api import wgs84

from pipeline.ephemeris.timescale import load_clock, load_kernel
from pipeline.windows.moon_passes import PERIOD_EDGE
from tests.claims import asserted
from tests.conftest import Outside
from tests.windows.skies import passes_between, station, utc

bar_s = asserted("Moonrise and moonset, 324 instants")
START, END = utc(2027, 3, 1), utc(2027, 4, 1)
STATIONS = [
    station("QA1", 48.146, 11.625, height_m=500.0),
    station("QA2", -34.501, -55.803, height_m=212.0),
    station("QA3", 0.0, 179.999),
    station("QA4", 64.15, -21.94, height_m=50.0),
    station("QA5", -41.28, 174.75, height_m=100.0),
    station("QA6", 70.0, 25.0, height_m=340.0),
    station("QA7", -77.85, 166.67, height_m=24.0),
]


def test_a_month_of_risings_and_settings(outside: Outside) -> None:
    clock, (kernel, _) = load_clock().timescale, load_kernel()
    begin, end = clock.from_datetime(START), clock.from_datetime(END)
    sky, passes = passes_between(START, END, STATIONS, refraction=False)
    worst, count = 0.0, 0
    for one, seen in zip(STATIONS, passes, strict=True):
        place = wgs84.latlon(one.position.latitude_deg, one.position.longitude_deg, one.position.height_m)
        observer = kernel["earth"] + place
        for find, ours, rule in (
            (almanac.find_risings, seen.start_s, seen.opened_by),
            (almanac.find_settings, seen.end_s, seen.closed_by),
        ):
            times, crosses = find(observer, kernel["moon"], begin, end, horizon_degrees=0.0)
            # Where the Moon stays up or down all day Skyfield gives its turning point, marked as no crossing.
            theirs = np.array([sky.seconds(t.utc_datetime()) for t, real in zip(times, crosses, strict=True) if real])
            mine = ours[rule != PERIOD_EDGE]
            assert mine.size == theirs.size, one.call
            worst = max(worst, float(np.abs(mine - theirs).max(initial=0.0)))
            count += mine.size
    assert worst < bar_s
    assert count == 324
    outside("Skyfield find_risings, find_settings", count, f"{worst:.2g} s", "instants")
