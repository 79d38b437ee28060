"""Numbers as operators write them, with decimal commas, units and doubts, to the number that a key takes.

What is sure is worked out in the unit of the key; what can mean two things gives both.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache

from pipeline.inputs.composed_figures import composed
from pipeline.inputs.dates_said import month_of
from pipeline.inputs.days_said import LANGUAGES
from pipeline.inputs.odd_characters import DASHES, plain
from pipeline.inputs.operator_words import words_table
from pipeline.inputs.quantities import FIGURE, QUANTITIES, Factor, quantity, readings, spelled

# Units of the Unicode CLDR, and how they are written here.
OF_CLDR = {
    "length-meter": "m", "length-centimeter": "cm", "length-foot": "ft", "length-inch": "in", "power-watt": "w",
    "power-kilowatt": "kw", "angle-degree": "deg", "duration-minute": "min", "duration-hour": "h",
    "concentr-percent": "%", "frequency-megahertz": "mhz", "frequency-gigahertz": "ghz", "frequency-hertz": "hz",
}  # fmt: skip
# Keys of which none is nought, and the words for that among those for what nobody knows.
NONE_IS_NOUGHT = ("minimum_elevation_deg", "inclinometer_offset_deg", "ground_gain_db", "loss_before_preamplifier_db")
NOUGHT = ("none", "no", "nil", "keine", "-", "--")
MAGNETIC = re.compile(
    r"\d\s*(?:°|deg\w*)?\s*\(?(?:m|mag|mag\w*|compass|kompas\w*|missweis\w*|br[uú]jula|bussola|boussole)\.?\)?$", re.I
)
LEAVE_OUT = "leave it out, key and all, where nobody knows it."
# What people put before a number that they are not sure of.
ABOUT = re.compile(
    r"^(~|≈|±|\+/-|\+-|about|approx\.?|approximately|around|c\.?:?a\.?|cca\.?|circa|etwa|env\.?|environ|aprox\.?|max\.?|min\.?|>=?|<=?|="
    r"|:|n\.|noin|ok\.|około|kb\.|asi|yakl\.)\s*",
    re.IGNORECASE,
)
# Words about a number (at the feed, above the sea in several languages) that say nothing of its unit.
BESIDE = {
    "asl", "amsl", "nn", "nhn", "agl", "at", "to", "in", "rms", "pep", "true", "or", "and", "each", "snm", "msl",
    "mslm", "slm", "mpy", "mnpm", "npm", "müm", "müa", "möh", "moh", "mnm",
}  # fmt: skip
FRACTIONS = {"½": "0.5", "¼": "0.25", "¾": "0.75"}


def is_unknown(text: str) -> bool:
    """Whether a value says that there is none."""
    return plain(text).casefold().strip(" ()") in words_table()["unknown"]


def advice(key: str, text: str, fits: Callable[[float], bool]) -> str | None:
    """What to write for a number that does not read as one; None where nothing in it is known.

    `fits` says whether the key takes a number; one that it does not take is never proposed.
    """
    if is_unknown(text):
        nought = plain(text).casefold().strip(" ()") in NOUGHT and fits(0.0) and key in NONE_IS_NOUGHT
        return f"for none write 0, and {LEAVE_OUT}" if nought else LEAVE_OUT
    name, units = quantity(key) or ("", {})
    said = plain(text)
    if (made := of_a_date(said)) is not None and fits(made):
        return (
            f"a spreadsheet has made a date of it; was it {spelled(made)}? Set the column to text and write it again."
        )
    for sign, value in FRACTIONS.items():
        said = re.sub(rf"(\d+)\s*{sign}", lambda found, value=value: f"{int(found[1]) + float(value)}", said)  # type: ignore[misc]
        said = said.replace(sign, value)
    said = re.sub(r"(?<=\d)['\u2019](?=\d{3}(?!\d))", "", said)
    part = re.match(r"([1-3])/([2-8])(?!\d)", said)
    if part and int(part[1]) < int(part[2]) and name != "a share":
        said = f"{int(part[1]) / int(part[2]):g}{said[part.end() :]}"
    doubt = re.search(r"(?<=[^\s+±-])\s*(\+/-|\+-|±).*$", said)
    said = said[: doubt.start()] if doubt else said
    about = ABOUT.match(said)
    said = said[about.end() :] if about else said
    if (sum_of := composed(key, said)) is not None:
        return worked_out(name, sum_of, fits)
    if key.startswith("azimuth") and MAGNETIC.search(said):
        return "a bearing from true north is meant: add the declination of the place, east positive, to the compass's."
    said = re.sub(r"^(?:between|from|zwischen|entre|tra)\s+", "", said, flags=re.IGNORECASE)
    between = re.fullmatch(rf"({FIGURE})\s*(?:-|\.\.\.?|/|to|bis|a|à|and|und|y|et)\s*(\d[\d.,]*)\s*\D*", said)
    if between and not re.match(r"[+-]?\d+/\d+$", said):
        return of_two(*(readings(between[1]) + readings(between[2])))
    mixed = re.match(r"(\d+)\s+(\d)/([2-9])\b", said)
    if mixed:
        said = f"{int(mixed[1]) + int(mixed[2]) / int(mixed[3]):g}{said[mixed.end() :]}"
    letters = misread(name, units, said, fits)
    if letters:
        return letters
    share = re.fullmatch(r"(\d+)\s*(?:/|of|out of|von|de|sur|su)\s*(\d+)", said)
    if share and int(share[2]) and name == "a share" and fits(int(share[1]) / int(share[2])):
        return f"write {spelled(int(share[1]) / int(share[2]), True)}."
    found = re.match(rf"({FIGURE})\s*(.*)$", said, re.DOTALL)
    if not found:
        return None
    if "," not in found[1] and not found[2] and len(readings(found[1])) == 1 and fits(readings(found[1])[0]):
        return f"write {spelled(readings(found[1])[0])}{hyphen(text)}."
    both = thousands(key, found[1])
    told = with_rest(name, units, both or readings(found[1]), found[2].strip(), fits)
    return told.replace("the comma", "the point") if told and both else told


def of_a_date(said: str) -> float | None:
    """1.2 of `01. Feb` or `1-Feb`, as a spreadsheet turns a figure into a day and a month."""
    found = re.fullmatch(r"(\d{1,2})\s*[.\- /]\s*([^\W\d_]{3,}\.?)", said)
    month = month_of(found[2]) if found else None
    return float(f"{int(found[1])}.{month}") if found and month and "-0" not in said else None


def thousands(key: str, figure: str) -> list[float]:
    """Both readings of a height or power with a point and three figures behind it: `1.130 m`; else none."""
    if key not in ("height_m", "power_w") or not re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", figure):
        return []
    return [float(figure), float(figure.replace(".", ""))]


@cache
def in_other_languages() -> dict[str, str]:
    """Units by the words and signs that other languages have for them (Unicode CLDR)."""
    return {word: OF_CLDR[kind] for kind, word in said_by_languages() if kind in OF_CLDR}


@cache
def units_of_all() -> frozenset[str]:
    """The words of all languages for units of anything (Unicode CLDR), and those of this table."""
    ours = {unit for _, units in QUANTITIES.values() for unit in units}
    return frozenset({word for _, words in said_by_languages() for word in words.split()} | ours)


@cache
def said_by_languages() -> tuple[tuple[str, str], ...]:
    """Kinds of unit, each with a word for it in one of the languages, in small letters."""
    from babel import Locale

    found: dict[tuple[str, str], None] = {}
    for code in LANGUAGES:
        locale = Locale.parse(code)
        for kind, forms in locale.unit_display_names.items():
            found |= dict.fromkeys((kind, str(word).casefold()) for word in forms.values())
        for kind, widths in locale._data["unit_patterns"].items():
            words = [word for forms in widths.values() if hasattr(forms, "values") for word in forms.values()]
            found |= {
                (kind, word.replace("{0}", "").strip().casefold()): None for word in words if isinstance(word, str)
            }
    return tuple(found)


def hyphen(text: str) -> str:
    """What to say of a dash that stands for a minus sign."""
    return " with a plain hyphen as the minus sign" if re.match(f"\\s*[{DASHES}]", text) else ""


def of_two(*values: float) -> str | None:
    """One number out of a range."""
    if len(values) != 2 or values[0] >= values[1]:
        return None
    middle = spelled((values[0] + values[1]) / 2)
    return f"one number is meant; for {spelled(values[0])} to {spelled(values[1])} write for instance {middle}."


def worked_out(name: str, value: float, fits: Callable[[float], bool]) -> str | None:
    """A value in the key's own unit."""
    return f"{name} are meant; write {spelled(value, True)}." if fits(value) else None


