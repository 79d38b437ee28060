"""New station files: checked by the reader itself, and written whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import yaml
from yaml.emitter import Emitter
from yaml.representer import SafeRepresenter
from yaml.resolver import BaseResolver
from yaml.serializer import Serializer

from pipeline.inputs import scalars
from pipeline.inputs.atomic_writing import clear_unfinished, place_new, settle, unfinished, write_file
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.kinds import fields_of
from pipeline.inputs.model import Antenna, BandEquipment, Position, Station
from pipeline.inputs.reading import call_of, folder_files
from pipeline.inputs.station import StationRead, read_station
from pipeline.inputs.yaml_tree import ABSENT, Tree, load_tree, printable, read_bytes
from pipeline.inputs.zone_of_place import clock_told, is_plain, zones_open

# A short mapping or list stays on one line, as people write it; longer ones go on lines of their own.
LONGEST_ON_ONE_LINE = 70
# Stands for one that is not read: only the place is.
PLAIN_CALL = "QA0NEW"
NOT_TOLD = "by its place, not told"


class Dumper(Emitter, Serializer, SafeRepresenter, BaseResolver):
    """Writes texts without quotes where the string-only reader needs none: `power_w: 40`, `from: 18:00`."""

    def __init__(self, stream: Any, **options: Any) -> None:
        Emitter.__init__(self, stream, width=110, allow_unicode=True)
        Serializer.__init__(self)
        SafeRepresenter.__init__(self, default_flow_style=False, sort_keys=False)
        BaseResolver.__init__(self)

    def ignore_aliases(self, data: Any) -> bool:
        """Never writes anchors: the reader takes none."""
        return True


def one_line(value: Any) -> bool:
    """Whether a mapping or list is short and holds single values only."""
    entries = list(value.values()) if isinstance(value, dict) else value
    return all(isinstance(entry, str) for entry in entries) and len(str(value)) <= LONGEST_ON_ONE_LINE


def represent_text(dumper: Dumper, text: str) -> yaml.ScalarNode:
    """Text, in quotes only where it would read as an absent value."""
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style="'" if text in ABSENT else None)


def represent_mapping(dumper: Dumper, value: dict[str, Any]) -> yaml.MappingNode:
    """A mapping in curly brackets where it is short."""
    return dumper.represent_mapping("tag:yaml.org,2002:map", value, flow_style=one_line(value))


def represent_list(dumper: Dumper, value: list[Any]) -> yaml.SequenceNode:
    """A list in square brackets where it is short."""
    return dumper.represent_sequence("tag:yaml.org,2002:seq", value, flow_style=one_line(value))


Dumper.add_representer(str, represent_text)
Dumper.add_representer(dict, represent_mapping)
Dumper.add_representer(list, represent_list)


def as_text(value: Any) -> Any:
    """A tree of texts: numbers written plainly, absent values left out."""
    if isinstance(value, Mapping):
        pairs = {str(key): as_text(entry) for key, entry in value.items()}
        return {key: entry for key, entry in pairs.items() if entry not in ("", None, {}, [])}
    if isinstance(value, (list, tuple)):
        return [as_text(entry) for entry in value]
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.12g}"
    return "" if value is None else str(value).strip()


def in_order(tree: dict[str, Any]) -> dict[str, Any]:
    """A station's keys in the order of the contract."""
    place, antenna = list(fields_of(Position)), list(fields_of(Antenna))
    place = ["locator", *[key for key in place if key != "locator"]]
    # Who, then where, then the rest: the order in which people write.
    first = ["call", "name", "operator", "email", "position", "time_zone", "language"]
    ordered = sort_keys(tree, [*first, *[key for key in fields_of(Station) if key not in first]])
    if isinstance(ordered.get("position"), dict):
        ordered["position"] = sort_keys(ordered["position"], place)
    if isinstance(ordered.get("bands"), dict):
        for band, equipment in ordered["bands"].items():
            if isinstance(equipment, dict):
                equipment = sort_keys(equipment, list(fields_of(BandEquipment)))
                if isinstance(equipment.get("antenna"), dict):
                    equipment["antenna"] = sort_keys(equipment["antenna"], antenna)
                ordered["bands"][band] = equipment
    return ordered


def sort_keys(mapping: dict[str, Any], order: Sequence[str]) -> dict[str, Any]:
    """The mapping with known keys in the given order and others after them."""
    known = {key: mapping[key] for key in order if key in mapping}
    return known | {key: entry for key, entry in mapping.items() if key not in known}


