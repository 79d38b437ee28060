"""Stations and the Moon by astropy on the installed JPL kernel, for the tests of this room: nothing is fetched."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import numpy.typing as npt
from astropy import units
from astropy.coordinates import EarthLocation, get_body_barycentric, solar_system_ephemeris
from astropy.time import Time, TimeDelta
from astropy.utils import iers

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.timescale import _de421_path
from pipeline.ephemeris.tracks import Sites, make_sites

FloatArray = npt.NDArray[np.float64]
Site = tuple[float, float, float]

LIGHT_KM_PER_S = 299_792.458
# Latitude, longitude (WGS84 degrees), height in metres.
MUNICH: Site = (48.14583, 11.62500, 500.0)
CONNECTICUT: Site = (41.72920, -72.70830, 50.0)
GULF_OF_GUINEA: Site = (0.0, 0.0, 0.0)
SITES = {"JN58": MUNICH, "FN31": CONNECTICUT, "EQ": GULF_OF_GUINEA}
INSTANTS = {
    "E1": dt.datetime(2026, 1, 5, tzinfo=dt.UTC),
    "E2": dt.datetime(2026, 6, 15, 12, tzinfo=dt.UTC),
    "E3": dt.datetime(2026, 10, 2, 6, tzinfo=dt.UTC),
    "E4": dt.datetime(2027, 3, 19, 20, tzinfo=dt.UTC),
}


@contextmanager
def installed_tables() -> Iterator[None]:
    """The kernel and the table of UT1 that are installed."""
    with (
        iers.conf.set_temp("auto_download", False),
        iers.earth_orientation_table.set(iers.IERS_A.open(iers.IERS_A_FILE)),
        solar_system_ephemeris.set(str(_de421_path())),
    ):
        yield


def sky_at(instant: dt.datetime) -> tuple[Sky, FloatArray]:
    """A short sky with the instant between its nodes, where interpolation is worst, and the instant's seconds."""
    sky = make_sky(instant - dt.timedelta(minutes=90), instant + dt.timedelta(minutes=30))
    return sky, np.array([sky.seconds(instant)])


def our_sites(sky: Sky, site: Site) -> Sites:
    """One station as the code under test takes it."""
    return make_sites(sky, *site)


def station_km(site: Site, time: Time) -> FloatArray:
    """A station in geocentric inertial axes (GCRS), (..., 3)."""
    latitude, longitude, height = site
    location = EarthLocation.from_geodetic(longitude * units.deg, latitude * units.deg, height * units.m)
    return np.moveaxis(location.get_gcrs_posvel(time)[0].xyz.to_value(units.km), 0, -1)


def moon_km(time: Time) -> FloatArray:
    """The Moon from the Earth's centre, both at that instant, (..., 3)."""
    vector = get_body_barycentric("moon", time) - get_body_barycentric("earth", time)
    return np.moveaxis(vector.xyz.to_value(units.km), 0, -1)


def later(time: Time, seconds: npt.ArrayLike) -> Time:
    """That many seconds on, without losing digits."""
    return time + TimeDelta(seconds, format="sec")


def two_way_light_time_s(sender: Site, receiver: Site, received: Time) -> FloatArray:
    """Sender at the instant of sending, the Moon at the bounce, receiver at the instant of hearing; iterated."""
    ear = station_km(receiver, received)
    down = np.full(received.shape, 1.3)
    for _ in range(4):
        down = np.linalg.norm(moon_km(later(received, -down)) - ear, axis=-1) / LIGHT_KM_PER_S
    moon = moon_km(later(received, -down))
    up = down
    for _ in range(4):
        up = np.linalg.norm(moon - station_km(sender, later(received, -down - up)), axis=-1) / LIGHT_KM_PER_S
    return down + up
