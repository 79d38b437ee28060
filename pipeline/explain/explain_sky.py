"""Lines of an explanation that hold whether or not the Moon is up: where, when, and Moon and Sun from each end.

From both ends as the plan sees them; formulas stand in `ephemeris`.
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from pipeline.ephemeris.tracks import Geocentre
from pipeline.explain.explanation import Line, Section, is_assumed
from pipeline.explain.remarks import BelowHorizon
from pipeline.inputs.model import Station
from pipeline.link.path_loss import moon_disc_deg
from pipeline.pairs.ends import PairEnd
from pipeline.record.inputs import Inputs

STATION_FILE = "station file"
TOPOCENTRIC = "WGS84 east-north-up; geocentric light time"
REFRACTION = "ITU-R P.834-9, eq. 14"
TERRAIN = "elevation tiles, ITU-R P.834"


def sky_sections(
    inputs: Inputs, home: PairEnd, partner: PairEnd, centre: Geocentre, instant: dt.datetime, kernel: str
) -> list[Section]:
    """Place and time; Moon and Sun at home; Moon and Sun at the partner."""
    return [
        _place_and_time(inputs, home, partner, centre, instant, kernel),
        *(_seen_from(end) for end in (home, partner)),
    ]


def _place_and_time(
    inputs: Inputs, home: PairEnd, partner: PairEnd, centre: Geocentre, instant: dt.datetime, kernel: str
) -> Section:
    lines = [Line("time", f"{instant:%Y-%m-%d %H:%M:%S}", "UTC")]
    for end in (home, partner):
        call, zone = end.station.call, end.station.time_zone
        if zone:
            there = instant.astimezone(ZoneInfo(zone))
            lines.append(Line(f"time at {call}", f"{there:%Y-%m-%d %H:%M:%S}", "", zone, "time-zone database"))
    lines += [_place(end.station) for end in (home, partner)]
    for end in (home, partner):
        own = end.equipment.frequency_mhz is not None
        source = STATION_FILE if own else _frequency_source(inputs, end, inputs.bands[0])
        lines.append(
            Line(
                f"{end.station.call} transmits on",
                end.transmit_mhz,
                "MHz",
                "",
                source,
                not own and source == "band table",
            )
        )
    source = f"{kernel}; IAU precession and nutation; centre of the Earth"
    lines += [
        Line("declination", float(centre.declination_deg[0]), "deg", "true equator of date", source),
        Line("distance", float(centre.distance_km[0]), "km", "centre to centre", source),
        Line("lit fraction", float(centre.lit_fraction[0]), "", "(1 + cos phase angle) / 2", "Meeus, chapter 48"),
        Line(
            "Moon ahead of the Sun",
            float(centre.elongation_deg[0]),
            "deg",
            "ecliptic longitudes: 0 new, 180 full",
            source,
        ),
    ]
    return Section("Place and time", tuple(lines))


def _frequency_source(inputs: Inputs, end: PairEnd, band: str) -> str:
    """Where the pair's frequency comes from, as `pair_frequency_mhz` takes it."""
    season = inputs.season
    if end.frequency_mhz == season.frequency_mhz and "frequency_mhz" not in season.assumed:
        return "season file"
    return "home's station file" if end.frequency_mhz == inputs.home.bands[band].frequency_mhz else "band table"


def _place(station: Station) -> Line:
    place = station.position
    north = f"{abs(place.latitude_deg):.4f} {'north' if place.latitude_deg >= 0 else 'south'}"
    east = f"{abs(place.longitude_deg):.4f} {'east' if place.longitude_deg >= 0 else 'west'}"
    formula = f"from locator {place.locator}, good to {place.uncertainty_km:.0f} km" if place.locator else "WGS84"
    return Line(
        f"{station.call} at",
        f"{north}, {east}, {place.height_m:.0f} m",
        "",
        formula,
        STATION_FILE,
        is_assumed(station, "position.height_m"),
    )


def _seen_from(end: PairEnd) -> Section:
    moon, sun = end.seen.moon, end.seen.sun
    apparent = float(end.seen.apparent_elevation_deg[0])
    clearance = float(end.clearance_deg[0])
    surveyed = not is_assumed(end.station, "horizon")
    skyline = "straight lines between surveyed points" if surveyed else "flat: no survey"
    skyline_source = STATION_FILE
    if end.station.terrain is not None:
        skyline, skyline_source = "highest ray from ground, Earth of 4/3 its radius", TERRAIN
    lines = (
        Line("Moon azimuth", float(moon.azimuth_deg[0]), "deg", "true north through east", TOPOCENTRIC),
        Line("Moon elevation, geometric", float(moon.elevation_deg[0]), "deg", "without refraction", TOPOCENTRIC),
        Line(
            "refraction",
            float(end.seen.refraction_deg[0]),
            "deg",
            "1 / (1.728 + 0.5411 e + 0.03723 e^2 + height terms)",
            REFRACTION,
        ),
        Line("Moon elevation, apparent", apparent, "deg", "geometric + refraction"),
        Line("horizon below the Moon", apparent - clearance, "deg", skyline, skyline_source, not surveyed),
        Line("clearance", clearance, "deg", "apparent elevation - horizon"),
        Line("minimum elevation", end.station.minimum_elevation_deg, "deg", "a wish, not ground", STATION_FILE),
        Line("range", float(moon.range_km[0]), "km", "station to the Moon's centre", TOPOCENTRIC),
        Line(
            "Moon diameter",
            float(moon_disc_deg(moon.range_km)[0]),
            "deg",
            "2 arcsin(1737.4 km / range)",
            "IAU mean radius (Archinal and others 2018)",
        ),
        Line("Sun azimuth", float(sun.azimuth_deg[0]), "deg", "true north through east", TOPOCENTRIC),
        Line("Sun elevation, geometric", float(sun.elevation_deg[0]), "deg", "without refraction", TOPOCENTRIC),
        Line("Sun to Moon", float(end.seen.sun_separation_deg[0]), "deg", "angle between the centres", TOPOCENTRIC),
    )
    note = None if apparent >= 0.0 else BelowHorizon(end.station.call)
    return Section(f"Moon and Sun at {end.station.call}", lines, note)
