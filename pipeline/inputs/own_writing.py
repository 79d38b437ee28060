"""What to write instead, in the operator's own figures: advice for a value or a key that a file does not take.

From the key, the text that stands there and what stands around it; the words of a whole fault are put together in
`messages`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Any, cast

from pydantic import BeforeValidator

from pipeline.inputs import (
    angles_said,
    clocks_said,
    coordinates_settled,
    dates_said,
    days_said,
    entries_said,
    numbers_said,
    quantities,
    scalars,
    zones_said,
)
from pipeline.inputs.bands import band_table
from pipeline.inputs.kinds import inside, single
from pipeline.inputs.line_scan import TEXTS
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.yaml_tree import Place, Tree, printable

NUMBERS = (scalars.number, scalars.whole_number, scalars.latitude, scalars.longitude)
WISH = re.compile(r"([A-Za-z0-9/]{3,})\s*[\s:=(]\s*(?:x\s*)?(\d{1,2})\s*(x|qsos?|times|mal|fois|veces)?\s*\)?")
BOTH_ENDS = r"(\d{1,3})\s*°?\s*(?:-|to|bis|a|à|\.{2,3}|/|,|until|do|až|till?)\s*(\d{1,3})\s*°?"
ANY_HOUR = {"from": "00:00", "to": "24:00"}
WEEKEND = days_said.DAYS[5:]
# How far off what locks a frequency usually is, of 1 (common practice, no source).
FREQUENCY_SOURCES = {
    **dict.fromkeys(("gps", "gpsdo", "gnss", "gps locked", "locked"), 2e-10),
    **dict.fromkeys(("rubidium", "rb", "rb standard"), 5e-10),
    "ocxo": 2e-8,
    "tcxo": 1e-6,
    **dict.fromkeys(("crystal", "xtal", "quartz", "quarz"), 1e-5),
}
# Keys that hold a list of short words, and how one of them is read.
LISTED: dict[str, Callable[[str], Any]] = {
    "modes": scalars.mode,
    "months": scalars.month,
    "partners": scalars.call_sign,
    "operators": scalars.call_sign,
}


def converter_of(hint: Any) -> Callable[[str], Any] | None:
    """The converter of text in a field's type."""
    for part in inside(hint):
        if isinstance(part, BeforeValidator) and isinstance(part.func, partial) and part.func.func is single:
            return cast(Callable[[str], Any], part.func.args[0])
    return None


