"""Changes tried without touching a file: `QF4LUM.bands.3cm.power_w=100` put into the tree of that station's file.

A change names a station by its call, or the season by the word `season`; then the key as in the file; entries of lists
count from 1.
"""

from __future__ import annotations

import copy
import dataclasses
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.inputs.bands import band_table
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.keys_said import keys_meant
from pipeline.inputs.kinds import fields_of
from pipeline.inputs.letter_keys import Letters
from pipeline.inputs.model import Antenna, BandEquipment, Battery, Mount, Policy, Position, Season, Station
from pipeline.inputs.quantities import figure_in, spelled
from pipeline.inputs.scalars import NUMBER
from pipeline.inputs.yaml_tree import Key, Tree, load_tree, printable

OPTION = "--what-if"
SEASON = "season"
CALL = "QF4LUM"


@dataclass(frozen=True)
class Change:
    """One value put in place of what a file says; `target` is a call in capitals, or `season`."""

    target: str
    keys: tuple[str, ...]
    value: Any
    text: str


def read_changes(texts: Sequence[str], call: str = CALL) -> tuple[Change, ...]:
    """The changes as typed; InputFaults with everything that is wrong in them, `call` being the one of examples."""
    faults: list[Fault] = []
    changes: list[Change] = []
    for text in texts:
        try:
            changes.append(_read_change(text, call))
        except InputFaults as found:
            faults += [_fault(text, fault.message) for fault in found.faults]
    if faults:
        raise InputFaults(faults)
    return tuple(changes)


def _read_change(text: str, call: str) -> Change:
    path, equals, value = text.partition("=")
    parts = [part.strip() for part in path.split(".")]
    if not equals or not all(parts):
        raise InputFaults([Fault(OPTION, None, "", _no_change(text, call))])
    target, *keys = _whole(parts, call)
    keys = [_called(key) for key in keys]
    tree = load_tree(f"value: {value}".encode(), OPTION)
    return Change(SEASON if target.casefold() == SEASON else target.upper(), tuple(keys), tree.data["value"], text)


def _called(key: str) -> str:
    """The key by what operators call it; as it is where that is none or could be several."""
    meant = keys_meant(key)
    return meant[0] if len(meant) == 1 else key.casefold()


def change_meant(text: str) -> str:
    """`QF4LUM power 0.1 kW` as the change that is taken; empty where that is not sure."""
    said = re.fullmatch(
        r"([\w/]+)(?:\.|[\s:]+)([^\W\d][\w\s.-]*?)\s*[:=\s]\s*([+-]?\d[\d.,]*\s?[^\W\d]*)", text.strip()
    )
    keys = keys_meant(said[2]) if said else ()
    figure = figure_in(keys[0], said[3]) if said and len(keys) == 1 else ""
    if said and figure:
        return f"{said[1]}.{keys[0]}={figure}"
    plain = re.fullmatch(r"([\w/]+(?:\.\w+)+)\s*[: ]\s*(\S+)", text.strip())
    return f"{plain[1]}={plain[2]}" if plain else ""


def _no_change(text: str, call: str) -> str:
    """Why a text is no change, in its own figures where these are plain."""
    meant = change_meant(text)
    return f"write {OPTION} {meant}." if meant else _example(call)


def _example(call: str) -> str:
    return f"this is no change of a value; {call}.power_w=100 is meant, or policy.slot_minutes=45."


def _whole(parts: list[str], call: str) -> list[str]:
    """The parts with `season` before a key of the season, and its policy or letters before one of theirs."""
    first = parts[0].casefold()
    if len(parts) > 1:
        inner = first in fields_of(Season) and first != "home"
        return [SEASON, *parts] if inner else parts
    for keys, above in ((fields_of(Policy), "policy"), (fields_of(Letters), "letters")):
        if first in keys:
            return [SEASON, above, *parts]
    if first in fields_of(Season):
        return [SEASON, *parts]
    if not keys_meant(first):
        raise InputFaults([Fault(OPTION, None, "", _no_change(".".join(parts), call))])
    raise InputFaults([Fault(OPTION, None, "", f"of which station? Write its call before it: {call}.{parts[0]}=...")])


