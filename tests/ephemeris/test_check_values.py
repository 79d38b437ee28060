"""Places and ranges of the Moon at four instants, worked out beforehand with Skyfield 1.55 on DE440 and astropy 8."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.conftest import Outside
from tests.ephemeris.places import Place, azimuth_difference_deg, look, our_view

bar_deg = 0.02
geometric_bar_km = 5.0

MUNICH = (48.14583, 11.625, 500.0)
CONNECTICUT = (41.7292, -72.7083, 50.0)
GULF_OF_GUINEA = (0.0, 0.0, 0.0)
INSTANTS = {
    "E1": dt.datetime(2026, 1, 5, tzinfo=dt.UTC),
    "E2": dt.datetime(2026, 6, 15, 12, tzinfo=dt.UTC),
    "E3": dt.datetime(2026, 10, 2, 6, tzinfo=dt.UTC),
    "E4": dt.datetime(2027, 3, 19, 20, tzinfo=dt.UTC),
}
# Elevation without refraction and azimuth; both programs agreed to 0.001 degree.
PLACES = [
    ("E1", MUNICH, 60.8835, 153.910),
    ("E1", CONNECTICUT, 7.8906, 69.0285),
    ("E1", GULF_OF_GUINEA, 57.1516, 46.706),
    ("E2", MUNICH, 68.9380, 194.080),
    ("E2", CONNECTICUT, 25.1911, 74.855),
    ("E2", GULF_OF_GUINEA, 61.0035, 11.241),
    ("E3", MUNICH, 57.616, 242.239),
    ("E3", CONNECTICUT, 44.860, 90.724),
    ("E4", MUNICH, 51.387, 151.357),
    ("E4", CONNECTICUT, -0.993, None),
]
# Station to Moon when the echo turns round, that is one light time before it is received; Skyfield on DE440.
RANGES_KM = [
    ("E1", MUNICH, 362_688),
    ("E1", CONNECTICUT, 367_352),
    ("E2", MUNICH, 351_514),
    ("E2", CONNECTICUT, 354_718),
    ("E3", MUNICH, 363_981),
    ("E3", CONNECTICUT, 364_859),
    ("E4", MUNICH, 361_658),
    ("E4", CONNECTICUT, 366_727),
]


def test_azimuth_and_elevation(outside: Outside) -> None:
    worst = 0.0
    for epoch, site, elevation_deg, azimuth_deg in PLACES:
        ours = our_view(Place(*site, INSTANTS[epoch]))
        off = abs(ours.elevation_deg - elevation_deg)
        if azimuth_deg is not None:
            off = max(off, azimuth_difference_deg(ours.azimuth_deg, azimuth_deg))
        assert off < bar_deg, (epoch, site)
        worst = max(worst, off)
    outside("Skyfield on DE440", len(PLACES), f"{worst:.2g} degree", "places")


def test_range(outside: Outside) -> None:
    """The station moves by less than 0.6 km against the Moon in the 1.2 s between the two conventions."""
    worst = 0.0
    for epoch, site, range_km in RANGES_KM:
        off = abs(our_view(Place(*site, INSTANTS[epoch])).range_km - range_km)
        assert off < geometric_bar_km, (epoch, site)
        worst = max(worst, off)
    outside("Skyfield on DE440", len(RANGES_KM), f"{worst:.2g} km", "ranges")


@pytest.mark.parametrize(("site", "separation_deg"), [(MUNICH, 6.76), (CONNECTICUT, 7.33)])
def test_sun_separation_near_new_moon(site: tuple[float, float, float], separation_deg: float) -> None:
    """Parallax alone makes the two ends differ by half a degree; Skyfield on DE440."""
    assert our_view(Place(*site, INSTANTS["E2"])).sun_separation_deg == pytest.approx(separation_deg, abs=bar_deg)


def test_beyond_the_nodes_is_refused() -> None:
    sky, *_ = look(Place(*MUNICH, INSTANTS["E1"]))
    with pytest.raises(ValueError, match="outside the period"):
        sky.moon_seen_km([sky.duration_s + 4 * 3600.0])