def with_rest(
    name: str, units: dict[str, Factor], values: list[float], rest: str, fits: Callable[[float], bool]
) -> str | None:
    """Advice for a figure and what stands behind it."""
    word = re.match(r"(?!//|--)[^\s\d(,;#]+", rest)
    again = re.search(rf"[\s,;](\d[\d.,]*)\s*{re.escape(word[0])}(?!\w)", rest) if word else None
    if again or re.match(r"[+x*]\s*\d", rest):
        return f"one number is meant{f'; write {spelled(values[0])} or {again[1]}' if again and values else ''}."
    unit = word.group().casefold().rstrip(".") if word else ""
    factor = units.get(unit, units.get(unit.split("/")[0]))
    if factor is None and unit and units:
        factor = units.get(in_other_languages().get(unit, ""))
    if name == "a share" and factor is None and not rest and values and not fits(values[0]) and fits(values[0] / 100):
        factor = 0.01
    if factor is None and unit and re.match(r"[a-zA-Zµμ°%\"']", rest) and units:
        return unknown_unit(name, unit, values, fits)
    worked = [factor(value) if callable(factor) else value * (factor or 1.0) for value in values]
    worked = [value for value in worked if fits(value)]
    if not worked:
        return None
    changed = factor not in (None, 1.0)
    texts = [spelled(value, changed) for value in worked]
    if len(texts) == 2:
        return f"write {texts[0]} if the comma parts decimals, {texts[1]} if it parts thousands."
    if changed:
        verb = "is" if name.startswith("a ") else "are"
        return f"{name} {verb} meant; write {texts[0]}."
    if not rest:
        return f"write {texts[0]} with a decimal point."
    return f"write the number alone: {texts[0]}." if unit else f"write {texts[0]} alone; a note comes after ` # `."


