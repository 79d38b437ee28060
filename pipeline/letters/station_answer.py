"""What a partner tells of its hours or its equipment, into its station file: one value where nothing was stated.

The file's words stay as they are; a value is held to what the reader of the file would say, the new text is read back
before it counts, and the file changes whole or not.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import yaml

from pipeline.inputs import scalars
from pipeline.inputs.days_said import days_between
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.model import WEEKDAYS, Station
from pipeline.inputs.station import read_station, station_in
from pipeline.inputs.what_if import Change, changed
from pipeline.inputs.yaml_tree import Tree, decode, load_tree, printable, read_bytes
from pipeline.letters.offered import AnswerFault
from pipeline.letters.sky_answer import KEY as SKY
from pipeline.letters.sky_answer import NewText
from pipeline.record.writing import line_break

HOURS, ALWAYS = "hours", "always"
# What may be told, and where it stands in a station file; `{band}` is the band on which the partner is worked.
PLACES: dict[str, tuple[str, ...]] = {
    HOURS: ("available",),
    "time_zone": ("time_zone",),
    "power_w": ("bands", "{band}", "power_w"),
    "dish_diameter_m": ("bands", "{band}", "antenna", "dish_diameter_m"),
    "gain_dbi": ("bands", "{band}", "antenna", "gain_dbi"),
    "noise_figure_db": ("bands", "{band}", "noise_figure_db"),
    "loss_before_preamplifier_db": ("bands", "{band}", "loss_before_preamplifier_db"),
}
REMARK = "# Told in an answer."


def said_of_station(texts: Sequence[str]) -> tuple[str, str] | None:
    """The key and value of `power_w=40`, `sky` among the keys; None of answers to slots.

    AnswerFault where more comes at once: each goes into another file than the agenda.
    """
    keys = {text: text.partition("=")[0].strip().casefold() for text in texts}
    mine = [text for text in texts if keys[text] in (SKY, *PLACES)]
    if mine and len(texts) > 1:
        raise AnswerFault(f"{printable(mine[0])}: this goes into another file; type it in a command of its own.")
    return (keys[mine[0]], mine[0].partition("=")[2].strip()) if mine else None


def with_told(station: Station, band: str, folder: Path, key: str, said: str) -> NewText:
    """The station's file with one thing told; nothing is written.

    Raises AnswerFault where the file states it already, InputFaults where the value will not do or the file cannot be
    changed safely.
    """
    typed = f"{key}={printable(said)}"
    place = _place(key, band)
    if not is_open(station, band, key):
        raise AnswerFault(f"{typed}: {station.file} states {_named(place)} already; change it there.")
    path = folder / station.file
    raw = read_bytes(path)
    text, tree = decode(raw, path.name), load_tree(raw, path.name, folder)
    value = _hours(said) if key == HOURS else said
    place = _as_spelled(tree, place)
    wanted = read_station(changed(tree, [Change(station.call.upper(), place, _tree_of(value, typed), typed)]))
    if wanted.station is None or wanted.faults:
        raise InputFaults([Fault(typed, None, "", fault.message) for fault in wanted.faults])
    new = _with_value(text, place, value)
    if new is None or _known(station_in(new, path)) != _known(wanted.station):
        message = (
            f"the file is laid out in an unusual way; change it by hand, the line is `{_flow(place, value)[1:-1]}`."
        )
        raise InputFaults([Fault(path.name, None, place[0], message)])
    bom = "\ufeff" if raw.startswith(b"\xef\xbb\xbf") else ""
    return NewText(path, bom + new, f"{station.call} {key}  {printable(said)}: no longer assumed")


def _place(key: str, band: str) -> tuple[str, ...]:
    return tuple(band if part == "{band}" else part for part in PLACES[key])


def is_open(station: Station, band: str, key: str) -> bool:
    """Whether a station's file leaves a key open: the program chose the value, or that of all its equipment."""
    place = _place(key, band)
    whole, figure = ".".join(place[:2]), ".".join(place[:3])
    return (whole if len(place) > 1 else place[0]) in station.assumed or figure in station.assumed


