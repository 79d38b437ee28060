"""Source Sans Pro for the pages: by file for the PDF, as small embedded subsets for the self-contained HTML.

The weights are light for titles, regular and semibold; the font's licence (OFL) allows both uses.
"""

from __future__ import annotations

import base64
import json
from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path
from typing import Literal

from pipeline.reports.places import fonts_folder

WEIGHTS = {300: "Light", 400: "Regular", 600: "Semibold"}
FAMILY = "Source Sans Pro"
# What nearly all pages are written in; these letters are carried ready-made, since cutting a font takes its time.
USUAL = "".join(map(chr, [*range(0x20, 0x7F), *range(0xA0, 0x180)])) + "\n\u2007–—‘’“”•…−×→←≥≤◦▲"
# Of a letter that the font has not, ems.
USUAL_WIDTH = 0.5
USUAL_LETTERS = Path(__file__).resolve().parent.parent / "data" / "usual_letters.json"


def _face(weight: int, source: str, only: str = "") -> str:
    """A rule; `only` are the letters that it is for, all where it is empty."""
    ranges = f" unicode-range: {', '.join(f'U+{ord(letter):X}' for letter in only)};" if only else ""
    return f'@font-face {{ font-family: "{FAMILY}"; font-weight: {weight}; src: {source};{ranges} }}'


def _carried(fonts: dict[int, str], only: str = "") -> list[str]:
    """Rules that carry fonts inside themselves."""
    return [
        _face(weight, f'url("data:font/woff2;base64,{data}") format("woff2")', only) for weight, data in fonts.items()
    ]


def faces_by_file(kind: Literal["otf", "ttf"] = "otf") -> str:
    """`@font-face` rules that point into the package's folder, at OpenType or TrueType outlines."""
    files = {weight: fonts_folder() / f"SourceSansPro-{name}.{kind}" for weight, name in WEIGHTS.items()}
    return "\n".join(_face(weight, f'url("{file.as_uri()}")') for weight, file in files.items())


def faces_embedded(text: str) -> str:
    """`@font-face` rules that carry the glyphs which `text` needs; the same text gives the same bytes."""
    # Tabs and ends of lines are blanks: to ask the font for them would mean to read it.
    unusual = set(text) - set(USUAL) - set("\t\r\f")
    # A letter that the font has not is drawn in the reader's own.
    other = "".join(sorted(unusual & _drawn())) if unusual else ""
    return "\n".join([*_carried(_ready_made()), *(_carried(_cut(other), other) if other else [])])


def can_draw(text: str) -> bool:
    """Whether the pages' own font has every letter of a text."""
    return set(text) <= set(USUAL) or set(text) <= _drawn()


@cache
def _ready_made() -> dict[int, str]:
    """The usual letters by weight, base64, from the table that the package carries."""
    table = json.loads(USUAL_LETTERS.read_text(encoding="utf-8"))
    return {int(weight): data for weight, data in table["woff2"].items()}


@cache
def _drawn() -> frozenset[str]:
    """All letters of the font."""
    from fontTools.ttLib import TTFont

    with TTFont(fonts_folder() / f"SourceSansPro-{WEIGHTS[400]}.otf") as font:
        return frozenset(map(chr, font.getBestCmap()))


@cache
def widths(weight: int) -> dict[str, float]:
    """How wide each letter of the font is, in ems."""
    from fontTools.ttLib import TTFont

    with TTFont(fonts_folder() / f"SourceSansPro-{WEIGHTS[weight]}.otf") as font:
        metrics, em = font["hmtx"].metrics, font["head"].unitsPerEm
        return {chr(point): metrics[name][0] / em for point, name in font.getBestCmap().items()}


@lru_cache(maxsize=8)
def _cut(characters: str) -> dict[int, str]:
    """Subsets by weight, base64."""
    files = {weight: fonts_folder() / f"SourceSansPro-{name}.otf" for weight, name in WEIGHTS.items()}
    return {weight: base64.b64encode(subset(file, characters)).decode() for weight, file in files.items()}


def subset(file: Path, characters: str) -> bytes:
    """A font with the glyphs of some characters only, as WOFF2."""
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    options = Options(flavor="woff2", layout_features=["kern", "tnum", "lnum"], hinting=False, desubroutinize=True)
    options.recalc_timestamp = False
    with TTFont(file, recalcTimestamp=False) as font:
        subsetter = Subsetter(options)
        subsetter.populate(text=characters)
        subsetter.subset(font)
        font.flavor = "woff2"
        target = BytesIO()
        font.save(target)
    return target.getvalue()
