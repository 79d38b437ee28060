"""A station's tree to a `Station`: place, horizon, hours and equipment, absent figures taken from the band table."""

from __future__ import annotations

import csv
import dataclasses
import hashlib
import io
from typing import Any

from pipeline.inputs import locator, scalars
from pipeline.inputs.bands import band_table
from pipeline.inputs.building import Converter, Failed, Reader, build, converter_for, plainly, shown
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.model import (
    WEEKDAYS,
    Antenna,
    BandEquipment,
    HorizonPoint,
    Hours,
    Landmark,
    Mount,
    Position,
    Station,
)
from pipeline.inputs.yaml_tree import Place, Tree, decode, dotted, read_bytes

SURVEY_COLUMNS = ["azimuth_deg", "elevation_deg"]


@dataclasses.dataclass
class StationRead:
    """What came of one station file: the station where it is whole, the faults, and the hashes of its survey files."""

    tree: Tree
    station: Station | None
    faults: list[Fault]
    files: dict[str, str]


def read_station(tree: Tree) -> StationRead:
    """One station from its tree; every fault is gathered."""
    reader = Reader(tree)
    files: dict[str, str] = {}
    special: dict[str, Converter] = {
        "position": position,
        "horizon": lambda reader, value, place: horizon(reader, value, place, files),
        "mount": mount,
        "available": available,
        "landmarks": lambda reader, value, place: reader.entries(value, place, landmark),
        "bands": bands,
    }
    data = tree.data
    try:
        station = build(reader, Station, data, (), special, internal={"file": tree.file})
    except Failed:
        return StationRead(tree, None, reader.faults, files)
    if reader.faults:
        return StationRead(tree, None, reader.faults, files)
    absent = [key for key in ("time_zone", "available", "horizon") if data.get(key, "") == ""]
    station = dataclasses.replace(station, assumed=tuple(absent + reader.assumed))
    return StationRead(tree, station, [], files)


def with_band(station: Station, band: str) -> Station:
    """The station with that band's equipment; all of it assumed where the file knows none."""
    if band in station.bands:
        return station
    tree = Tree(station.file, {"bands": {band: {}}}, {})
    equipment = bands(Reader(tree), {band: {}}, ("bands",))
    assumed = (*station.assumed, f"bands.{band}")
    return dataclasses.replace(station, bands=station.bands | equipment, assumed=assumed)


def position(reader: Reader, value: Any, place: Place) -> Position:
    """A place by coordinates or by locator; both are taken where they agree."""
    if not isinstance(value, dict):
        raise reader.refuse(place, value, "write {locator: GF25cl, height_m: 212} or latitude_deg and longitude_deg.")
    hint_swapped(reader, value, place)
    keys = {key for key, entry in value.items() if entry != ""}
    coordinates = keys & {"latitude_deg", "longitude_deg"}
    defaults = {} if "height_m" in keys else {"height_m": 0.0}
    if "locator" not in keys:
        if not coordinates:
            unknown = [key for key in value if key not in ("height_m", "latitude_deg", "longitude_deg", "locator")]
            if not unknown:
                reader.note(place, f"{dotted(place)} has no place; give locator, or latitude_deg and longitude_deg.")
                raise Failed()
        return build(reader, Position, value, place, defaults=defaults)
    if coordinates:
        built = build(reader, Position, value, place, defaults=defaults)
        if built.locator and not locator.contains(built.locator, built.latitude_deg, built.longitude_deg):
            there = locator.locator_of(built.latitude_deg, built.longitude_deg, len(built.locator))
            advice = f"latitude_deg and longitude_deg lie in {there}; keep one of the two."
            raise reader.refuse((*place, "locator"), built.locator, advice)
        return dataclasses.replace(built, locator=None)
    try:
        name = reader.scalar(scalars.locator, value["locator"], (*place, "locator"))
    except Failed:
        name = None
    latitude, longitude = locator.position_of(name or "JJ00")
    uncertainty = locator.uncertainty_km(name or "JJ00")
    rest = {key: entry for key, entry in value.items() if key != "locator"}
    centre = {"latitude_deg": latitude, "longitude_deg": longitude, "locator": name, "uncertainty_km": uncertainty}
    built = build(reader, Position, rest, place, defaults=defaults, internal=centre)
    if name is None:
        raise Failed()
    return built