def value_advice(tree: Tree, place: Place, text: str, hint: Any, fits: Callable[[float], bool]) -> str | None:
    """The second half of the sentence for one value; None where the converter's own says all there is to say."""
    key = next((str(part) for part in reversed(place) if not isinstance(part, int)), "")
    if key == "time_zone":
        return zone_advice(text, place_of(tree))
    if key in coordinates_settled.BOUNDS_DEG and (point := coordinates_settled.advice(tree, key, text)):
        return point
    if key == "locator" and (both := angles_said.pair(text)):
        return f"these are coordinates; in its place write latitude_deg: {both[0]}, longitude_deg: {both[1]}."
    if key == "solar_activity" and re.search(r"\d{2,3}", text):
        return f"write {{flux_10_7_cm: {re.findall(r'[0-9]+[.]?[0-9]*', text)[0]}}}."
    if key == "nights" and days_said.day_list(text) == WEEKEND and not days_said.days_meant(text[:3]):
        return "a night is called by its evening; write [fri, sat] for those of a weekend."
    if key in ("days", "nights"):
        among = among_its_neighbours(tree, place, text)
        if among:
            return among
    if key == "partners" and plain(text).casefold() in (
        "all",
        "any",
        "everyone",
        "everybody",
        "*",
        "alle",
        "todos",
        "tous",
    ):
        return "leave it out, key and all: every other station of the folder is a partner then."
    if key in ("partners", "operators") and (wish := wish_advice(text)):
        return wish
    if key in ("unavailable_dates", "busy") and not re.search(r"\d", text) and (days := entries_said.days_in(text)):
        return f"days of the week stand in available: leave {', '.join(days)} out there."
    if key == "azimuth_from_deg" and (ends := re.fullmatch(BOTH_ENDS, plain(text))):
        return f"these are both ends; write azimuth_from_deg: {ends[1]}, azimuth_to_deg: {ends[2]}."
    if key in LISTED:
        several = list_advice(key, text)
        if several:
            return several
    if key in ("from", "to"):
        if clocks_said.MOON.search(text):
            return f"the Moon's hours are worked out by the plan; write {ANY_HOUR[key]} for any of yours."
        if key == "to" and plain(text).casefold() in ("open", "open end", "open ended", "late", "end", "ende", "fin"):
            return "write 24:00 for the end of the day, or an hour of the next morning."
        local = by_its_own_clock(tree, text)
        if local:
            return local
    parts = (
        re.fullmatch(r"([\d.,]+)\s*pp([mb])", plain(text), re.IGNORECASE) if key == "frequency_accuracy_hz" else None
    )
    band = next((name for name in place if isinstance(name, str) and name in band_table()), None)
    if parts and band and quantities.readings(parts[1]):
        typical_mhz = band_table()[band].typical_mhz
        value = quantities.readings(parts[1])[0] * typical_mhz * (1.0 if parts[2].casefold() == "m" else 1e-3)
        return f"hertz are meant; of {typical_mhz:g} MHz that is {value:.0f}; write {value:.0f}."
    if key == "usable_fraction" and (share := share_of_battery(tree, text)):
        return share
    if key == "first_to_transmit" and (call := scalars.call_inside(text)):
        home = str(tree.data.get("home", "")).upper()
        return f"write {'home' if call == home else 'partner'}." if home else None
    source = FREQUENCY_SOURCES.get(plain(text).casefold()) if key == "frequency_accuracy_hz" else None
    if source and band:
        value = float(f"{band_table()[band].typical_mhz * 1e6 * source:.2g}")
        return f"hertz are meant; such a source is usually within {value:g} Hz there: write {value:g}."
    convert = converter_of(hint)
    if key == "longitude_deg" and (
        side := coordinates_settled.side_by_zone(tree, number_advice(key, text, fits) or "")
    ):
        return side
    if convert in NUMBERS or key in ("slot_minutes", "inclinometer_offset_deg"):
        return number_advice(key, text, fits)
    return None


def number_advice(key: str, text: str, fits: Callable[[float], bool]) -> str | None:
    """What to write for a number; a coordinate's own sentence goes before."""
    if key == "slot_minutes" and not scalars.NUMBER.fullmatch(text):
        ends = re.fullmatch(r"(\d+)\s*(?:-|to|\.\.|/|bis|,)\s*(\d+)\s*\D*", plain(text))
        if ends:
            return f"write {{least: {ends[1]}, most: {ends[2]}}}."
        return numbers_said.advice("step_minutes", text, lambda minutes: 5 <= minutes <= 240)
    if key in ("latitude_deg", "longitude_deg"):
        whole = angles_said.taken_apart(text)
        both = None if whole and whole.word else angles_said.pair(text)
        if both:
            return f"these are two numbers; write latitude_deg: {both[0]}, longitude_deg: {both[1]}."
        axis = key.removesuffix("_deg")
        parted = angles_said.DOTTED.match(plain(text))
        if angles_said.taken_apart(text) and (parted or not re.fullmatch(r"[-+]?[\d.,]+", plain(text))):
            return angles_said.advice(axis, text)
    if scalars.NUMBER.fullmatch(text):
        return None
    angle = (
        angles_said.taken_apart(text) if key.endswith("_deg") and re.search(r"\d.*[\u00b0\u00ba].*\d", text) else None
    )
    if angle and not angle.word and fits(angle.sign * angle.size_deg):
        return f"write {angles_said.spelled(angle.sign * angle.size_deg)}: degrees as one decimal number."
    point = key.startswith("azimuth") and plain(text).upper() in entries_said.COMPASS
    if point:
        return f"write {22.5 * entries_said.COMPASS.index(plain(text).upper()):g}."
    return numbers_said.advice(key, text, fits)


