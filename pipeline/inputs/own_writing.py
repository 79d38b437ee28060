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
    dates_said,
    entries_said,
    keys_said,
    numbers_said,
    scalars,
    zones_said,
)
from pipeline.inputs.bands import band_table
from pipeline.inputs.kinds import inside, single
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.yaml_tree import Place, Tree, printable

NUMBERS = (scalars.number, scalars.whole_number, scalars.latitude, scalars.longitude)
GROUPS_IN_LISTS = ("horizon", "survey", "landmarks", "available", "partners", "operators")
WISH = re.compile(r"([A-Za-z0-9/]{3,})\s*[\s:=(]\s*(?:x\s*)?(\d{1,2})\s*(x|qsos?|times|mal|fois|veces)?\s*\)?")
WEEKEND = dates_said.DAYS[5:]
# How far off what locks a frequency usually is, of 1 (common practice, no source).
FREQUENCY_SOURCES = {
    **dict.fromkeys(("gps", "gpsdo", "gnss", "gps locked", "locked"), 2e-10),
    **dict.fromkeys(("rubidium", "rb", "rb standard"), 5e-10),
    "ocxo": 2e-8,
    "tcxo": 1e-6,
    **dict.fromkeys(("crystal", "xtal", "quartz", "quarz"), 1e-5),
}
# Groups whose figures are said in this order.
IN_TURN = {"outcome_thresholds": ("strong", "workable", "marginal"), "setup_minutes": ("arrive", "align", "check")}
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
    if key == "locator" and (both := angles_said.pair(text)):
        return f"these are coordinates; in its place write latitude_deg: {both[0]}, longitude_deg: {both[1]}."
    if key == "solar_activity" and re.search(r"\d{2,3}", text):
        return f"write {{flux_10_7_cm: {re.findall(r'[0-9]+[.]?[0-9]*', text)[0]}}}."
    if key == "nights" and dates_said.day_list(text) == WEEKEND and not dates_said.days_meant(text[:3]):
        return "a night is called by its evening; write [fri, sat] for those of a weekend."
    if key in ("days", "nights") and isinstance(place[-1], int):
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
    if key in LISTED:
        several = list_advice(key, text)
        if several:
            return several
    if key in ("from", "to"):
        local = by_its_own_clock(tree, text)
        if local:
            return local
    parts = (
        re.fullmatch(r"([\d.,]+)\s*pp([mb])", plain(text), re.IGNORECASE) if key == "frequency_accuracy_hz" else None
    )
    band = next((name for name in place if isinstance(name, str) and name in band_table()), None)
    if parts and band and numbers_said.readings(parts[1]):
        typical_mhz = band_table()[band].typical_mhz
        value = numbers_said.readings(parts[1])[0] * typical_mhz * (1.0 if parts[2].casefold() == "m" else 1e-3)
        return f"hertz are meant; of {typical_mhz:g} MHz that is {value:.0f}; write {value:.0f}."
    source = FREQUENCY_SOURCES.get(plain(text).casefold()) if key == "frequency_accuracy_hz" else None
    if source and band:
        value = float(f"{band_table()[band].typical_mhz * 1e6 * source:.2g}")
        return f"hertz are meant; such a source is usually within {value:g} Hz there: write {value:g}."
    convert = converter_of(hint)
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
        if angles_said.taken_apart(text) and not re.fullmatch(r"[-+]?[\d.,]+", plain(text)):
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
        days = dates_said.in_one_language(words) if len(dates_said.days_meant(text)) > 1 else ()
    except (KeyError, IndexError, TypeError, AttributeError):
        return None
    return f"did you mean '{days[int(place[-1])]}'?" if days else None


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
    found = re.fullmatch(
        r"([A-Za-z0-9/]{3,})\s*[\s:=(]\s*(?:x\s*)?(\d{1,2})\s*(x|qsos?|times|mal|fois|veces)?\s*\)?", plain(text)
    )
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
    parts = [part for part in parts if part.casefold() not in dates_said.ANDS]
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
    return f"write {dates_said.in_brackets(made)}."


def alone(value: Any) -> str:
    """The one value in brackets that need not be there; empty where there are more."""
    if isinstance(value, list) and len(value) == 1 and isinstance(value[0], str):
        return printable(value[0], 40)
    if isinstance(value, dict) and len(value) == 1 and list(value.values()) == [""]:
        return printable(next(iter(value)), 40)
    return ""


