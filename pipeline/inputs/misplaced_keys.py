"""What an unknown key is most likely meant to be, and where that belongs: its own level, another, another file.

From the key, its value, and what stands around it in its file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pipeline.inputs import clocks_said, dates_said, keys_said, own_writing, scalars
from pipeline.inputs.kinds import fields_of
from pipeline.inputs.yaml_tree import Place, Tree, dotted, printable

FIRST = {"start", "begin", "from", "startdate", "first", "begins", "von", "desde", "debut", "inicio", "inizio"}
LAST = {"end", "until", "to", "enddate", "last", "ends", "bis", "hasta", "fin", "fim", "fine"}


def place_written(tree: Tree) -> str:
    """The keys of a place that stand outside of its group, in one line: `locator: JO22oc, height_m: 12`."""
    from pipeline.inputs.model import Station

    found = {}
    for key, entry in tree.data.items():
        target = at_other_levels(Station, key, entry) if key not in fields_of(Station) else None
        if target and target.startswith("position.") and isinstance(entry, str):
            name = target.removeprefix("position.")
            found[name] = own_writing.right_form(name, entry) or entry
    return ", ".join(f"{name}: {text}" for name, text in found.items())


def key_advice(tree: Tree, owner: Any, place: Place, entry: Any) -> str:
    """What an unknown key is most likely meant to be, and where that belongs."""
    from pipeline.inputs.model import Season, Station

    key, around = str(place[-1]), place[:-1]
    own = fields_of(owner)
    if "from" in own and isinstance(entry, str) and clocks_said.hours_meant(entry):
        first, last = clocks_said.hours_meant(entry) or ("", "")
        return f"write from: {first}, to: {last}."
    stretch = stretch_advice(tree, key) if "months" in own else None
    if stretch:
        return stretch
    entry_text = entry_advice(place, owner, key, entry)
    if entry_text:
        return entry_text
    near = meant_key(owner, key, entry)
    if near:
        return f"did you mean '{near}'?"
    here, other = (Season, Station) if "home" in tree.data else (Station, Season)
    kind = {Season: "the season's file", Station: "a station's file"}
    elsewhere = at_other_levels(here, key, entry)
    if elsewhere and ("call" in tree.data or "home" in tree.data):
        return moved(tree, elsewhere, around, key, entry)
    if key in keys_said.places(other) and ("call" in tree.data or "home" in tree.data):
        text = keys_said.written_out(keys_said.places(other)[key][0], shown_value(entry), "3cm")
        return f"that belongs in {kind[other]}: `{text}`."
    near = scalars.nearest(key, own, 0.7)
    if near:
        return f"did you mean '{near}'?"
    band = keys_said.is_band(key)
    if band and "bands" not in around and here is Station:
        return "a band stands below `bands:`; begin its line with two spaces and move the lines below it two spaces in."
    if band and around[:1] == ("bands",) and len(around) > 1:
        line = tree.line(around[:2])
        beside = f"begin it in the column of `{around[1]}:` (line {line})"
        return f"a band stands beside the others: {beside}, what is below it two further in."
    near = scalars.nearest(key, keys_said.places(here), 0.8)
    if near and ("call" in tree.data or "home" in tree.data):
        return moved(tree, keys_said.places(here)[near][0], around, key, entry)
    foreign = at_other_levels(other, key, entry)
    if foreign and ("call" in tree.data or "home" in tree.data):
        return f"that belongs in {kind[other]}: `{keys_said.written_out(foreign, shown_value(entry), '3cm')}`."
    if keys_said.is_note(key):
        return "there is no such key; put # before the line and it stays as a note."
    return "there is no key like it; take it out, or put # before the line to keep it as a note."


def meant_key(owner: Any, key: str, entry: Any) -> str | None:
    """The key of the same group that an unknown one stands for; None where none is sure."""
    own = fields_of(owner)
    same = next((name for name in own if keys_said.folded(name) == keys_said.folded(key)), None)
    if same:
        return same
    meant = [name for name in keys_said.keys_meant(key) if name in own]
    if "qth" in key.casefold() and is_locator(entry):
        return "locator" if "locator" in own else None
    if meant:
        return meant[0]
    close = scalars.nearest(key, own, 0.88)
    if close or keys_said.keys_meant(key):
        return close
    further = (name for name in (*keys_said.keys_near(key), *keys_said.keys_begun(key)) if name in own)
    return scalars.nearest(key, own, 0.8) or next(further, None)


def entry_advice(place: Place, owner: Any, key: str, entry: Any) -> str | None:
    """An entry of a list written as key and value: `0: 2.0` of a skyline, a day with its hours, a partner's call."""
    if "horizon" in place and scalars.NUMBER.fullmatch(key) and isinstance(entry, str):
        return f"write {{azimuth_deg: {key}, elevation_deg: {entry or '...'}}}."
    own = fields_of(owner)
    if "from" in own and entry == "" and clocks_said.hours_meant(key):
        first, last = clocks_said.hours_meant(key) or ("", "")
        return f"write from: {first}, to: {last}."
    if "from" in own and dates_said.days_meant(key):
        days = dates_said.in_brackets(dates_said.day_list(key) or (dates_said.days_meant(key)[0][0],))
        both = clocks_said.hours_meant(entry) if isinstance(entry, str) else None
        first, last = both or ("18:00", "23:30")
        return f"write `- {{days: {days}, from: {first}, to: {last}}}`."
    if "contacts_wanted" in own and scalars.call_inside(key) == key.upper():
        wish = own_writing.wish_advice(f"{key} {entry}") if isinstance(entry, str) else None
        if wish:
            return f"{wish[:-1]}, behind a dash."
        more = shown_value(entry).strip("{}")
        more = f"priority: {more}" if scalars.NUMBER.fullmatch(more) else more
        return f"write `{{call: {key.upper()}{', ' + more if more else ''}}}`."
    return None