def _named(place: Sequence[str]) -> str:
    """A key as a file's reader looks for it; an antenna is stated as a whole."""
    return ".".join(place[:3])


def _hours(said: str) -> str:
    """`fri,sat 18:00-23:30; sun 09:00-22:00` as a station file has it; `always` and what looks like YAML stay."""
    if said.casefold() == ALWAYS or said[:1] in ("[", "{"):
        return said
    stretches = []
    for one in said.split(";"):
        days, _, times = one.strip().rpartition(" ")
        start, dash, end = times.replace("–", "-").partition("-")
        if not (start and dash and end):
            raise AnswerFault(f"{HOURS}={printable(said)}: for instance 18:00-23:30 is meant, or always.")
        on = f"days: [{', '.join(_weekdays(days))}], " if days else ""
        stretches.append(f"{{{on}from: {start.strip()}, to: {end.strip()}}}")
    return f"[{', '.join(stretches)}]"


def _weekdays(text: str) -> list[str]:
    """`mon-wed,fri` day by day; what is no weekday is left to the reader."""
    found: list[str] = []
    for part in text.replace(" ", "").split(","):
        first, dash, last = part.casefold().partition("-")
        if dash and first in WEEKDAYS and last in WEEKDAYS:
            found += days_between(first, last)
        else:
            found.append(part)
    return found


def _tree_of(value: str, typed: str) -> Any:
    try:
        return load_tree(f"value: {value}".encode(), typed).data["value"]
    except InputFaults as found:
        raise InputFaults([Fault(typed, None, "", fault.message) for fault in found.faults]) from None


def _as_spelled(tree: Tree, place: tuple[str, ...]) -> tuple[str, ...]:
    """The place with the band's name as the file spells it."""
    bands = tree.data.get("bands")
    if place[0] != "bands" or not isinstance(bands, dict):
        return place
    spelled = (key for key in bands if scalars.band_name(key) == place[1])
    return (place[0], next(spelled, place[1]), *place[2:])


def _known(station: Station | None) -> Station | None:
    """The station whatever the order of its keys in the file."""
    return station and dataclasses.replace(station, assumed=tuple(sorted(station.assumed)))


def _with_value(text: str, place: Sequence[str], value: str) -> str | None:
    """The text with a value put in: behind a key that is empty, into the mapping that is there, else at the end."""
    here, eol = yaml.compose(text, Loader=yaml.BaseLoader), line_break(text)
    root, depth = here, 0
    while isinstance(here, yaml.MappingNode):
        node = next((node for key, node in here.value if key.value == place[depth]), None)
        if node is None:
            if here is root and not here.flow_style:
                return _at_the_end(text, place, value, eol)
            return _into(text, here, f"{place[depth]}: {_flow(place[depth + 1 :], value)}", eol)
        if isinstance(node, yaml.ScalarNode) and node.value == "":
            behind = f" {_flow(place[depth + 1 :], value)}"
            return text[: node.start_mark.index] + behind + text[node.end_mark.index :]
        here, depth = node, depth + 1
    return None


def _at_the_end(text: str, place: Sequence[str], value: str, eol: str) -> str:
    start = text + ("" if not text or text.endswith("\n") else eol)
    first, *inner = place
    if not inner:
        return start + eol.join([REMARK, f"{first}: {value}", ""])
    return start + eol.join([REMARK, f"{first}:", f"  {inner[0]}: {_flow(inner[1:], value)}", ""])


def _into(text: str, mapping: yaml.MappingNode, entry: str, eol: str) -> str:
    """The entry before the others of a mapping, on a line of its own where they have such."""
    if mapping.flow_style:
        at = mapping.start_mark.index + 1
        return text[:at] + entry + (", " if mapping.value else "") + text[at:]
    mark = mapping.value[0][0].start_mark
    line = f"{entry}  {REMARK.lower().rstrip('.')}{eol}{' ' * mark.column}"
    return text[: mark.index] + line + text[mark.index :]


def _flow(keys: Sequence[str], value: str) -> str:
    """`{3cm: {power_w: 40}}`."""
    return f"{{{keys[0]}: {_flow(keys[1:], value)}}}" if keys else value
