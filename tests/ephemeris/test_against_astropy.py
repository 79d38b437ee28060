"""Places of the Moon against astropy, which reads the JPL kernel by jplephem and turns frames by ERFA (no download)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from astropy import units
from astropy.coordinates import (
    TETE,
    AltAz,
    EarthLocation,
    get_body,
    get_body_barycentric,
    solar_system_ephemeris,
)
from astropy.time import Time, TimeDelta
from astropy.utils import iers

from pipeline.ephemeris.timescale import _de421_path
from tests.claims import asserted
from tests.conftest import Outside
from tests.ephemeris.places import TWENTY, Place, our_view

# Sharper than a pointing needs (0.01 degree, 1 km), so that a forgotten light time (0.5 km, 0.0002 degree) shows.
bar_deg = asserted("azimuth, elevation, 20 places and times")
bar_km = asserted("range") / 1000.0
LIGHT_KM_PER_S = 299_792.458


@pytest.fixture(scope="module", autouse=True)
def _offline() -> Iterator[None]:
    """The kernel that is installed and the table of UT1 that is installed; nothing is fetched."""
    with (
        iers.conf.set_temp("auto_download", False),
        iers.earth_orientation_table.set(iers.IERS_A.open(iers.IERS_A_FILE)),
        solar_system_ephemeris.set(str(_de421_path())),
    ):
        yield


def _located(place: Place) -> tuple[Time, EarthLocation]:
    location = EarthLocation.from_geodetic(
        place.longitude_deg * units.deg, place.latitude_deg * units.deg, place.height_m * units.m
    )
    return Time(place.instant), location


def test_azimuth_elevation_and_sun_separation(outside: Outside) -> None:
    """Full apparent places (barycentric light time, aberration) without refraction, at the observer."""
    off_deg, separation_off_deg = [], []
    for place in TWENTY:
        ours = our_view(place)
        time, location = _located(place)
        frame = AltAz(obstime=time, location=location)
        moon, sun = (get_body(body, time, location).transform_to(frame) for body in ("moon", "sun"))
        elevation = np.radians(moon.alt.deg)
        around = (ours.azimuth_deg - moon.az.deg + 180.0) % 360.0 - 180.0
        off_deg.append(float(np.hypot(ours.elevation_deg - moon.alt.deg, around * np.cos(elevation))))
        separation_off_deg.append(abs(ours.sun_separation_deg - float(moon.separation(sun).deg)))
    assert max(off_deg) < bar_deg
    assert max(separation_off_deg) < bar_deg
    outside("astropy", len(TWENTY), f"{max(off_deg):.2g} degree", "places")
    outside("astropy", len(TWENTY), f"{max(separation_off_deg):.2g} degree", "Sun separations")


def test_declination(outside: Outside) -> None:
    """True equator and equinox of date, apparent, from the Earth's centre."""
    off_deg = [
        abs(our_view(place).declination_deg - float(get_body("moon", time).transform_to(TETE(obstime=time)).dec.deg))
        for place, time in ((place, Time(place.instant)) for place in TWENTY)
    ]
    assert max(off_deg) < bar_deg
    outside("astropy", len(TWENTY), f"{max(off_deg):.2g} degree", "declinations")


def test_range(outside: Outside) -> None:
    """In the geocentric frame: Moon minus Earth one light time ago, less the station's place when it receives.

    `get_body(...).distance` is no measure here: its light time is barycentric, and the Earth's own way within it
    changes the distance by up to 38 km.
    """
    off_km = []
    for place in TWENTY:
        time, location = _located(place)
        station = location.get_gcrs_posvel(time)[0].xyz.to_value(units.km)
        delay_s = 1.28
        for _ in range(3):
            then = time - TimeDelta(delay_s, format="sec")
            moon = (get_body_barycentric("moon", then) - get_body_barycentric("earth", then)).xyz.to_value(units.km)
            range_km = float(np.linalg.norm(moon - station))
            delay_s = range_km / LIGHT_KM_PER_S
        off_km.append(abs(our_view(place).range_km - range_km))
    assert max(off_km) < bar_km
    outside("astropy", len(TWENTY), f"{max(off_km):.2g} km", "ranges")
