"""What operators call things, in several languages, to the keys of the contract and where these stand.

The words are those of `data/operator_words.yaml`.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import Any, get_args, get_origin

from pipeline.inputs.bands import band_table
from pipeline.inputs.kinds import Keys, fields_of, inside
from pipeline.inputs.operator_words import words_table
from pipeline.inputs.quantities import quantity

BAND = "BAND"
UNITS = re.compile(r"(?:w|m|deg|db|dbi|mhz|ghz|hz|km|masl|watts?|meters?|metres?|ft|cm|mm)$")


@lru_cache(maxsize=4096)
def folded(word: str) -> str:
    """Small letters and digits alone."""
    apart = unicodedata.normalize("NFD", word.casefold())
    return re.sub(r"[\W_]", "", "".join(char for char in apart if not unicodedata.combining(char)))


def is_note(word: str) -> bool:
    """Whether a word names something that no key holds."""
    return folded(word) in words_table()["notes"]


@cache
def meanings() -> dict[str, tuple[str, ...]]:
    """Keys by the words that stand for them, folded; the keys themselves among them."""
    found: dict[str, list[str]] = {}
    for key, words in words_table()["keys"].items():
        bare = re.sub(r"_(w|m|deg|db|dbi|mhz|hz|v|ah|a|minutes|m_s)$", "", key)
        for word in (key, bare, *words):
            known = found.setdefault(folded(word), [])
            known += [key] if key not in known else []
    return {word: tuple(keys) for word, keys in found.items()}


def keys_meant(word: str) -> tuple[str, ...]:
    """The keys that a word can stand for; a unit at its end or in brackets is taken off where it hides one."""
    whole = folded(word)
    bare = folded(re.sub(r"[\[(].*?[\])]", "", word))
    for form in (whole, bare, UNITS.sub("", whole)):
        if form and form in meanings():
            return meanings()[form]
    return ()


@lru_cache(maxsize=1024)
def keys_near(word: str) -> tuple[str, ...]:
    """The keys that a misspelt word stands for: `powr`, `altitud`; none where no word is much like it."""
    near = difflib.get_close_matches(folded(word), list(meanings()), n=1, cutoff=0.85) if len(word) > 3 else []
    return meanings()[near[0]] if near else ()


def keys_begun(word: str) -> tuple[str, ...]:
    """The keys that the first word of a longer one stands for: `power at feed`, `dish_offset`."""
    first = re.split(r"[_\s]", word.strip())[0]
    return meanings().get(folded(first), ()) if len(first) > 2 else ()


def unit_in(name: str, key: str) -> str:
    """A unit that a name tells and that is not the key's own: numbers under it are not taken as they are."""
    found = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]\s*$", name) or re.search(r"[_ ]([A-Za-z]{1,4})$", name)
    units = (quantity(key) or ("", {}))[1]
    unit = found[1].casefold() if found else ""
    return str(found[1]) if found and unit in units and units[unit] != 1.0 else ""


@cache
def places(root: Any) -> dict[str, tuple[str, ...]]:
    """Dotted places of every key of a kind of file by the key alone; `BAND` stands for a band's name."""
    found: dict[str, list[str]] = {}
    for place in walked(root, ""):
        key = place.rsplit(".", 1)[-1]
        found.setdefault(key, []).append(place)
    return {key: tuple(known) for key, known in found.items()}


def walked(cls: Any, above: str) -> Iterator[str]:
    """Every place below a dataclass, outer ones first."""
    later = []
    for key, (_, hint) in fields_of(cls).items():
        here = f"{above}{key}"
        yield here
        table = any(get_origin(part) is dict for part in inside(hint))
        inner = [
            part for part in inside(hint) if isinstance(part, type) and not get_args(part) and issubclass(part, Keys)
        ]
        later += [(part, f"{here}.{BAND}." if table else f"{here}.") for part in inner[:1]]
    for part, place in later:
        yield from walked(part, place)


def is_band(word: str) -> str | None:
    """The band that a key names, gaps and case aside."""
    compact = re.sub(r"[\s_]", "", word).casefold()
    return compact if compact in band_table() else None


def written_out(place: str, value: str, band: str) -> str:
    """How a key stands in its file: `bands: {3cm: {power_w: 40}}`."""
    keys = [band if key == BAND else key for key in place.split(".")]
    text = f"{keys[-1]}: {value or '...'}"
    for key in reversed(keys[:-1]):
        text = f"{key}: {{{text}}}"
    return text
