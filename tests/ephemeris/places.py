"""Twenty places and times of 2026 and 2027 (both poles, both hemispheres, the date line), and our own view of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.tracks import (
    Bearing,
    Geocentre,
    bodies_at,
    make_sites,
    see_from_centre,
    see_moon,
    see_sun,
    separation_deg,
)


@dataclass(frozen=True)
class Place:
    """WGS84 degrees and metres, and an instant (UTC)."""

    latitude_deg: float
    longitude_deg: float
    height_m: float
    instant: dt.datetime


def _at(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)  # type: ignore[arg-type, misc]


TWENTY = (
    Place(90.0, 0.0, 0.0, _at(2026, 1, 3, 4, 5, 6)),
    Place(-90.0, 0.0, 2835.0, _at(2026, 2, 12, 13)),
    Place(78.22, 15.65, 30.0, _at(2026, 3, 25, 22, 10)),
    Place(70.0, 25.0, 340.0, _at(2026, 4, 21, 3, 33, 33)),
    Place(-77.85, 166.67, 24.0, _at(2026, 5, 5, 18)),
    Place(-69.0, 39.58, 29.0, _at(2026, 6, 1, 7, 45)),
    Place(64.15, -21.94, 50.0, _at(2026, 6, 15, 12)),
    Place(52.3, 4.9, 2.0, _at(2026, 7, 20, 20, 20, 20)),
    Place(48.14583, 11.625, 500.0, _at(2026, 8, 12, 17, 30)),
    Place(41.7292, -72.7083, 50.0, _at(2026, 9, 9, 9, 9)),
    Place(35.7, 139.7, 40.0, _at(2026, 10, 2, 6)),
    Place(19.8, -155.5, 4205.0, _at(2026, 11, 24, 1, 2, 3)),
    Place(0.0, 0.0, 0.0, _at(2026, 12, 24, 8, 31)),
    Place(-0.2, -78.5, 2850.0, _at(2027, 1, 7, 8, 8)),
    Place(-16.5, 179.99, 10.0, _at(2027, 2, 20, 23, 59, 59)),
    Place(-16.5, -179.99, 10.0, _at(2027, 3, 15, 0)),
    Place(-34.5, -55.8, 212.0, _at(2027, 4, 11, 15)),
    Place(-41.28, 174.75, 100.0, _at(2027, 6, 18, 10, 10)),
    Place(-54.8, -68.3, 20.0, _at(2027, 8, 2, 5)),
    Place(-34.0, 18.5, 200.0, _at(2027, 9, 30, 19, 19, 19)),
)


@dataclass(frozen=True)
class View:
    """What we compute for one place and time, as numbers."""

    azimuth_deg: float
    elevation_deg: float
    range_km: float
    sun_separation_deg: float
    declination_deg: float
    distance_km: float


@lru_cache(maxsize=64)
def our_view(place: Place) -> View:
    """The Moon from a place, by the code under test."""
    _, moon, sun, centre = look(place)
    return View(
        float(moon.azimuth_deg[0]),
        float(moon.elevation_deg[0]),
        float(moon.range_km[0]),
        float(separation_deg(moon, sun)[0]),
        float(centre.declination_deg[0]),
        float(centre.distance_km[0]),
    )


def look(place: Place) -> tuple[Sky, Bearing, Bearing, Geocentre]:
    """Moon and Sun from the place and the Moon from the centre. The instant lies between nodes, where it is hardest."""
    sky = make_sky(place.instant - dt.timedelta(minutes=90), place.instant + dt.timedelta(minutes=30))
    sites = make_sites(sky, place.latitude_deg, place.longitude_deg, place.height_m)
    time = np.array([sky.seconds(place.instant)])
    return sky, see_moon(sky, sites, time), see_sun(sky, sites, time), see_from_centre(bodies_at(sky, time))


def azimuth_difference_deg(first: float, second: float) -> float:
    """Smallest difference of two azimuths, degrees, without sign."""
    return abs((first - second + 180.0) % 360.0 - 180.0)
