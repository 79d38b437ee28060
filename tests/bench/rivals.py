"""What a competent user would script instead, with Skyfield and with astropy as their documentation shows.

Windows: rise and set times of each station, intervals intersected. Quantities: azimuth and elevation at both ends each
minute inside the windows, then Doppler, path loss and Sun separation; fewer than ours, so the ratio flatters them.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from pipeline.inputs.model import Station
from tests.bench import scenes

MEAN_MOON_ALBEDO_M2 = 0.065 * math.pi * 1_737_400.0**2


def intersect(first: list[tuple[float, float]], second: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Common stretches of two sorted lists of intervals."""
    found, i, j = [], 0, 0
    while i < len(first) and j < len(second):
        start, end = max(first[i][0], second[j][0]), min(first[i][1], second[j][1])
        if end > start:
            found.append((start, end))
        if first[i][1] < second[j][1]:
            i += 1
        else:
            j += 1
    return found


class WithSkyfield:
    """find_risings and find_settings, then altaz."""

    def __init__(self, length: str) -> None:
        from pathlib import Path

        import skyfield_data
        from skyfield import almanac
        from skyfield.api import load, load_file, wgs84

        self.almanac, self.wgs84 = almanac, wgs84
        self.timescale = load.timescale()
        kernel = load_file(str(Path(skyfield_data.__file__).parent / "data" / "de421.bsp"))
        self.earth, self.moon, self.sun = kernel["earth"], kernel["moon"], kernel["sun"]
        begin, end = scenes.span(length)
        self.begin, self.end = self.timescale.from_datetime(begin), self.timescale.from_datetime(end)

    def observer(self, station: Station) -> Any:
        place = station.position
        return self.earth + self.wgs84.latlon(place.latitude_deg, place.longitude_deg, place.height_m)

    def intervals(self, station: Station) -> list[tuple[float, float]]:
        """Stretches with the Moon above the least elevation, terrestrial-time Julian dates."""
        observer = self.observer(station)
        edges = []
        for search, kind in ((self.almanac.find_risings, 1), (self.almanac.find_settings, 0)):
            times, real = search(observer, self.moon, self.begin, self.end, scenes.MINIMUM_ELEVATION_DEG)
            edges += [(float(t), kind) for t, ok in zip(times.tt, real, strict=True) if ok]
        edges.sort()
        up = observer.at(self.begin).observe(self.moon).apparent().altaz()[0].degrees > scenes.MINIMUM_ELEVATION_DEG
        found, start = [], float(self.begin.tt) if up else None
        for moment, kind in edges:
            if kind == 1:
                start = moment
            elif start is not None:
                found.append((start, moment))
                start = None
        if start is not None:
            found.append((start, float(self.end.tt)))
        return found

    def windows(self, partners: int) -> list[list[tuple[float, float]]]:
        home, *others = [self.intervals(station) for station in scenes.stations(partners + 1)]
        return [intersect(home, other) for other in others]

    def quantities(self, partners: int) -> int:
        """Rows of figures inside the windows, a minute each."""
        places = [self.observer(station) for station in scenes.stations(partners + 1)]
        rows = 0
        for partner, found in zip(places[1:], self.windows(partners), strict=True):
            grid = [np.arange(start, end, 1.0 / 1440.0) for start, end in found]
            if not grid:
                continue
            times = self.timescale.tt_jd(np.concatenate(grid))
            figures = []
            for place in (places[0], partner):
                at = place.at(times)
                seen = at.observe(self.moon).apparent()
                elevation, azimuth, distance = seen.altaz()
                separation = seen.separation_from(at.observe(self.sun).apparent())
                figures.append((azimuth.degrees, elevation.degrees, distance.m, separation.degrees))
            path_m = figures[0][2] + figures[1][2]
            rows += np.column_stack(
                [*figures[0], *figures[1], doppler_hz(path_m), path_loss_db(path_m / 2, path_m / 2)]
            ).shape[0]
        return rows


class WithAstropy:
    """get_body and AltAz on a grid of minutes; edges between two minutes by straight lines."""

    def __init__(self, length: str) -> None:
        import astropy.units as u
        from astropy.time import Time
        from astropy.utils import iers

        iers.conf.auto_download = False
        iers.conf.auto_max_age = None
        self.units = u
        begin, end = scenes.span(length)
        self.start_mjd, self.minutes = Time(begin).mjd, int((end - begin).total_seconds() // 60)
        self.times = Time(self.start_mjd + np.arange(self.minutes + 1) / 1440.0, format="mjd", scale="utc")

    def seen(self, station: Station, times: Any) -> Any:
        from astropy.coordinates import AltAz, EarthLocation, get_body

        place = station.position
        where = EarthLocation(
            lat=place.latitude_deg * self.units.deg,
            lon=place.longitude_deg * self.units.deg,
            height=place.height_m * self.units.m,
        )
        moon = get_body("moon", times, where)
        return moon.transform_to(AltAz(obstime=times, location=where)), where

    def intervals(self, station: Station) -> list[tuple[float, float]]:
        altitude = self.seen(station, self.times)[0].alt.deg - scenes.MINIMUM_ELEVATION_DEG
        minute = np.arange(altitude.size)
        change = np.flatnonzero(np.diff(np.sign(altitude)) != 0)
        edges = minute[change] + altitude[change] / (altitude[change] - altitude[change + 1])
        if altitude[0] > 0:
            edges = np.concatenate([[0.0], edges])
        if edges.size % 2:
            edges = np.concatenate([edges, [float(minute[-1])]])
        return [(float(a), float(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]

    def windows(self, partners: int) -> list[list[tuple[float, float]]]:
        home, *others = [self.intervals(station) for station in scenes.stations(partners + 1)]
        return [intersect(home, other) for other in others]

    def quantities(self, partners: int) -> int:
        from astropy.coordinates import AltAz, get_body
        from astropy.time import Time

        places, rows = scenes.stations(partners + 1), 0
        for partner, found in zip(places[1:], self.windows(partners), strict=True):
            grid = [np.arange(math.ceil(start), end) for start, end in found]
            if not grid:
                continue
            times = Time(self.start_mjd + np.concatenate(grid) / 1440.0, format="mjd", scale="utc")
            figures = []
            for place in (places[0], partner):
                moon, where = self.seen(place, times)
                sun = get_body("sun", times, where).transform_to(AltAz(obstime=times, location=where))
                figures.append(
                    (moon.az.deg, moon.alt.deg, moon.distance.to_value(self.units.m), moon.separation(sun).deg)
                )
            path_m = figures[0][2] + figures[1][2]
            rows += np.column_stack(
                [*figures[0], *figures[1], doppler_hz(path_m), path_loss_db(path_m / 2, path_m / 2)]
            ).shape[0]
        return rows


def doppler_hz(path_m: Any) -> Any:
    """By differences of the path from minute to minute."""
    return -scenes.FREQUENCY_MHZ * 1e6 / 299_792_458.0 * np.gradient(path_m, 60.0)


def path_loss_db(first_m: Any, second_m: Any) -> Any:
    """Bistatic radar equation between isotropic ends."""
    wavelength_m = 299_792_458.0 / (scenes.FREQUENCY_MHZ * 1e6)
    return 10.0 * np.log10((4 * np.pi) ** 3 * first_m**2 * second_m**2 / (MEAN_MOON_ALBEDO_M2 * wavelength_m**2))
