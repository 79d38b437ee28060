"""A new user's folder: a station file with every key explained and a season, with what is known of home filled in.

What is given stands once, in the station's file; the season names that file. What is not given stays an example, or is
left out where the program has a usual figure for it.
"""

from __future__ import annotations

import dataclasses
import json
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.inputs.bands import band_table
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.line_shapes import LAYOUT
from pipeline.inputs.model import Station
from pipeline.inputs.reading import folder_files
from pipeline.inputs.scalars import Refusal, band_name
from pipeline.inputs.station import read_station
from pipeline.inputs.writing import as_text, checked_station, who_and_where, write_all, zones_left_open
from pipeline.inputs.yaml_tree import ABSENT, load_tree, printable
from pipeline.inputs.zone_of_place import is_plain, zones_told

STATION, SEASON = "my-station.yaml", "season.yaml"
EXAMPLE_BAND = "3cm"
PLAIN = re.compile(r"[^\W_][\w .@/+-]*")


@dataclass(frozen=True)
class NewHome:
    """What is known of the home station, as it was typed; None where it was not."""

    call: str | None = None
    locator: str | None = None
    latitude_deg: str | None = None
    longitude_deg: str | None = None
    height_m: str | None = None
    dish_diameter_m: str | None = None
    power_w: str | None = None
    operator: str | None = None
    email: str | None = None
    name: str | None = None
    time_zone: str | None = None
    band: str | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing was typed at all: then the example is laid out as it is."""
        return not any(vars(self).values())

    @property
    def tree(self) -> dict[str, Any]:
        """The station file's tree."""
        equipment = {"antenna": {"dish_diameter_m": self.dish_diameter_m}, "power_w": self.power_w}
        bands = {self.band or EXAMPLE_BAND: equipment} if as_text(equipment) else {}
        return {**who_and_where(self), "call": self.call or "", "bands": bands}


@cache
def example_station() -> Station:
    """The station that is laid out where nothing is known of home."""
    text = (LAYOUT / "station.yaml").read_text(encoding="utf-8")
    station = read_station(load_tree(text.encode(), STATION)).station
    assert station is not None
    return station


def with_zone(home: NewHome) -> NewHome:
    """Home with the time zone of its place where none was given and the place leaves no doubt of the clock."""
    zones = zones_in_question(home)
    return dataclasses.replace(home, time_zone=zones[0]) if is_plain(zones) else home


def zones_in_question(home: NewHome) -> tuple[str, ...]:
    """The zones that home's place may have, one of each clock; none where a zone was given or no place can be read."""
    return () if home.time_zone or home.is_empty else zones_left_open(home)


def new_folder(folder: Path, home: NewHome | None = None) -> list[Path]:
    """Lay out a new user's folder: a station and a season, whose paths it returns.

    Raises InputFaults, before it writes, with everything that is wrong.
    """
    folder, home = Path(folder), home or NewHome()
    if folder.exists() and not folder.is_dir():
        raise InputFaults([Fault(str(folder), None, "", "this is a file; name a folder.")])
    if folder.is_dir() and (found := folder_files(folder)):
        message = f"the folder holds {found[0].name} already; name another folder."
        raise InputFaults([Fault(str(folder), None, "", message)])
    station, season = ((LAYOUT / name).read_text(encoding="utf-8") for name in ("station.yaml", "season.yaml"))
    if not home.is_empty:
        home = with_zone(home)
        read = _checked(home, folder)
        if not home.time_zone:
            raise InputFaults([_zone_in_doubt(zones_in_question(home))])
        station, season = _filled(station, home, read), _season(season, read)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise InputFaults([Fault(str(folder), None, "", f"the folder cannot be made ({reason}).")]) from None
    return write_all(folder, {STATION: station, SEASON: season}, str(folder))


def _zone_in_doubt(zones: tuple[str, ...]) -> Fault:
    """The fault of a place whose clock cannot be told: near a border, or at sea."""
    where = "by the place it may be" if len(zones) > 1 else "the place is at sea; its longitude has"
    message = f"{where} {zones_told(zones)}; say which: --time-zone {zones[0]}."
    return Fault("new", None, "time_zone", f"time_zone is missing: {message}")


def _checked(home: NewHome, folder: Path) -> Station:
    """What was typed as a station, or every fault of it."""
    faults = []
    if home.band is not None:
        try:
            band_name(home.band)
        except Refusal as refusal:
            faults.append(Fault("new", None, "band", f"unknown band '{printable(home.band[:40])}'; {refusal.advice}"))
    if not home.call:
        faults.append(Fault("new", None, "call", "the call is missing; write for instance --call QM7TOR."))
    if not (home.locator or home.latitude_deg or home.longitude_deg):
        faults.append(Fault("new", None, "locator", "the place is missing; write for instance --locator GF25cl."))
    if faults:
        raise InputFaults(faults)
    _, text = checked_station(home.tree, "new", folder)
    station = read_station(load_tree(text.encode(), "new", folder)).station
    assert station is not None
    return station


def _filled(text: str, home: NewHome, station: Station) -> str:
    """The example's text with what was typed in its places; what was not is made an example line."""
    band = band_name(home.band) if home.band else EXAMPLE_BAND
    for key in ("call", "name", "operator", "email", "time_zone"):
        text = _put(text, key, getattr(station, key))
    keys = ("latitude_deg", "longitude_deg", "height_m")
    place = [f"{key}: {getattr(home, key)}" for key in keys if getattr(home, key)]
    if station.position.locator:
        text = re.sub(r"(?m)^position:", "#position:", text)
        text = re.sub(r"(?m)^#position: \{locator: .*$", _braces(f"locator: {station.position.locator}", *place), text)
    else:
        text = re.sub(r"(?m)^position: .*$", _braces(*place), text)
    text = text.replace(f"\n  {EXAMPLE_BAND}:\n", f"\n  {band}:\n")
    antenna = f"{{dish_diameter_m: {home.dish_diameter_m}}}" if home.dish_diameter_m else None
    return _put(_put(text, "antenna", antenna, plain=True), "power_w", home.power_w, plain=True)


def _braces(*entries: str) -> str:
    return f"position: {{{', '.join(entries)}}}"


def _put(text: str, key: str, value: str | None, plain: bool = False) -> str:
    """The key's line with a value; made an example where there is none."""
    if value is None:
        return re.sub(rf"(?m)^( *){key}: (.*)$", rf"#\1{key}: \2", text, count=1)
    is_plain = plain or (PLAIN.fullmatch(value) and value not in ABSENT)
    written = value if is_plain else json.dumps(value, ensure_ascii=False)
    return re.sub(rf"(?m)^( *){key}: .*$", lambda found: f"{found[1]}{key}: {written}", text, count=1)


def _season(text: str, station: Station) -> str:
    """The example's season on home's band; its frequency stays where it is that band's."""
    band = next(iter(station.bands), EXAMPLE_BAND)
    if band == EXAMPLE_BAND:
        return text
    text = text.replace(f"\nband: {EXAMPLE_BAND}\n", f"\nband: {band}\n")
    usual = band_table()[band].typical_mhz
    return re.sub(r"(?m)^frequency_mhz: .*$", f"frequency_mhz: {usual:g}", text)