def _from_station(keys: tuple[str, ...], data: dict[str, Any], band: str) -> tuple[str, ...]:
    """The keys from a station's file on: a figure of its equipment alone is that of its band."""
    first = keys[0]
    if first in fields_of(Station):
        return keys
    known = data.get("bands") or {}
    own = [one for one in known if isinstance(known, dict)]
    on = own[0] if len(own) == 1 else band
    if first in fields_of(BandEquipment):
        return ("bands", on, *keys)
    if first in fields_of(Antenna):
        return ("bands", on, "antenna", *keys)
    if first in own or first in band_table():
        return ("bands", *keys)
    for key, kind in (("position", Position), ("mount", Mount), ("battery", Battery)):
        if first in fields_of(kind):
            return (key, *keys)
    return keys


def _fault(text: str, message: str) -> Fault:
    return Fault(f"{OPTION} {printable(text)}", None, "", message)


def changed(tree: Tree, changes: Sequence[Change], band: str = "") -> Tree:
    """The tree with those changes in it that are meant for this file; `band` is the season's."""
    call = tree.data.get("call")
    target = SEASON if "home" in tree.data else call.upper() if isinstance(call, str) else ""
    mine = [change for change in changes if change.target == target]
    if not mine:
        return tree
    data = copy.deepcopy(tree.data)
    for change in mine:
        keys = change.keys if target == SEASON else _from_station(change.keys, data, band)
        _put(data, dataclasses.replace(change, keys=keys))
    return dataclasses.replace(tree, data=data)


def _put(data: dict[str, Any], change: Change) -> None:
    """Set one value; mappings on the way are made, entries of lists must be there."""
    here: Any = data
    for key, further in zip(change.keys[:-1], change.keys[1:], strict=True):
        place = _place(here, key, change)
        if isinstance(here, dict) and here.get(key, "") == "":
            here[key] = {}
        here = here[place]
        if isinstance(here, str):
            message = f"`{key}` holds a single value, so there is no `{further}` in it."
            raise InputFaults([_fault(change.text, message)])
    place = _place(here, change.keys[-1], change)
    now = here.get(place, "") if isinstance(here, dict) else here[place]
    if told := _against_now(change, now):
        raise InputFaults([_fault(change.text, told)])
    here[place] = change.value


# So much more, less, or so many times what stands there; decibels are a ratio of powers.
MORE = re.compile(
    r"(?P<sign>[+-])\s*(?P<by>\d+(?:[.,]\d+)?)\s*(?P<unit>%|dB|)|[x*×]\s*(?P<times>\d+(?:[.,]\d+)?)", re.I
)


def _against_now(change: Change, now: Any) -> str:
    """What to write for a change by so much of what stands there; empty for a value of its own."""
    said = MORE.fullmatch(change.value.strip()) if isinstance(change.value, str) else None
    key = change.keys[-1]
    if not said or not isinstance(now, str) or not NUMBER.fullmatch(now) or (key.endswith("_deg") and not said["unit"]):
        return ""
    was, by = float(now), float((said["by"] or said["times"]).replace(",", "."))
    step = -by if said["sign"] == "-" else by
    if said["times"]:
        made = was * by
    elif said["unit"] == "%":
        made = was * (1.0 + step / 100.0)
    elif said["unit"] and key.endswith("_w"):
        made = was * 10.0 ** (step / 10.0)
    elif not said["unit"] and said["sign"] == "-":
        return ""  # a negative figure of its own, which its key takes or refuses
    else:
        made = was + step
    path = change.text.partition("=")[0]
    ways = f"write {path}={spelled(made, True)}"
    plain = f", or {path}={by:g} for that figure itself" if not said["unit"] and not said["times"] else ""
    return f"{key} is {now} now; {ways}{plain}."


def _place(here: Any, key: str, change: Change) -> Key:
    """The key of a mapping, or the index of a list's entry that counts from 1."""
    if isinstance(here, dict):
        return key
    if key.isdecimal() and 1 <= int(key) <= len(here):
        return int(key) - 1
    message = f"`{printable(key)}` is no entry of the list; entries count from 1 to {len(here)}."
    raise InputFaults([_fault(change.text, message)])


def hash_of(changes: Sequence[Change]) -> dict[str, str]:
    """What stands among the hashes of the input files, so that a tried plan has a number of its own."""
    text = "\n".join(change.text for change in changes)
    return {OPTION: hashlib.sha256(text.encode()).hexdigest()} if changes else {}


def unknown_targets(changes: Sequence[Change], calls: Sequence[str]) -> list[Fault]:
    """A fault for each change of a station that no file has."""
    known = ", ".join(sorted(calls)[:12])
    return [
        _fault(change.text, f"there is no station {printable(change.target)}; there is {known}.")
        for change in changes
        if change.target != SEASON and change.target not in calls
    ]
