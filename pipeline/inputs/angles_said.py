"""Latitudes and longitudes as operators write them: degrees, minutes, seconds and compass letters of their languages.

Where a letter is one direction in one language and another in another, both readings are told and none is guessed.
Letters: Unicode CLDR's compass words and common practice of maps, from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.inputs.odd_characters import plain

LATITUDE, LONGITUDE = "latitude", "longitude"
# What makes a coordinate positive and negative; the letters behind it are those of maps and of the languages named.
POSITIVE = {
    LATITUDE: "n north nord norte norr nördlich noord sever север с kuzey k pohjoinen p észak é 北 北緯 β",
    LONGITUDE: "e east est este ost öst øst oost leste östlich östra ö ø východ vzhod istok восток в "
    "kelet doğu d itä i 東 東経",
}
NEGATIVE = {
    LATITUDE: "s south sud süd sur sul söder syd zuid z südlich jih jug j юг ю dél d güney g etelä 南 南緯 ν",
    LONGITUDE: "w west ouest oeste ovest väst vest westlich západ zahod запад з nyugat ny batı b länsi 西 西経 δ",
}
DOUBTFUL = {
    "o": ("west in Spanish, French, Italian and Portuguese", "east in German and Dutch"),
    "v": ("west in the Scandinavian languages", "east in Czech and Slovak"),
    "z": ("west in Czech and Slovene", "no direction of a longitude elsewhere"),
    "l": ("west in Finnish", "east in Spanish and Portuguese"),
    "k": ("", "east in Hungarian"),
}
DIRECTION = r"[^\W\d_]+\.?"
PARTS = re.compile(
    rf"^({DIRECTION})?\s*([+-])?\s*(\d+(?:[.,]\d+)?)(?!\d)\s*(?:[\u00b0\u00ba*d:]|deg|grad|\s)?\s*"
    rf"(?:(\d+(?:[.,]\d+)?)\s*(?:'|:|m|min|\s)?\s*)?(?:(\d+(?:[.,]\d+)?)\s*(?:\"|''|s|sec)?\s*)?({DIRECTION})?$",
    re.IGNORECASE,
)
# South behind seconds without their mark; `30d12m38s` ends in seconds.
SOUTH = re.compile(r"(?<=['\u2032 :])\s*(\d+(?:[.,]\d+)?)(?:\s*S|\s+s)$")
# Degrees, minutes and seconds with a point, a hyphen or a colon between them: 44.26.19.
DOTTED = re.compile(r"^([^\W\d_]*\s*[+-]?)(\d{1,3})([.\-])(\d{1,2})\3(\d{1,2}(?:[.,]\d+)?)(?!\d)")


@dataclass(frozen=True)
class Angle:
    """A size in degrees and the word of its direction, in small letters (empty: none); `sign` is -1 for a minus."""

    size_deg: float
    word: str
    sign: float


def taken_apart(text: str) -> Angle | None:
    """Degrees, minutes and seconds with their direction; None where the text is no angle."""
    said = re.sub(r"\s+", " ", plain(text)).strip(" ,;")
    said = re.sub(r"(?<=\d) (?:deg(?:rees)?\.?|grad[ois]*) ", "\u00b0 ", said, flags=re.IGNORECASE)
    said = SOUTH.sub(r'\1" S', said)
    said = DOTTED.sub("\\1\\2\u00b0\\4'\\5", said)
    found = PARTS.match(said)
    if not found:
        return None
    before, sign, *numbers, after = found.groups()
    if before and after:
        return None
    degrees, minutes, seconds = (float(part.replace(",", ".")) if part else 0.0 for part in numbers)
    if minutes >= 60 or seconds >= 60 or (numbers[1] and not degrees.is_integer()):
        return None
    word = (before or after or "").casefold().rstrip(".")
    packed = re.fullmatch(r"(\d{2,3})(\d\d\.\d+)", numbers[0]) if not numbers[1] and word else None
    if packed:  # degrees and minutes in one figure, as receivers of satellites send them
        degrees, minutes = float(packed[1]), float(packed[2])
    return Angle(degrees + minutes / 60 + seconds / 3600, word, -1.0 if sign == "-" else 1.0)


def spelled(value_deg: float) -> str:
    """Degrees with at most five decimals: a metre."""
    return f"{value_deg:.5f}".rstrip("0").rstrip(".")


def advice(axis: str, text: str) -> str | None:
    """What to write for a coordinate that is no plain number; None where it is no angle. `axis` is one of the two."""
    angle = taken_apart(text)
    if angle is None or angle.size_deg > (90 if axis == LATITUDE else 180):
        return None
    signed = angle.sign * angle.size_deg
    if not angle.word or angle.word in ("deg", "degrees", "grad", "d"):
        return f"write {spelled(signed)}: degrees as one decimal number, south and west negative."
    other = LONGITUDE if axis == LATITUDE else LATITUDE
    if axis == LONGITUDE and angle.word in DOUBTFUL:
        west, east = DOUBTFUL[angle.word]
        told = " and ".join(part for part in (west, east) if part)
        size = spelled(angle.size_deg)
        return f"{angle.word.upper()} is {told}: write {size} for east, -{size} for west."
    if angle.word in POSITIVE[axis].split():
        return f"write {spelled(abs(signed))}; south and west are negative."
    if angle.word in NEGATIVE[axis].split():
        return f"write {spelled(-abs(signed))}; south and west are negative."
    if angle.word in f"{POSITIVE[other]} {NEGATIVE[other]}".split():
        return f"'{angle.word.upper()}' is a direction of the {other}; the two look swapped."
    return None


def is_parted(half: str) -> bool:
    """Whether a coordinate is written with a mark of degrees or in degrees and minutes."""
    return bool(re.search(r"[\u00b0\u00ba:']|\d\s+\d", half))


def pair(text: str) -> tuple[str, str] | None:
    """Latitude and longitude out of one text, as a map gives them; None where they are not two sure coordinates."""
    said = plain(text).strip("()[] ")
    if re.fullmatch(r"[+-]?\d+,\d+", said):
        return None  # one number with a decimal comma
    halves = re.split(r"\s*[;/]\s*|,\s+|(?<=[NSns])[,\s]+(?=\d)|(?<=\d)\s+(?=[EWew]\s*\d)", said)
    if len(halves) != 2:
        halves = said.split(",") if said.count(",") == 1 else said.split() if len(said.split()) == 2 else []
        # A comma between degrees and minutes parts the decimals of one number.
        halves = [] if len({is_parted(half) for half in halves}) > 1 else halves
    if len(halves) != 2:
        return None
    values = []
    for axis, half in zip((LATITUDE, LONGITUDE), halves, strict=True):
        if re.fullmatch(r"[+-]?\d+(\.\d+)?", half):
            values.append(half.lstrip("+"))
            continue
        found = re.match(r"write (-?[\d.]+)[;:]", advice(axis, half) or "")
        if not found:
            return None
        values.append(found[1])
    return (values[0], values[1]) if abs(float(values[0])) <= 90 and abs(float(values[1])) <= 180 else None