def group_advice(tree: Tree, place: Place, value: Any) -> str | None:
    """Keys and values in place of one value or a bare list, with what was read put in; None where it is too little."""
    names = [part for part in place if not isinstance(part, int)]
    key = str(names[-1]) if names else ""
    if isinstance(value, list) and len(value) == 1 and isinstance(value[0], dict) and key not in GROUPS_IN_LISTS:
        inside = ", ".join(f"{name}: {one}" for name, one in value[0].items() if isinstance(one, str))
        return f"write {{{inside}}}, without a dash or square brackets." if inside else None
    text = (
        ", ".join(map(str, value)) if isinstance(value, list) and all(isinstance(one, str) for one in value) else value
    )
    if not isinstance(text, str):
        return None
    said = plain(text)
    if key == "horizon":
        if re.fullmatch(r"\d{1,2}(?:[.,]\d+)?\s*°?", said):
            height = said.rstrip("° ").replace(",", ".")
            return (
                f"a list of points is meant; for one height all round write `minimum_elevation_deg: {height}` instead."
            )
        if said.casefold().endswith((".csv", ".txt")):
            return f"write {{file: {said}}}."
        if said.casefold() in ("flat", "free", "clear", "open", "none", "no", "0", "frei", "libre", "plat", "plano"):
            return "for a flat skyline write [{azimuth_deg: 0, elevation_deg: 0}]; where nobody knows it, leave it out."
    if key in ("horizon", "survey") and (points := entries_said.points_said(said)):
        written = [f"{{azimuth_deg: {azimuth}, elevation_deg: {height}}}" for azimuth, height in points]
        return f"write {written[0] if len(written) == 1 else dates_said.in_brackets(written)}."
    if key == "position":
        return position_advice(said)
    if key == "antenna" or keys_said.is_band(key):
        return equipment_advice(key, said)
    if key == "available":
        return entries_said.hours_advice(said, zone_in(tree))
    number = re.match(r"\d+(?:\.\d+)?", said)
    if key == "slot_minutes" and isinstance(value, list) and len(value) == 2 and all(one.isdigit() for one in value):
        return f"write {{least: {value[0]}, most: {value[1]}}}."
    if key == "setup_minutes" and number and re.fullmatch(r"\d+\D*", said):
        arrive = right_form("arrive", said) or number[0]
        return f"write {{arrive: {arrive}}}: minutes before the first slot; align and check have keys of their own."
    if key == "mount" and number:
        return f"write {{maximum_elevation_deg: {number[0]}}}."
    if key == "battery" and number:
        found = {
            unit.casefold(): figure for figure, unit in re.findall(r"(\d+(?:\.\d+)?)\s*(v|ah)\b", said, re.IGNORECASE)
        }
        return f"write {{voltage_v: {found.get('v', '...')}, capacity_ah: {found.get('ah', '...')}}}."
    if key in IN_TURN:
        figures = re.findall(r"\d+(?:[.,]\d+)?", said)
        turn = IN_TURN[key]
        if len(figures) == len(turn) and re.fullmatch(r"[\d.,/;:|%\s-]+", said):
            share = key == "outcome_thresholds" and all(float(one.replace(",", ".")) > 1 for one in figures)
            texts = [f"{float(one.replace(',', '.')) / (100 if share else 1):g}" for one in figures]
            inside = ", ".join(f"{name}: {text}" for name, text in zip(turn, texts, strict=True))
            return f"if these are {', '.join(turn)} in turn, write {{{inside}}}."
    if key == "report" and said:
        return f"write {{paper: {'letter' if 'letter' in said.casefold() else 'A4'}}}."
    if key == "sender":
        mail = scalars.MAIL.search(said)
        name = re.sub(r"[<(\[].*", "", said.replace(mail[0], "") if mail else said).strip(" ,;")
        return f"write {{name: {name or '...'}, email: {mail[0] if mail else '...'}}}."
    if key == "landmarks":
        return f"write {{name: {said}, azimuth_deg: ...}} with its bearing."
    return None


def position_advice(said: str) -> str | None:
    """A place in one text: a locator or two coordinates."""
    link = re.search(r"(-?\d+\.\d{2,}),\s*(-?\d+\.\d{2,})", said) if "/" in said else None
    both = angles_said.pair(link[0] if link else said)
    if both:
        return f"write {{latitude_deg: {both[0]}, longitude_deg: {both[1]}}}."
    high = re.fullmatch(r"([A-Za-z]{2}\d\d\w*)[,;\s]+(-?\d+)\s*(?:m|asl|masl)?", said)
    if high:
        return f"write {{locator: {high[1]}, height_m: {high[2]}}}."
    three = re.fullmatch(r"(.+?),\s*(-?\d+(?:\.\d+)?)\s*m?", said)
    both = angles_said.pair(three[1]) if three else None
    if both and three:
        return f"write {{latitude_deg: {both[0]}, longitude_deg: {both[1]}, height_m: {three[2]}}}."
    try:
        return f"write {{locator: {scalars.locator(said)}, height_m: ...}} with the height above sea level in metres."
    except scalars.Refusal:
        return None


def equipment_advice(key: str, said: str) -> str | None:
    """A dish or a power that stands where its key is meant."""
    figure = re.match(r"([\d.,]+)\s*([a-zA-Z\"']*)", said)
    figure = figure or re.search(r"\b([\d.,]*\d)\s*(m|cm|mm|ft|dbi?|w)\b", said, re.IGNORECASE)
    if not figure:
        return None
    kinds = ("dish_diameter_m", "gain_dbi") if key == "antenna" else ("power_w",)
    if key == "antenna" and figure[2].casefold().startswith("db"):
        kinds = ("gain_dbi",)
    for kind in kinds:
        text = right_form(kind, f"{figure[1]} {figure[2]}".strip(), lambda value: 0 < value <= 5000)
        if text:
            return f"write {{{kind}: {text}}}."
    return None


def right_form(key: str, text: str, fits: Callable[[float], bool] = lambda value: True) -> str:
    """The value as the key takes it, where that is sure; else as it is written."""
    if numbers_said.quantity(key) and not scalars.NUMBER.fullmatch(text):
        found = re.search(r"(?:write|alone:) (-?[\d.]+\d|\d)", numbers_said.advice(key, text, fits) or "")
        return found[1] if found else ""
    return text


def dates_advice(place: Place, value: Any) -> str | None:
    """A first and a last date in a list or in keys of their own."""
    key = next((part for part in reversed(place) if not isinstance(part, int)), "")
    texts = list(value.values()) if isinstance(value, dict) else value
    if key == "holidays" and isinstance(value, list) and value:
        return (
            f"dates on which nobody operates stand in `unavailable_dates: {dates_said.in_brackets(map(str, value))}`."
        )
    if key not in ("dates", "unavailable_dates") or len(texts) != 2 or not all(isinstance(one, str) for one in texts):
        return None
    return dates_said.range_advice(" - ".join(texts))