def unknown_unit(name: str, unit: str, values: list[float], fits: Callable[[float], bool]) -> str | None:
    """A word behind the figure that stands for no unit of the same quantity."""
    if unit.replace(".", "") in BESIDE and len(values) == 1 and fits(values[0]):
        return f"write the number alone: {spelled(values[0])}."
    verb = "is" if name.startswith("a ") else "are"
    if not name:
        return None
    # A long word that is a unit of nothing in any language is a note.
    if 4 < len(unit) < 30 and unit.isalpha() and unit not in units_of_all() and len(values) == 1 and fits(values[0]):
        return f"write {spelled(values[0])} alone, if '{unit}' begins a note; a note comes after ` # `."
    return f"{name} {verb} meant, and '{unit[:30]}' is no such unit; write how many {name} it is."


def misread(name: str, units: dict[str, Factor], said: str, fits: Callable[[float], bool]) -> str | None:
    """A figure with letters that look like digits, alone or with what stands behind it."""
    head, _, rest = said.partition(" ")
    figure = re.sub(r"[oO]", "0", re.sub(r"[lI|]", "1", head))
    if figure == head or not re.fullmatch(FIGURE, figure) or not any(char.isdigit() for char in head):
        return None
    values = readings(figure)
    if rest:
        told = with_rest(name, units, values, rest.strip(), fits)
    else:
        told = f"write {spelled(values[0])}." if values and fits(values[0]) else None
    return told and f"a letter stands among the digits; {told}"


def out_of_range(key: str, value: float, fits: Callable[[float], bool]) -> str | None:
    """What a number that a key does not take is most likely, in another unit of the same quantity."""
    if key in ("azimuth_deg", "azimuth_from_deg", "azimuth_to_deg") and -360 <= value < 0:
        return f"for {spelled(value)} write {spelled(value + 360)}"
    for end, unit, words in (
        ("diameter_m", "cm", "centimetres"), ("diameter_m", "mm", "millimetres"), ("height_m", "ft", "feet"),
        ("noise_figure_db", "k", "kelvin"), ("power_w", "mw", "milliwatts"), ("_fraction", "%", "per cent"),
        ("efficiency", "%", "per cent"), ("presence", "%", "per cent"), ("strong", "%", "per cent"),
        ("workable", "%", "per cent"), ("marginal", "%", "per cent"),
    ):  # fmt: skip
        if key.endswith(end):
            factor = (quantity(key) or ("", {}))[1][unit]
            worked = factor(value) if callable(factor) else value * factor
            if (
                fits(worked)
                and worked >= (0.005 if unit == "%" and value >= 2 else 0.1)
                and (worked <= 15 or not key.endswith("diameter_m"))
            ):
                return f"if these are {words}, write {spelled(worked, True)}"
    return None