def place_of(tree: Tree) -> tuple[float, float] | None:
    """Latitude and longitude in degrees of the file's station, as far as they can be read."""
    where = tree.data.get("position")
    if not isinstance(where, dict):
        return None
    try:
        return scalars.latitude(where["latitude_deg"]), scalars.longitude(where["longitude_deg"])
    except (KeyError, AttributeError, TypeError, scalars.Refusal):
        pass
    try:
        from pipeline.inputs.locator import position_of

        return position_of(scalars.locator(where["locator"]))
    except (KeyError, AttributeError, TypeError, scalars.Refusal):
        return None


def among_its_neighbours(tree: Tree, place: Place, text: str) -> str | None:
    """The day that an abbreviation stands for in the language of the other days of its list."""
    words: Any = tree.data
    try:
        for step in place[:-1]:
            words = words[step]
        others = [word for at, word in enumerate(words) if at != place[-1]] if isinstance(words, list) else []
        others += [word for word in days_of_all(tree) if word != text]
        day = days_said.day_beside(text, others) if len(days_said.days_meant(text)) != 1 else None
    except (KeyError, IndexError, TypeError, AttributeError):
        return None
    return f"did you mean '{day}'?" if day else None


def days_of_all(tree: Tree) -> list[str]:
    """The words for days in all hours of a file."""
    hours = tree.data.get("available")
    said = [one.get("days", "") for one in hours if isinstance(one, dict)] if isinstance(hours, list) else []
    texts = [word for one in said for word in (one if isinstance(one, list) else [one]) if isinstance(word, str)]
    return [word for text in texts for word in re.split(r"[\s,;+&/-]+", text) if word]


def zone_advice(text: str, place_deg: tuple[float, float] | None) -> str:
    """A zone by its name, else by the station's place."""
    near = scalars.nearest(text.replace(" ", "_"), scalars.zone_names(), 0.85) if len(text) > 5 else None
    near = None if re.search(r"\d", text) else near
    known = zones_said.advice(text, place_deg)
    if known and not (near and known.startswith("did")):
        return known
    if near:
        return f"did you mean '{near}'?"
    if known:
        return known
    if place_deg is None:
        return scalars.LEAVE_OUT if scalars.is_unknown(text) else scalars.NO_ZONE
    return f"a zone's name is meant; by the station's place write {zones_said.zone_of(*place_deg)}."


def zone_in(tree: Tree) -> str | None:
    """The file's time zone where it names one that there is."""
    zone = tree.data.get("time_zone")
    return zone if isinstance(zone, str) and zone in scalars.zone_names() else None


def share_of_battery(tree: Tree, text: str) -> str | None:
    """The share that ampere-hours are of the file's battery."""
    battery = tree.data.get("battery")
    whole = battery.get("capacity_ah") if isinstance(battery, dict) else None
    part = quantities.figure_in("capacity_ah", text) if re.search(r"\d\s*m?ah\b", text, re.IGNORECASE) else ""
    if not part or not isinstance(whole, str) or not scalars.NUMBER.fullmatch(whole):
        return None
    share = float(part) / float(whole) if float(whole) else 2.0
    return f"a share of the {whole} Ah is meant; write {share:.3g}." if share <= 1 else None


def by_its_own_clock(tree: Tree, text: str) -> str | None:
    """A time said in UTC by the clock of the file's zone, winter and summer."""
    said = re.fullmatch(r"(.*\d)\s*(?:utc|gmt|z|zulu)", plain(text).casefold())
    time = clocks_said.clock_meant(said[1]) if said else None
    zone = zone_in(tree)
    if time is None or zone is None:
        return None
    minutes = int(time[:2]) * 60 + int(time[3:])
    local = [(minutes + round(offset)) % 1440 for offset in zones_said.offsets_min(zone)]
    told = " in January and ".join(f"{one // 60:02d}:{one % 60:02d}" for one in dict.fromkeys(local))
    return f"local time is meant; {time} UTC is {told}{' in July' if local[0] != local[1] else ''} by {zone}."