def settled(tree: Tree, owner: Any, key: str, entry: Any) -> tuple[str, ...]:
    """Keys of the same group that need not be told as missing, since what the unknown one says tells them."""
    from pipeline.inputs.model import Station

    own = fields_of(owner)
    if "elevation_deg" in own and scalars.NUMBER.fullmatch(key):
        return ("azimuth_deg", "elevation_deg")
    if "from" in own and clocks_said.hours_meant(key):
        return ("from", "to")
    if "from" in own and (dates_said.days_meant(key) or (isinstance(entry, str) and clocks_said.hours_meant(entry))):
        return ("days", "from", "to") if dates_said.days_meant(key) else ("from", "to")
    if "contacts_wanted" in own and scalars.call_inside(key) == key.upper():
        return ("call",)
    target = at_other_levels(Station, key, entry) if "position" in own else None
    return ("position",) if target and target.startswith("position.") else ()


def stretch_advice(tree: Tree, key: str) -> str | None:
    """A season's first and last date under keys of their own."""
    if keys_said.folded(key) not in FIRST | LAST:
        return None
    found = {}
    for name, value in tree.data.items():
        side = "first" if keys_said.folded(name) in FIRST else "last" if keys_said.folded(name) in LAST else None
        if side and isinstance(value, str) and len(dates_said.dates_meant(value)) == 1:
            found[side] = dates_said.dates_meant(value)[0]
    first, last = found.get("first", "first date"), found.get("last", "last date")
    return f"write both dates in one line: `dates: {first}/{last}`."


def no_band(tree: Tree, place: Place, key: str) -> str | None:
    """What to say of a key of a band's equipment that stands where the band is meant."""
    from pipeline.inputs.model import Station

    several = [keys_said.is_band(part) for part in re.split(r"\s*(?:[,;/&+]|\band\b|\bund\b)\s*", key)]
    if len(several) > 1 and all(several):
        told = " and ".join(f"`{band}:`" for band in several)
        return f"one band a line: write {told}, each with its own equipment below it."
    known = keys_said.places(Station)
    name = next((name for name in (key, *keys_said.keys_meant(key)) if name in known), None)
    if name is None:
        return None
    bands = tree.data.get("bands")
    entry = bands.get(key, "") if isinstance(bands, dict) else ""
    first = next((one for one in bands or {} if keys_said.is_band(str(one))), None) if isinstance(bands, dict) else None
    if first and known[name][0] == f"bands.{keys_said.BAND}.{name}":
        text = f"{name}: {shown_value(entry)}"
        return f"it belongs to {first}: begin its line two spaces further in than `{first}:`, with `{text}`."
    return f"write `{keys_said.written_out(known[name][0], shown_value(entry), '3cm')}`."


def is_locator(entry: Any) -> bool:
    """Whether a value is a locator."""
    try:
        return bool(scalars.locator(str(entry)))
    except scalars.Refusal:
        return False


def at_other_levels(root: Any, key: str, entry: Any) -> str | None:
    """The dotted place of what a word stands for in a kind of file; None where it stands for nothing in it."""
    known = keys_said.places(root)
    last = key.rsplit(".", 1)[-1]
    for name in (
        last,
        *(("locator",) if is_locator(entry) and "qth" in key.casefold() else ()),
        *keys_said.keys_meant(last),
    ):
        if name in known:
            return known[name][0]
    return None if scalars.nearest(last, known, 0.8) else begun_elsewhere(known, last)


def begun_elsewhere(known: Mapping[str, tuple[str, ...]], key: str) -> str | None:
    """The place of what a key's first word stands for."""
    further = (*keys_said.keys_near(key), *keys_said.keys_begun(key))
    return next((known[name][0] for name in further if name in known), None)


def shown_value(entry: Any) -> str:
    """A value as it is written in one line; empty for one with more inside than that."""
    if isinstance(entry, dict) and all(isinstance(one, str) for one in entry.values()):
        return "{" + ", ".join(f"{key}: {one}" for key, one in entry.items()) + "}" if len(entry) < 5 else ""
    if isinstance(entry, list) and all(isinstance(one, str) for one in entry) and len(entry) < 8:
        return dates_said.in_brackets(entry)
    return printable(entry, 40) if isinstance(entry, str) else ""


def moved(tree: Tree, target: str, around: Place, key: str, entry: Any) -> str:
    """Where a key belongs that stands at another level: in a group that is there already, or written out."""
    bands = tree.data.get("bands")
    band = next((name for name in around if isinstance(name, str) and keys_said.is_band(name)), None)
    band = str(band or next(iter(bands), "3cm") if isinstance(bands, dict) else "3cm")
    keys = [band if part == keys_said.BAND else part for part in target.split(".")]
    value = own_writing.right_form(keys[-1], entry) if isinstance(entry, str) and entry else shown_value(entry)
    value = value or shown_value(entry)
    holder: Any = tree.data
    held: list[str] = []
    for part in keys[:-1]:
        if not isinstance(holder, dict) or not isinstance(holder.get(part), dict):
            break
        holder, held = holder[part], [*held, part]
    rest = target.split(".")[len(held) :]
    text = keys_said.written_out(".".join(rest), value, band)
    if not held and len(keys) == 1:
        return f"it belongs outside of {dotted(around)}, at the left margin: `{text}`."
    if not held and keys[0] == "position" and not around:
        return f"write `position: {{{place_written(tree)}}}`."
    if not held:
        return f"write `{text}`{' at the left margin' if around else ''}."
    line = tree.line(tuple(held))
    return f"it belongs in {dotted(tuple(held))} (line {line}): write `{text}` there."
