"""What an unknown key is most likely meant to be, and where that belongs: its own level, another, another file.

From the key, its value, and what stands around it in its file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pipeline.inputs import clocks_said, dates_said, days_said, keys_said, own_writing, scalars
from pipeline.inputs.kinds import fields_of
from pipeline.inputs.yaml_tree import Place, Tree, dotted, printable

FIRST = {"start", "begin", "from", "startdate", "first", "begins", "von", "desde", "debut", "inicio", "inizio"}
LONGEST_SHOWN = 160
AWAY = {"except", "not", "away", "off", "unavailable", "nicht", "weg", "urlaub", "absent", "ausser", "excepto", "salvo"}
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
        days = days_said.day_list(key)
        if days:
            return f"write `- {{days: {days_said.in_brackets(days)}, from: {first}, to: {last}}}`."
        return f"write from: {first}, to: {last}."
    stretch = stretch_advice(tree, key) if "months" in own else None
    if stretch:
        return stretch
    entry_text = entry_advice(place, owner, key, entry)
    if entry_text:
        return entry_text
    if "capacity_ah" in own and (amperes := by_voltage(tree, key, entry)):
        return amperes
    near = meant_key(owner, key, entry)
    if near:
        return there_already(tree, around, near) or f"did you mean '{near}'?"
    here, other = (Season, Station) if "home" in tree.data else (Station, Season)
    kind = {Season: "the season's file", Station: "a station's file"}
    elsewhere = at_other_levels(here, key, entry)
    if elsewhere and around and elsewhere.split(".")[0] in own and "." in elsewhere:
        return inside_here(tree, around, elsewhere, entry)
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


def by_voltage(tree: Tree, key: str, entry: Any) -> str | None:
    """What to write for a battery's figure in watts or watt-hours, by its voltage."""
    said = re.fullmatch(r"(receive|transmit|other|capacity)_?(w|wh|watts?|watt_hours)", key.casefold())
    battery = tree.data.get("battery")
    volts = battery.get("voltage_v") if isinstance(battery, dict) else None
    texts = [volts, entry]
    if not said or not all(isinstance(one, str) and scalars.NUMBER.fullmatch(one) for one in texts):
        return None
    name = f"{said[1]}_{'ah' if said[1] == 'capacity' else 'a'}"
    unit = "ampere-hours" if said[1] == "capacity" else "amperes"
    value = float(str(entry)) / max(float(str(volts)), 1.0)
    return f"{unit} are meant; at {volts} V write `{name}: {value:.3g}`."


def there_already(tree: Tree, around: Place, name: str) -> str | None:
    """What to say of a key under another name where the right one stands beside it."""
    line = tree.lines.get((*around, name))
    return f"{name} stands in line {line} already; take this one out." if line else None


def inside_here(tree: Tree, around: Place, target: str, entry: Any) -> str:
    """What to write for a key that belongs in a group of the place where it stands, such as a site's position."""
    group, name = target.split(".", 1)
    value = own_writing.right_form(name, entry) if isinstance(entry, str) and entry else ""
    line = tree.lines.get((*around, group))
    text = f"{name}: {value or shown_value(entry)}"
    if line:
        return f"it belongs in {dotted((*around, group))} (line {line}): write `{text}` there."
    return f"write `{group}: {{{text}}}`."


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
        return f"write `- {{azimuth_deg: {key}, elevation_deg: {entry or '...'}}}`."
    own = fields_of(owner)
    if "from" in own and entry == "" and clocks_said.hours_meant(key):
        first, last = clocks_said.hours_meant(key) or ("", "")
        return f"write from: {first}, to: {last}."
    if "from" in own and keys_said.folded(key) in AWAY and isinstance(entry, (str, list)):
        said = ", ".join(entry) if isinstance(entry, list) else entry
        dates = re.search(r"write (\[?[\d/, -]+\]?)\.", dates_said.range_advice(said) or f"write {said}.")
        told = f"`unavailable_dates: {dates[1] if dates[1][0] == '[' else f'[{dates[1]}]'}`" if dates else ""
        return (
            f"dates when nobody is there have a key of their own, at the left margin: {told or '`unavailable_dates:`'}."
        )
    if "from" in own and days_said.days_meant(key):
        days = days_said.in_brackets(days_said.day_list(key) or (days_said.days_meant(key)[0][0],))
        both = clocks_said.hours_meant(entry) if isinstance(entry, str) else None
        first, last = both or ("18:00", "23:30")
        return f"write `- {{days: {days}, from: {first}, to: {last}}}`."
    if "contacts_wanted" in own and scalars.call_inside(key) == key.upper():
        wish = own_writing.wish_advice(f"{key} {entry}") if isinstance(entry, str) else None
        if wish:
            return f"{wish[:-1]}, behind a dash."
        more = shown_value(entry).strip("{}")
        more = f"priority: {more}" if scalars.NUMBER.fullmatch(more) else more
        return f"write `- {{call: {key.upper()}{', ' + more if more else ''}}}`."
    return None


def settled(tree: Tree, owner: Any, key: str, entry: Any) -> tuple[str, ...]:
    """Keys of the same group that need not be told as missing, since what the unknown one says tells them."""
    from pipeline.inputs.model import Station

    own = fields_of(owner)
    if "elevation_deg" in own and scalars.NUMBER.fullmatch(key):
        return ("azimuth_deg", "elevation_deg")
    if "from" in own and (clocks_said.hours_meant(key) or keys_said.folded(key) in AWAY):
        return ("from", "to")
    if "from" in own and (days_said.days_meant(key) or (isinstance(entry, str) and clocks_said.hours_meant(entry))):
        return ("days", "from", "to") if days_said.days_meant(key) or days_said.day_list(key) else ("from", "to")
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
        return days_said.in_brackets(entry)
    if isinstance(entry, list) and 0 < len(entry) < 5 and all(isinstance(one, dict) for one in entry):
        inside = [shown_value(one) for one in entry]
        return days_said.in_brackets(inside) if all(inside) and sum(map(len, inside)) < LONGEST_SHOWN else ""
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