def hint_swapped(reader: Reader, value: dict[str, Any], place: Place) -> None:
    """A latitude beyond the poles beside a longitude that could be one: most likely the two changed places."""
    try:
        latitude = scalars.number(value["latitude_deg"])
        longitude = scalars.number(value["longitude_deg"])
    except (KeyError, TypeError, scalars.Refusal):
        return
    if 90 < abs(latitude) <= 180 and abs(longitude) <= 90:
        where = (*place, "latitude_deg")
        reader.refuse(
            where,
            value["latitude_deg"],
            f"a latitude is -90 to 90 and longitude_deg {longitude:g} would be one: the two look swapped.",
        )
        raise Failed()


def horizon(reader: Reader, value: Any, place: Place, files: dict[str, str]) -> tuple[HorizonPoint, ...]:
    """The skyline: points in the file, or a survey in a CSV file beside it."""
    if isinstance(value, dict):
        unknown = [key for key in value if key != "file"]
        if unknown or not value.get("file"):
            raise reader.refuse(place, value, "a list of points or {file: survey.csv} is meant.")
        return survey(reader, value["file"], (*place, "file"), files)
    if not isinstance(value, list):
        advice = (
            "a list of points is meant, such as {azimuth_deg: 95, elevation_deg: 7.5}; "
            "for one height all round write minimum_elevation_deg."
        )
        raise reader.refuse(place, value, advice)
    points = reader.entries(value, place, converter_for(HorizonPoint))
    return one_height_each(reader, [(point, (*place, index)) for index, point in enumerate(points)])


def one_height_each(reader: Reader, points: list[tuple[HorizonPoint, Place]]) -> tuple[HorizonPoint, ...]:
    """The points without repeated ones; a fault where one azimuth has two elevations. 0 and 360 are one azimuth."""
    first: dict[float, tuple[HorizonPoint, Place]] = {}
    clash = False
    for point, place in points:
        known, where = first.setdefault(point.azimuth_deg % 360.0, (point, place))
        if known.elevation_deg != point.elevation_deg:
            clash = True
            same = "0 and 360 are one azimuth" if known.azimuth_deg != point.azimuth_deg else "keep one of the two"
            reader.note(
                place,
                f"the horizon has two elevations at azimuth {point.azimuth_deg:g}: {known.elevation_deg:g} "
                f"(line {reader.tree.line(where)}) and {point.elevation_deg:g}; {same}.",
            )
    if clash:
        raise Failed()
    return tuple(point for point, _ in first.values())


def survey(reader: Reader, name: Any, place: Place, files: dict[str, str]) -> tuple[HorizonPoint, ...]:
    """A surveyed horizon from a CSV file with the columns azimuth_deg and elevation_deg."""
    name = reader.scalar(scalars.words, name, place)
    try:
        raw = read_bytes(reader.tree.folder / name)
        rows = list(csv.reader(io.StringIO(decode(raw, name), newline="")))
    except InputFaults as faults:
        # One is told: a file that is no table has the same fault in every line.
        raise reader.refuse(place, name, faults.faults[0].message) from None
    except csv.Error:
        raise reader.refuse(place, name, "the file is no CSV table.") from None
    files[name] = hashlib.sha256(raw).hexdigest()
    if [cell.strip() for cell in rows[0]] != SURVEY_COLUMNS:
        message = f"the first line is '{','.join(rows[0])[:60]}'; write azimuth_deg,elevation_deg."
        reader.faults.append(Fault(name, 1, "", message))
        raise Failed()
    data: dict[str, Any] = {"survey": []}
    tree = Tree(name, data, {(): 1})
    for number, row in enumerate(rows[1:], 2):
        if any(cell.strip() for cell in row):
            tree.lines[("survey", len(data["survey"]))] = number
            # A row that is too long or too short is told by its missing or unknown key.
            cells = {key: cell.strip() for key, cell in zip(SURVEY_COLUMNS, row, strict=False)}
            data["survey"].append(cells | {f"column {index + 1}": "" for index in range(2, len(row))})
    inner = Reader(tree)
    try:
        points = inner.entries(data["survey"], ("survey",), converter_for(HorizonPoint))
        return one_height_each(inner, [(point, ("survey", index)) for index, point in enumerate(points)])
    finally:
        reader.faults.extend(inner.faults)


