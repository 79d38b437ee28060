"""Places of the Moon against ephem, whose theories (libastro) share nothing with a JPL kernel."""

from __future__ import annotations

import ephem
import numpy as np

from tests.claims import asserted
from tests.conftest import Outside
from tests.ephemeris.places import TWENTY, our_view

bar_deg = asserted("azimuth, elevation again")
bar_km = 0.6  # the ranges of the theory that ephem uses
AU_KM = 149_597_870.7


def test_twenty_places(outside: Outside) -> None:
    place_off_deg, declination_off_deg, separation_off_deg, range_off_km = [], [], [], []
    for place in TWENTY:
        ours = our_view(place)
        observer = ephem.Observer()
        observer.lat, observer.lon = np.radians(place.latitude_deg), np.radians(place.longitude_deg)
        observer.elevation, observer.pressure = place.height_m, 0
        observer.date = place.instant.replace(tzinfo=None)
        moon, sun = ephem.Moon(observer), ephem.Sun(observer)
        elevation = float(moon.alt)
        around = (ours.azimuth_deg - np.degrees(float(moon.az)) + 180.0) % 360.0 - 180.0
        place_off_deg.append(float(np.hypot(ours.elevation_deg - np.degrees(elevation), around * np.cos(elevation))))
        apart = np.degrees(float(ephem.separation((moon.az, moon.alt), (sun.az, sun.alt))))
        separation_off_deg.append(abs(ours.sun_separation_deg - apart))
        # `g_dec` is that of the Earth's centre, `earth_distance` that from the observer.
        declination_off_deg.append(abs(ours.declination_deg - np.degrees(float(moon.g_dec))))
        range_off_km.append(abs(ours.range_km - moon.earth_distance * AU_KM))
    assert max(place_off_deg) < bar_deg
    assert max(declination_off_deg) < bar_deg
    assert max(separation_off_deg) < bar_deg
    assert max(range_off_km) < bar_km
    worst_deg = max(*place_off_deg, *declination_off_deg, *separation_off_deg)
    outside("ephem", len(TWENTY), f"{worst_deg:.2g} degree", "places")
    outside("ephem", len(TWENTY), f"{max(range_off_km):.2g} km", "ranges")