def station_text(tree: Mapping[str, Any]) -> str:
    """The YAML text of one station."""
    text: str = yaml.dump(in_order(as_text(tree)), Dumper=Dumper)
    return text


def station_file_name(call: str) -> str:
    """`qf4lum.yaml`; a stroke in the call becomes a hyphen."""
    return call.lower().replace("/", "-") + ".yaml"


def checked_station(tree: Mapping[str, Any], label: str, folder: Path) -> tuple[str, str]:
    """File name and text of a station that the reader accepts; InputFaults, told under `label`, where it does not."""
    plain = in_order(as_text(tree))  # as it will be read back
    read = read_station(Tree(label, plain, {}, {}, folder))
    missing = [] if plain.get("call") else [Fault(label, None, "call", "call is missing; write for instance `QM7TOR`.")]
    if read.faults or read.station is None:
        raise InputFaults([*read.faults, *missing] if not read.faults else read.faults)
    plain["call"] = read.station.call
    if read.station.position.locator:
        plain["position"]["locator"] = read.station.position.locator
    text = station_text(plain)
    # The text must read back as the same station; a defect of the writer must not end in a file that plans wrongly.
    again = read_station(load_tree(text.encode(), label, folder))
    if again.faults:
        raise InputFaults(again.faults)
    assert again.station == read.station
    return station_file_name(read.station.call), text


def stations_in(folder: Path) -> list[StationRead]:
    """The stations that a folder holds already; files at fault are left for `read_inputs` to tell."""
    reads = []
    for path in folder_files(folder):
        try:
            tree = load_tree(read_bytes(path), path.name, path.parent)
        except InputFaults:
            continue
        if "call" in tree.data:
            reads.append(read_station(tree))
    return reads


def write_stations(
    folder: Path, texts: Mapping[str, str], calls: Mapping[str, str], label: str, lines: Mapping[str, int] | None = None
) -> list[Path]:
    """Write station files, all or none. `texts`, `calls` and the lines that they come from go by file name."""
    lines = lines or {}
    faults = []
    for name in texts:
        if (folder / name).exists():
            clear_unfinished(folder / name)
    known = {call_of(read): read.tree.file for read in stations_in(folder)}
    for name, call in calls.items():
        if call in known:
            message = f"the call {call} has a file already, {known[call]}; edit that one or take it away first."
            faults.append(Fault(label, lines.get(name), "call", message))
        elif (folder / name).exists():
            faults.append(there_already(label, name, lines.get(name)))
    if faults:
        raise InputFaults(faults)
    return write_all(folder, texts, label)


def there_already(label: str, name: str, line: int | None = None) -> Fault:
    """The fault of a new file whose name is taken."""
    return Fault(label, line, "call", f"there is a file {name} already; nothing was overwritten.")


def write_all(folder: Path, texts: Mapping[str, str], label: str) -> list[Path]:
    """Write new files, whole and all or none: first beside their places under hidden names, then moved in.

    A name that another run has taken meanwhile is told as InputFaults, under `label`.
    """
    waiting: list[tuple[Path, Path]] = []
    placed: list[Path] = []
    try:
        for name, text in texts.items():
            temporary = unfinished(folder / name)
            waiting.append((temporary, folder / name))
            write_file(temporary, text.encode())
            temporary.chmod(0o644)
        for temporary, path in waiting:
            place_new(temporary, path)
            placed.append(path)
        settle(folder)
    except OSError as error:
        for path in placed:
            path.unlink(missing_ok=True)
        taken = [path.name for _, path in waiting if path not in placed and path.exists()]
        if taken:
            raise InputFaults([there_already(label, taken[0])]) from None
        reason = (error.strerror or "unknown reason").lower()
        raise InputFaults([Fault(str(folder), None, "", f"cannot write here ({reason}); nothing was kept.")]) from None
    finally:
        for temporary, _ in waiting:
            temporary.unlink(missing_ok=True)
    for path in placed:
        clear_unfinished(path)
    return placed


def call_in(text: str) -> str:
    """The call of a station text of ours."""
    return str(load_tree(text.encode(), "").data["call"])


def need_folder(folder: Path) -> None:
    """A fault where the folder does not exist."""
    if not folder.is_dir():
        message = f"there is no folder {folder}; the command `new {folder}` makes one."
        raise InputFaults([Fault(str(folder), None, "", message)])


