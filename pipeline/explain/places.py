"""What a station's place says against its time zone, against home and against its landmarks, as oddities.

Distances on WGS84 by geographiclib. The city of a time zone is that of zone.tab of the IANA time zone database. Limits
are common practice, no source; how far one sees is the Earth of 7/6 radius, as for the eye over land.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from geographiclib.geodesic import Geodesic

from pipeline.explain.copied import copied_oddities
from pipeline.explain.digits import with_two_exchanged
from pipeline.explain.oddities import (
    ClockNotOfPlace,
    LandmarkOdd,
    Odd,
    OddFigure,
    Oddity,
    PlaceAgainstZone,
    TemplateLeft,
    ZoneWithoutSummer,
)
from pipeline.explain.other_units import meant_for
from pipeline.explain.slip_values import Copied, LandmarkDigits
from pipeline.inputs.laying_out import example_station
from pipeline.inputs.locator import locator_of, position_of
from pipeline.inputs.model import Landmark, Position, Station
from pipeline.inputs.zone_of_place import AT_SEA, clock, offsets_min, zone_of, zones_at, zones_open
from pipeline.inputs.zones_said import table

# A zone is seldom wider than this from its city; where another way of writing the place comes so near, that is meant.
FAR_KM, NEAR_KM = 3500.0, 1500.0
SAME_PLACE_KM = 0.05
AT_DISH_KM = 0.03
EARTH_KM, SIGHT_FACTOR = 6371.0, 7.0 / 6.0
# Who sees a landmark stands on a dish's hub, and what is named without a height is no mountain.
EYE_M, USUAL_TOP_M = 2.0, 500.0
HIGH_M = 3500.0
# One sights on what is nearer; a coordinate that comes so near by two digits exchanged is meant.
SIGHTED_KM, MEANT_KM = 30.0, 15.0


def distance_km(one: Position, other: Position) -> float:
    """Along the ground, from one place to another."""
    return _apart_km(one.latitude_deg, one.longitude_deg, other.latitude_deg, other.longitude_deg)


def place_oddities(station: Station, home: Station | None = None, others: Sequence[Station] = ()) -> tuple[Oddity, ...]:
    """What is odd in a station's place, names and landmarks; `home` is another station, or the station itself.

    `others` are stations of which its file may be a copy.
    """
    copied = copied_oddities(station, others)
    is_told = any(isinstance(one, Copied) and "position" in one.keys for one in copied)
    return (
        *_template(station),
        *(() if is_told else _against_zone(station)),
        *_landmarks(station),
        *_too_high(station),
        *(() if is_told else _beside_home(station, home)),
        *copied,
    )


def _apart_km(latitude: float, longitude: float, other_latitude: float, other_longitude: float) -> float:
    return float(Geodesic.WGS84.Inverse(latitude, longitude, other_latitude, other_longitude)["s12"]) / 1000.0


def _template(station: Station) -> Iterator[Oddity]:
    """What still stands there as it was laid out."""
    example = example_station()
    keys = [key for key in ("call", "name", "operator", "email") if getattr(station, key) == getattr(example, key)]
    if station.position == example.position:
        keys.append("position")
    if keys:
        yield TemplateLeft(tuple(keys))


def _against_zone(station: Station) -> Iterator[Oddity]:
    zone, place = station.time_zone, station.position
    if zone is None:
        return
    if zone.startswith("Etc/") or "/" not in zone:
        winter_min, summer_min = offsets_min(zone)
        better = zone_of(place.latitude_deg, place.longitude_deg)
        if not better.startswith(AT_SEA):
            yield ZoneWithoutSummer(zone, winter_min / 60.0 if winter_min == summer_min else None, better)
        return
    city = next(((latitude, longitude) for _, name, latitude, longitude in table() if name == zone), None)
    latitude, longitude = place.latitude_deg, place.longitude_deg
    away = 0.0 if city is None else _apart_km(latitude, longitude, *city)
    if city is None or away < FAR_KM:
        # That of the place itself, before a locator's whole cell is looked at.
        if clock(zone) in map(clock, zones_at(latitude, longitude)):
            return
        could_be = zones_open(latitude, longitude, place.locator)
        if not could_be[0].startswith(AT_SEA) and clock(zone) not in map(clock, could_be):
            yield ClockNotOfPlace(zone, could_be[0], _exchanged_place(place, zone, city))
        return
    others = (
        (Odd.LONGITUDE_SIGN, latitude, -longitude),
        (Odd.LATITUDE_SIGN, -latitude, longitude),
        (Odd.BOTH_SIGNS, -latitude, -longitude),
        *(((Odd.SWAPPED, longitude, latitude),) if abs(longitude) <= 90.0 else ()),
    )
    kind, north, east = min(others, key=lambda one: _apart_km(one[1], one[2], *city))
    if _apart_km(north, east, *city) > NEAR_KM:
        kind, north, east = Odd.FAR_FROM_ZONE, *city
    better = zone_of(latitude, longitude) if kind is Odd.FAR_FROM_ZONE else ""
    exchanged = _exchanged_place(place, zone, city) if better else ""
    yield PlaceAgainstZone(kind, zone, locator_of(latitude, longitude, 6), away, north, east, better, exchanged)


def _exchanged_place(place: Position, zone: str, city: tuple[float, float] | None) -> str:
    """The locator or coordinate that lies in a zone with two of its characters exchanged; empty where none does."""
    ways: list[tuple[str, float, float]] = []
    if place.locator is not None:
        for at in range(0, min(len(place.locator), 4) - 1, 2):
            name = f"{place.locator[:at]}{place.locator[at + 1]}{place.locator[at]}{place.locator[at + 2 :]}"
            ways.append((f"locator {name}", *position_of(name)))
    else:
        north, east = place.latitude_deg, place.longitude_deg
        ways += [(f"latitude_deg {one:.7g}", one, east) for one in with_two_exchanged(north) if abs(one) <= 90.0]
        ways += [(f"longitude_deg {one:.7g}", north, one) for one in with_two_exchanged(east) if abs(one) <= 180.0]
    near = [] if city is None else [(_apart_km(north, east, *city), told) for told, north, east in ways]
    there = {told: (north, east) for told, north, east in ways}
    fitting = [told for away, told in sorted(near) if away < FAR_KM and clock(zone_of(*there[told])) == clock(zone)]
    return next(iter(fitting), "")


def _landmarks(station: Station) -> Iterator[Oddity]:
    for index, mark in enumerate(station.landmarks, 1):
        if mark.latitude_deg is None or mark.longitude_deg is None:
            continue
        place = station.position
        away = _apart_km(place.latitude_deg, place.longitude_deg, mark.latitude_deg, mark.longitude_deg)
        sight = _sight_km(station, mark)
        if away < AT_DISH_KM:
            yield LandmarkOdd(Odd.LANDMARK_AT_DISH, mark.name, away, sight)
        elif away > SIGHTED_KM and (near := _otherwise_written(place, mark.latitude_deg, mark.longitude_deg)):
            meant_km, axes = near
            yield LandmarkDigits(f"landmarks.{index}", mark.name, axes, away, meant_km)
        elif away > sight:
            yield LandmarkOdd(Odd.LANDMARK_OUT_OF_SIGHT, mark.name, away, sight)


def _otherwise_written(
    place: Position, north: float, east: float
) -> tuple[float, tuple[tuple[str, float, float], ...]] | None:
    """How near a landmark stands with one coordinate, or both, written otherwise, and which: key, figure, the other.

    Two digits are exchanged, or a minus sign is lost or too many, or the two stand in each other's place.
    """
    axes = (("latitude_deg", north), ("longitude_deg", east))
    ways: list[tuple[tuple[str, float, float], ...]] = [
        ((key, value, other),)
        for key, value in axes
        for other in (-value, *with_two_exchanged(value))
        if abs(other) <= (90.0 if key == "latitude_deg" else 180.0)
    ]
    if abs(east) <= 90.0:
        ways.append((("latitude_deg", north, east), ("longitude_deg", east, north)))
    found = []
    for way in ways:
        there = dict(axes) | {key: other for key, _, other in way}
        away = _apart_km(place.latitude_deg, place.longitude_deg, there["latitude_deg"], there["longitude_deg"])
        found.append((away, way))
    nearest = min(found)
    return nearest if nearest[0] < MEANT_KM else None


def _sight_km(station: Station, mark: Landmark) -> float:
    """How far the top of a landmark is seen over level ground or sea."""
    top = USUAL_TOP_M if mark.height_m is None else max(mark.height_m, 0.0)
    eye = max(station.position.height_m, 0.0) + EYE_M
    return sum(math.sqrt(2.0 * SIGHT_FACTOR * EARTH_KM * height / 1000.0) for height in (eye, top))


def _too_high(station: Station) -> Iterator[Oddity]:
    height = station.position.height_m
    if height > HIGH_M:
        yield OddFigure(Odd.HEIGHT_GREAT, height, *meant_for("height_m", height, 0.0, HIGH_M))


def _beside_home(station: Station, home: Station | None) -> Iterator[Oddity]:
    if home is None or home.call == station.call:
        return
    if distance_km(home.position, station.position) < SAME_PLACE_KM:
        yield Oddity(Odd.PLACE_OF_HOME)