def wish_advice(text: str) -> str | None:
    """A partner's call with a number behind it, as `QF4LUM 2x`."""
    found = WISH.fullmatch(plain(text))
    call = scalars.call_inside(found[1]) if found else None
    if not found or not call or call != found[1].upper():
        return None
    if found[3]:
        return f"write {{call: {call}, contacts_wanted: {found[2]}}}."
    wanted, priority = (f"{{call: {call}, {key}: {found[2]}}}" for key in ("contacts_wanted", "priority"))
    return f"write {wanted} or {priority}, by what is meant."


def list_advice(key: str, text: str) -> str | None:
    """Several words of a list that stand without brackets."""
    marks = r"[,;|/\s&+]+" if key == "modes" else r"[,;|\s&+]+"
    parts = [part for part in re.split(rf"{marks}|\s+(?:and|und|y|et)\s+", plain(text).strip("()")) if part]
    parts = [part for part in parts if part.casefold() not in days_said.ANDS]
    if key == "months" or len(parts) < 2:
        return None
    made = []
    for part in parts:
        try:
            made.append(str(LISTED[key](part)))
        except scalars.Refusal as refusal:
            near = re.search(r"did you mean '(.+)'\?", refusal.advice)
            if not near:
                return None
            made.append(near[1])
    return f"write {days_said.in_brackets(made)}."


def alone(value: Any) -> str:
    """The one value in brackets that need not be there; empty where there are more."""
    if isinstance(value, list) and len(value) == 1 and isinstance(value[0], str):
        return printable(value[0], 40)
    if isinstance(value, dict) and len(value) == 1:
        ((key, text),) = value.items()
        if text == "" or (key in ("call", "name") and isinstance(text, str)):
            return printable(text or key, 40)
    return ""


def one_of(key: str, value: Any) -> str | None:
    """What to write where several words stand for one: a text in quotes, or one of them."""
    if not isinstance(value, list) or len(value) < 2 or not all(isinstance(one, str) and one for one in value):
        return None
    words = [printable(one, 40) for one in value[:4]]
    if key in TEXTS:
        return f'one text is meant; write "{", ".join(words)}" in quotes.'
    return f"one value is meant; write one of them, {' or '.join(words)}."


def right_form(key: str, text: str, fits: Callable[[float], bool] = lambda value: True) -> str:
    """The value as the key takes it, where that is sure; else as it is written."""
    if quantities.quantity(key) and not scalars.NUMBER.fullmatch(text):
        found = re.search(r"(?:write|alone:) (-?[\d.]+\d|\d)", numbers_said.advice(key, text, fits) or "")
        return found[1] if found else ""
    return text


def dates_advice(place: Place, value: Any) -> str | None:
    """A first and a last date in a list or in keys of their own."""
    key = next((part for part in reversed(place) if not isinstance(part, int)), "")
    texts = list(value.values()) if isinstance(value, dict) else value
    if key == "holidays" and isinstance(value, list) and value:
        codes = [one for one in map(str, value) if not re.search(r"\d", one)]
        dates = days_said.in_brackets(one for one in map(str, value) if one not in codes)
        own = f"`unavailable_dates: {dates}`"
        if len(codes) == 1:
            return f"write `holidays: {codes[0]}`" + ("." if dates == "[]" else f", and dates of your own in {own}.")
        return f"dates on which nobody operates stand in {own}." if not codes else "one country or region is meant."
    if key not in ("dates", "unavailable_dates") or len(texts) != 2 or not all(isinstance(one, str) for one in texts):
        return None
    return dates_said.range_advice(" - ".join(texts))