def who_and_where(known: Any) -> dict[str, Any]:
    """What every new station file begins with, from the fields of the same names."""
    position = {key: getattr(known, key) for key in ("locator", "latitude_deg", "longitude_deg", "height_m")}
    first = {key: getattr(known, key) for key in ("call", "name", "operator", "email")}
    return {**first, "position": position, "time_zone": known.time_zone}


@dataclass(frozen=True)
class NewPartner:
    """What one learns of a partner in a chat; `band` absent is the folder's season's."""

    call: str
    locator: str | None = None
    latitude_deg: float | str | None = None
    longitude_deg: float | str | None = None
    height_m: float | str | None = None
    band: str | None = None
    dish_diameter_m: float | str | None = None
    gain_dbi: float | str | None = None
    power_w: float | str | None = None
    noise_figure_db: float | str | None = None
    polarization: str | None = None
    modes: Sequence[str] = ()
    name: str | None = None
    operator: str | None = None
    email: str | None = None
    time_zone: str | None = None
    language: str | None = None
    available: str | None = None
    zone_is_told: bool = True

    @property
    def tree(self) -> dict[str, Any]:
        """The station file's tree, without its bands."""
        return {**who_and_where(self), "language": self.language, "available": self.available}

    @property
    def equipment(self) -> dict[str, Any]:
        """The tree of the one band."""
        return {
            "antenna": {"dish_diameter_m": self.dish_diameter_m, "gain_dbi": self.gain_dbi},
            "power_w": self.power_w,
            "noise_figure_db": self.noise_figure_db,
            "polarization": self.polarization,
            "modes": list(self.modes),
        }


def add_partner(folder: Path, partner: NewPartner) -> Path:
    """A partner's file from what one learns in a chat. Returns its path; raises InputFaults before it writes."""
    need_folder(Path(folder))
    tree, band = partner.tree, partner.band
    if as_text(partner.equipment):
        tree["bands"] = {band or season_band(Path(folder)): partner.equipment}
    label = f"add {partner.call}"[:40]
    if band and "bands" not in tree:  # without equipment the file does not name it, so nothing else would check it
        try:
            scalars.band_name(band)
        except scalars.Refusal as refusal:
            message = f"unknown band '{printable(band[:40])}'; {refusal.advice}"
            raise InputFaults([Fault(label, None, "band", message)]) from None
    file_name, text = checked_station(tree, label, Path(folder))
    if partner.time_zone and not partner.zone_is_told:
        text = with_zone_marked(text, partner.time_zone)
    return write_stations(Path(folder), {file_name: text}, {file_name: call_in(text)}, label)[0]


def with_zone_of_place(partner: NewPartner) -> NewPartner:
    """The partner with the zone of its place, marked as not told, where none was given and one clock alone fits."""
    zones = () if partner.time_zone else zones_left_open(partner)
    return replace(partner, time_zone=zones[0], zone_is_told=False) if is_plain(zones) else partner


def with_zone_marked(text: str, zone: str) -> str:
    """A station's text with a remark beside its time zone: that its place says so, and what its clock shows."""
    line = f"\ntime_zone: {zone}"
    return text.replace(f"{line}\n", f"{line}  # {NOT_TOLD}: {clock_told(zone)}\n", 1)


def zones_left_open(known: Any) -> tuple[str, ...]:
    """The zones that the place of a new partner or home may have, one of each clock; empty where it cannot be read."""
    return zones_at_place(who_and_where(known)["position"])


def zones_at_place(position: Any) -> tuple[str, ...]:
    """The same of a tree's `position`."""
    plain = as_text({"call": PLAIN_CALL, "position": position})
    station = read_station(Tree("", plain, {}, {}, Path())).station
    if station is None:
        return ()
    place = station.position
    return zones_open(place.latitude_deg, place.longitude_deg, place.locator)


def season_band(folder: Path) -> str:
    """The band that the folder's seasons agree on; a fault where there is none."""
    found = set()
    for path in folder_files(folder):
        try:
            data = load_tree(read_bytes(path), path.name).data
        except InputFaults:
            continue
        if "home" in data and isinstance(data.get("band"), str) and data["band"]:
            found.add(data["band"])
    if len(found) != 1:
        raise InputFaults([Fault("add", None, "band", "the band is not known; say which, for instance --band 3cm.")])
    return found.pop()