def mount(reader: Reader, value: Any, place: Place) -> Mount:
    """What the mount reaches; an azimuth range has both its ends."""
    built = build(reader, Mount, value, place)
    if (built.azimuth_from_deg is None) != (built.azimuth_to_deg is None):
        have, lack = ("azimuth_from_deg", "azimuth_to_deg")[:: 1 if built.azimuth_to_deg is None else -1]
        reader.note((*place, have), f"{dotted(place)} has {have} but no {lack}; give both, clockwise, or none.")
        raise Failed()
    return built


def available(reader: Reader, value: Any, place: Place) -> tuple[Hours, ...] | str:
    """`always`, or stretches of local time."""
    if isinstance(value, str):
        if value.casefold() == "always":
            return "always"
        raise reader.refuse(place, value, "'always' or a list is meant, such as {days: [fri], from: 18:00, to: 23:30}.")
    return reader.entries(value, place, hours)


def hours(reader: Reader, value: Any, place: Place) -> Hours:
    """One stretch; without `days` it holds on all of them."""
    if isinstance(value, dict) and "days" not in value:
        value = {"days": list(WEEKDAYS)} | value
    if isinstance(value, dict) and value.get("from") in ("24:00", "24.00"):
        raise reader.refuse((*place, "from"), value["from"], "write 00:00 and the days after.")
    built = build(reader, Hours, value, place)
    if built.start == built.until and not str(value["to"]).startswith("24"):
        when = f"{dotted(place)} begins and ends at {built.start:%H:%M}"
        reader.note(place, f"{when}; for all day write from: 00:00, to: 24:00.")
        raise Failed()
    return built


def landmark(reader: Reader, value: Any, place: Place) -> Landmark:
    """Something to sight on: a name with a place or an azimuth."""
    built = build(reader, Landmark, value, place)
    has_place = built.latitude_deg is not None and built.longitude_deg is not None
    half_place = (built.latitude_deg is None) != (built.longitude_deg is None)
    if half_place or not (has_place or built.azimuth_deg is not None):
        reader.note(place, f"{dotted(place)} has no whole place; give latitude_deg and longitude_deg, or azimuth_deg.")
        raise Failed()
    return built


def bands(reader: Reader, value: Any, place: Place) -> dict[str, BandEquipment]:
    """Equipment by band; the names are those of the band table."""
    if not isinstance(value, dict):
        raise reader.refuse(place, value, "a band and its equipment are meant, such as {3cm: {power_w: 40}}.")
    done: dict[str, BandEquipment] = {}
    failed = False
    for key, entry in value.items():
        where = (*place, key)
        try:
            name = scalars.band_name(key)
            if name in done:
                reader.note(where, f"{dotted(where)} stands here twice; keep one of them.")
                raise Failed()
            done[name] = equipment(reader, entry if entry != "" else {}, where, name)
        except scalars.Refusal as refusal:
            reader.note(where, f"unknown band {shown(key)} in {dotted(place)}; {refusal.advice}")
            failed = True
        except Failed:
            failed = True
    if failed:
        raise Failed()
    return done


def equipment(reader: Reader, value: Any, place: Place, band: str) -> BandEquipment:
    """One band's equipment, what is absent taken from the band table."""
    defaults: dict[str, Any] = default_equipment(band)
    special: dict[str, Converter] = {
        "antenna": antenna,
        "frequency_mhz": plainly(lambda text: scalars.frequency(text, band)),
    }
    return build(reader, BandEquipment, value, place, special, defaults)


def default_equipment(band: str) -> dict[str, Any]:
    """The band table's figures as field values."""
    tree = Tree("bands.yaml", band_table()[band].equipment, {})
    whole = build(Reader(tree), BandEquipment, tree.data, ())
    return {name: getattr(whole, name) for name in tree.data}


def antenna(reader: Reader, value: Any, place: Place) -> Antenna:
    """A dish by its diameter or any antenna by its gain, one of the two."""
    built = build(reader, Antenna, value, place)
    if (built.dish_diameter_m is None) == (built.gain_dbi is None):
        reader.note(place, f"{dotted(place)} needs dish_diameter_m or gain_dbi, one of the two.")
        raise Failed()
    extra = "beamwidth_deg" if built.dish_diameter_m is not None else "aperture_efficiency"
    partner = "gain_dbi" if extra == "beamwidth_deg" else "dish_diameter_m"
    if value.get(extra):
        reader.note((*place, extra), f"{dotted((*place, extra))} goes with {partner} only; leave it out.")
        raise Failed()
    if built.dish_diameter_m is not None and not value.get("aperture_efficiency"):
        reader.assumed.append(dotted((*place, "aperture_efficiency")))
    return built
